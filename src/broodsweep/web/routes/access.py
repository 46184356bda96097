"""Signing in and out, one's own password and passkeys, people, phones."""

from __future__ import annotations

import io
from typing import Annotated
from urllib.parse import quote

import segno
from fastapi import APIRouter, Query, Request
from sqlalchemy import select
from starlette.responses import Response

from broodsweep.access.codes import LASTS, Opens
from broodsweep.access.constants import LONGEST_SESSION_D, SHORTEST_PASSWORD
from broodsweep.access.file import ACTS
from broodsweep.desk.access import Device, Person, SignInError
from broodsweep.errors import NotFoundError
from broodsweep.web.access import Asking, Door, Phone
from broodsweep.web.context import ERRORS, Here
from broodsweep.web.gate import Caller, cookie_name, cookie_of
from broodsweep.web.guard import host_of
from broodsweep.web.shapes.access import (
    ActShape,
    CodeAsked,
    EnrolAsked,
    EnrolledShape,
    InvitationAsked,
    InvitationShape,
    InvitedShape,
    MineShape,
    PasskeyAsked,
    PasskeyQuestionShape,
    PasskeyShape,
    PasswordAsked,
    PersonAsked,
    PersonChangeAsked,
    PersonShape,
    PhoneCodeAsked,
    PhoneShape,
    PhoneStateShape,
    RevokeAsked,
    SignInAsked,
    WipeShape,
)

router = APIRouter(prefix="/api", responses=ERRORS, tags=["access"])
SECONDS_A_DAY = 86_400
LONGEST_PAGE = 500


def _address(request: Request) -> str:
    return request.client.host if request.client else "unknown"


def _origin(request: Request) -> str:
    return f"{request.url.scheme}://{request.headers.get('host', '')}"


def _signed(caller: Caller) -> Person:
    if caller.person is None:
        raise SignInError("access.sign_in_first")
    return caller.person


def _with_cookie(request: Request, token: str) -> Response:
    found = Response(status_code=204)
    found.set_cookie(
        cookie_name(request.scope),
        token,
        max_age=int(LONGEST_SESSION_D.value) * SECONDS_A_DAY,
        httponly=True,
        secure=request.url.scheme == "https",
        samesite="strict",
        path="/",
    )
    return found


@router.post("/access/sign-in", status_code=204)
def sign_in(asked: SignInAsked, door: Door, request: Request) -> Response:
    """Open a session by name and password."""
    token, _ = door.sign_in(asked.name, asked.password.get_secret_value(), address=_address(request))
    return _with_cookie(request, token)


@router.post("/access/sign-out", status_code=204)
def sign_out(door: Door, request: Request) -> Response:
    """End the session."""
    token = cookie_of(request.scope)
    if token:
        door.sessions.end(token)
    found = Response(status_code=204)
    found.delete_cookie(cookie_name(request.scope), path="/", secure=request.url.scheme == "https")
    return found


@router.post("/access/passkey/ask")
def ask_passkey(door: Door, request: Request) -> PasskeyQuestionShape:
    """Ask the browser for a passkey, to sign in."""
    asked = door.passkeys.ask(host=host_of(request.headers.get("host", "")))
    return PasskeyQuestionShape.model_validate(asked)


@router.post("/access/passkey/sign-in", status_code=204)
def passkey_sign_in(asked: PasskeyAsked, door: Door, request: Request) -> Response:
    """Open a session by passkey."""
    with door.attempts.counting(f"passkey:{_address(request)}"):
        name = door.passkeys.check(
            asked.asked,
            asked.credential,
            host=host_of(request.headers.get("host", "")),
            origin=_origin(request),
        )
    token, _ = door.sessions.begin(name)
    return _with_cookie(request, token)


@router.post("/access/passkey/new/ask")
def ask_new_passkey(door: Door, caller: Asking, request: Request) -> PasskeyQuestionShape:
    """Ask the browser to make a passkey."""
    host = host_of(request.headers.get("host", ""))
    return PasskeyQuestionShape.model_validate(door.passkeys.ask_for_new(_signed(caller).name, host=host))


@router.post("/access/passkey/new", status_code=204)
def keep_passkey(asked: PasskeyAsked, door: Door, caller: Asking, request: Request) -> None:
    """Keep the passkey that the browser made."""
    door.passkeys.keep(
        asked.asked,
        asked.credential,
        name=_signed(caller).name,
        label=asked.label,
        host=host_of(request.headers.get("host", "")),
        origin=_origin(request),
    )


@router.delete("/access/passkeys/{passkey}", status_code=204)
def drop_passkey(passkey: str, door: Door, caller: Asking) -> None:
    """Take one of one's own passkeys away."""
    try:
        door.passkeys.drop(_signed(caller).name, passkey)
    except ValueError as error:
        raise NotFoundError("access.no_such_passkey") from error


@router.get("/access/mine")
def mine(door: Door, caller: Asking) -> MineShape:
    """Say who is signed in."""
    person = door.people.person(_signed(caller).name)
    return MineShape(
        person=PersonShape.model_validate(person),
        passkeys=[PasskeyShape(passkey=key, label=label) for key, label in door.passkeys.of(person.name)],
    )


@router.put("/access/password", status_code=204)
def change_password(asked: PasswordAsked, door: Door, caller: Asking, request: Request) -> Response:
    """Change one's own password; other sessions end, this one goes on."""
    name = _signed(caller).name
    with door.attempts.counting(f"name:{name.casefold()}"):
        door.people.set_password(name, asked.new.get_secret_value(), old=asked.old.get_secret_value())
    return _with_cookie(request, door.sessions.begin(name)[0])


@router.post("/access/invitation")
def read_invitation(asked: CodeAsked, door: Door, request: Request) -> InvitationShape:
    """Say whom an invitation is for."""
    name = door.use_code(Opens.INVITATION, asked.code, address=_address(request))
    return InvitationShape(name=name, shortest_password=int(SHORTEST_PASSWORD.value))


@router.put("/access/invitation", status_code=204)
def take_invitation(asked: InvitationAsked, door: Door, request: Request) -> Response:
    """Choose a password by an invitation, and sign in."""
    name = door.use_code(Opens.INVITATION, asked.code, address=_address(request))
    door.people.set_password(name, asked.password.get_secret_value(), code=asked.code)
    return _with_cookie(request, door.sessions.begin(name)[0])


@router.get("/access/people")
def people(door: Door) -> list[PersonShape]:
    """Give everybody who may sign in, and who once might."""
    return [PersonShape.model_validate(person) for person in door.people.everyone()]


@router.post("/access/people", status_code=201)
def add_person(asked: PersonAsked, door: Door, here: Here, request: Request) -> InvitedShape:
    """Add somebody; the answer holds their invitation."""
    code = door.people.add(
        asked.name, asked.role, by=here.author(None).who, inspector=asked.inspector or None
    )
    return _invited(request, asked.name.strip(), code, Opens.INVITATION)


@router.put("/access/people/{name}")
def change_person(name: str, asked: PersonChangeAsked, door: Door, here: Here) -> PersonShape:
    """Give somebody another role or another inspector."""
    changed = door.people.change(
        name, by=here.author(None).who, role=asked.role, inspector=asked.inspector or None
    )
    return PersonShape.model_validate(changed)


@router.post("/access/people/{name}/invitation", status_code=201)
def invite_again(name: str, door: Door, here: Here, request: Request) -> InvitedShape:
    """Make a new invitation for somebody who lost the way in."""
    return _invited(request, name, door.people.invite(name, by=here.author(None).who), Opens.INVITATION)


@router.delete("/access/people/{name}", status_code=204)
def retire_person(name: str, door: Door, here: Here) -> None:
    """Let somebody in no more."""
    door.people.retire(name, by=here.author(None).who)


@router.get("/access/acts")
def acts(door: Door, limit: Annotated[int, Query(ge=1, le=LONGEST_PAGE)] = 50) -> list[ActShape]:
    """Give the newest acts: who let whom in or out."""
    rows = door.file.rows(select(ACTS).order_by(ACTS.c.seq.desc()).limit(limit))
    return [ActShape.model_validate(row) for row in rows]


@router.get("/access/phones")
def phones(door: Door) -> list[PhoneShape]:
    """Give every phone that was enrolled."""
    return [PhoneShape.model_validate(device) for device in door.devices.everyone()]


@router.post("/access/phones", status_code=201)
def make_phone_code(asked: PhoneCodeAsked, door: Door, here: Here, request: Request) -> InvitedShape:
    """Make the code with which a phone is enrolled."""
    by = here.author(None).who
    name = asked.name or by
    if asked.name and door.people.are_there():
        door.people.person(name)
    return _invited(request, name, door.codes.make(Opens.ENROLMENT, name, by=by), Opens.ENROLMENT)


@router.post("/access/phones/{device}/revoke")
def revoke_phone(device: str, asked: RevokeAsked, door: Door, here: Here) -> PhoneShape:
    """Take a phone's rights; it may be asked to clear itself."""
    return PhoneShape.model_validate(door.devices.revoke(device, by=here.author(None).who, wipe=asked.wipe))


@router.post("/fieldbook/devices", status_code=201)
def enrol(asked: EnrolAsked, door: Door, request: Request) -> EnrolledShape:
    """Enrol a phone by a code."""
    door.use_code(Opens.ENROLMENT, asked.code, address=_address(request))
    device, token = door.devices.enrol(
        asked.code, label=asked.label, seal_key=asked.seal_key, sign_key=asked.sign_key
    )
    return EnrolledShape(
        device=device.device,
        token=token,
        who=device.who,
        inspector=device.inspector,
        desk_seal_key=door.keys.seal_public,
        desk_sign_key=door.keys.sign_public,
    )


@router.get("/fieldbook/state")
def phone_state(phone: Phone) -> PhoneStateShape:
    """Say how the phone stands with the desk."""
    return PhoneStateShape(who=phone.who, is_revoked=_is_revoked(phone), wipe=_is_to_wipe(phone))


@router.get("/fieldbook/wipes/{device}")
def is_wipe_asked(device: str, door: Door) -> WipeShape:
    """Say whether a phone shall clear itself: asked while it is locked, so without its token; one bit is told."""
    try:
        return WipeShape(wipe=_is_to_wipe(door.devices.device(device)))
    except NotFoundError:
        return WipeShape(wipe=False)


@router.post("/fieldbook/wiped", status_code=204)
def phone_wiped(phone: Phone, door: Door) -> None:
    """Note that the phone has cleared itself."""
    door.devices.wiped(phone.device)


def _is_revoked(phone: Device) -> bool:
    return phone.revoked_at is not None


def _is_to_wipe(phone: Device) -> bool:
    return phone.wipe_asked_at is not None and phone.wiped_at is None


def _invited(request: Request, name: str, code: str, opens: Opens) -> InvitedShape:
    page = "field/" if opens is Opens.ENROLMENT else "sign-in"
    word = "enrol" if opens is Opens.ENROLMENT else "invitation"
    address = f"{_origin(request)}/{page}#{word}={quote(code)}"
    drawn = io.BytesIO()
    segno.make(address, error="m").save(drawn, kind="svg", scale=6, border=4, xmldecl=False, svgns=True)
    return InvitedShape(
        name=name,
        code=code,
        address=address,
        square=drawn.getvalue().decode(),
        is_within_min=int(LASTS[opens].total_seconds() // 60),
    )
