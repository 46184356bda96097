"""The gate: who asks, and whether their role reaches to what they ask for.

Without anybody in the list of people and on this machine's own address the desk belongs to whoever sits at it; from
the first person on, or behind a name of its own, everybody signs in. Whatever is not named here is for a lead.
"""

from __future__ import annotations

import hmac
import re
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.types import ASGIApp, Receive, Scope, Send

from broodsweep.access import Access
from broodsweep.access.sessions import Session
from broodsweep.desk.access import Device, NotYoursError, Person, Reach, SignInError
from broodsweep.errors import BroodsweepError
from broodsweep.web.guard import SAFE_METHODS
from broodsweep.web.refusals import domain_error
from broodsweep.words import say

PAGE_TOKEN = "x-page-token"
"""Header with the session's second secret: a page of ours knows it, a form on another site cannot send it."""

OPEN_TO_ALL = re.compile(
    r"/api/session|/api/words/[^/]+|/api/access/(sign-in|invitation|passkey/(ask|sign-in))|/api/fieldbook/(devices|wipes/[^/]+)"
)
"""What anybody may ask for who reaches the desk."""

FOR_PHONES = re.compile(r"/api/(fieldbook/.+|words/[^/]+|session|changes|basemap|map/.+)|/basemap/.+")
"""What an enrolled phone may ask for."""

OWN_AFFAIRS = re.compile(r"/api/access/(sign-out|mine|password|passkey/new(/ask)?|passkeys/[^/]+)")
"""What everybody who is signed in may do, whatever their role."""

RECORDING = re.compile(
    r"/api/(apiaries|visits|outbreaks(/[^/]+/(cases|events))?|weigh(/.*)?|practice/answers|looks(/.*)?"
    r"|hidden/run|rehearsal|fieldbook/.*|field/(paper|parcels))"
)
"""Changes that an inspector may make."""

LOOKING = re.compile(r"/api/(?!access/(people|phones|acts)).*|/basemap/.*")
"""Answers that everybody may read."""


@dataclass(frozen=True, kw_only=True)
class Caller:
    """Who asks: a person, a phone, or whoever sits at a desk that needs no sign-in."""

    person: Person | None = None
    session: Session | None = None
    device: Device | None = None

    @property
    def name(self) -> str | None:
        """Name under which changes are written down; None where the settings' name holds."""
        if self.device is not None:
            return self.device.who
        return self.person.name if self.person else None


def reach_of(method: str, path: str) -> Reach:
    """Return how far a request reaches."""
    if method in SAFE_METHODS:
        return Reach.LOOK if LOOKING.fullmatch(path) else Reach.LEAD
    return Reach.RECORD if RECORDING.fullmatch(path) else Reach.LEAD


def cookie_name(scope: Scope) -> str:
    """Return the name of the session's cookie; over TLS browsers hold it to this host and to TLS."""
    return "__Host-broodsweep" if scope.get("scheme") == "https" else "broodsweep"


def cookie_of(scope: Scope) -> str | None:
    """Return the session's secret out of the request's cookies."""
    try:
        kept = SimpleCookie(Headers(scope=scope).get("cookie", "")).get(cookie_name(scope))
    except CookieError:
        return None
    return kept.value if kept else None


class Gate:
    """Finds out who asks and refuses what is not theirs; puts a `Caller` in the request's state.

    Parameters
    ----------
    app
        What lies behind the gate.
    access
        Those who are let in.
    is_shared
        Whether the desk is reached from other machines: everybody signs in then.
    """

    def __init__(self, app: ASGIApp, *, access: Access, is_shared: bool = False) -> None:
        self.app, self.access, self.is_shared = app, access, is_shared

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let one request through, or refuse it."""
        if scope["type"] != "http" or not scope["path"].startswith(("/api/", "/basemap/")):
            await self.app(scope, receive, send)
            return
        try:
            caller = await run_in_threadpool(self.caller_of, scope)
            self.require(scope, caller)
        except BroodsweepError as error:
            await domain_error(Request(scope), error)(scope, receive, send)
            return
        scope.setdefault("state", {})["caller"] = caller
        await self.app(scope, receive, send)

    def needs_sign_in(self) -> bool:
        """Say whether everybody must sign in."""
        return self.is_shared or self.access.people.are_there()

    def caller_of(self, scope: Scope) -> Caller | None:
        """Return who asks, None when nobody is signed in where somebody must be.

        Raises
        ------
        SignInError
            If a phone's token is not known.
        """
        given = Headers(scope=scope).get("authorization", "")
        if given.startswith("Bearer "):
            device = self.access.devices.of(given.removeprefix("Bearer "))
            if device is None:
                raise SignInError("access.phone_unknown")
            return Caller(device=device)
        token = cookie_of(scope)
        found = self.access.person_of(token) if token else None
        if found is not None:
            return Caller(person=found[0], session=found[1])
        return None if self.needs_sign_in() else Caller()

    def require(self, scope: Scope, caller: Caller | None) -> None:
        """Refuse what the caller may not ask for.

        Raises
        ------
        SignInError
            If somebody must sign in first, or the page is from an earlier session.
        NotYoursError
            If the role does not reach that far.
        """
        path, method = scope["path"], scope["method"]
        if OPEN_TO_ALL.fullmatch(path):
            return
        if caller is None:
            raise SignInError("access.sign_in_first")
        if caller.device is not None:
            if not FOR_PHONES.fullmatch(path):
                raise NotYoursError("access.not_your_role", role=say("access.role_inspector"))
            return
        if caller.person is None or caller.session is None:
            return
        if method not in SAFE_METHODS:
            given = Headers(scope=scope).get(PAGE_TOKEN, "")
            if not hmac.compare_digest(given.encode(), caller.session.page_token.encode()):
                raise SignInError("access.page_stale")
        if not OWN_AFFAIRS.fullmatch(path):
            require_reach(caller, reach_of(method, path))


def require_reach(caller: Caller, reach: Reach) -> None:
    """Refuse a person whose role does not reach that far; a desk without sign-in reaches everywhere.

    Raises
    ------
    NotYoursError
        If it does not.
    """
    if caller.device is not None and reach is Reach.LEAD:
        raise NotYoursError("access.not_your_role", role=say("access.role_inspector"))
    if caller.person is not None and not caller.person.may(reach):
        raise NotYoursError("access.not_your_role", role=say(f"access.role_{caller.person.role}"))


LEADS_ONLY = frozenset({"released", "reopened"})
"""Steps of a case that only a lead records: they lift a standstill, or lay it on again."""
