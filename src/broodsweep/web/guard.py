"""Keeps the desk to this machine: who may ask, how much may be sent, what a page may load."""

from __future__ import annotations

import logging
from collections.abc import Iterable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from broodsweep.web.refusals import answer

LOG = logging.getLogger("broodsweep.web")
TOO_LARGE = 413
LOOPBACK = frozenset({"localhost", "127.0.0.1", "[::1]"})
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
OWN_PAGE = frozenset({"same-origin", "none"})

MEGABYTE = 1_000_000
BODY_LIMIT = 1 * MEGABYTE
UPLOAD_LIMITS = {
    "/api/load": 300 * MEGABYTE,
    "/api/basemap": 4_000 * MEGABYTE,
    "/api/field/parcels": 40 * MEGABYTE,
}
"""Bytes that may be sent: tables of 60,000 apiaries are about 10 MB, a district's base map a few hundred, a phone's
parcel holds some 12 MB of photos in base64."""

POLICY = (
    "default-src 'self'; img-src 'self' data: blob:; worker-src 'self' blob:; connect-src 'self'; "
    "style-src 'self' 'unsafe-inline'; frame-ancestors 'none'; base-uri 'none'; form-action 'self'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), microphone=(), geolocation=(self)",
}


class TooLargeError(HTTPException):
    """More bytes came than the address takes; an `HTTPException`, so that the reading of bodies lets it through."""

    def __init__(self) -> None:
        super().__init__(TOO_LARGE)


def host_of(value: str) -> str:
    """Return the host of a Host header or an origin, without its port, in lower case."""
    split = urlsplit(value if "//" in value else f"//{value}")
    name = (split.hostname or "").lower()
    return f"[{name}]" if ":" in name else name


def limit_of(path: str) -> int:
    """Bytes that a request to this address may carry."""
    return next((most for start, most in UPLOAD_LIMITS.items() if path.startswith(start)), BODY_LIMIT)


class Guard:
    """Refuses foreign hosts and foreign pages, limits bodies, adds the security headers.

    A page on another site cannot write here (its Origin is refused), nor read here by making its own name
    point at this machine (its Host is refused).
    """

    def __init__(self, app: ASGIApp, *, hosts: Iterable[str] = ()) -> None:
        self.app = app
        self.hosts = LOOPBACK | {host.lower() for host in hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or pass it on."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refusal = self.refuse(scope, headers)
        if refusal is not None:
            await refusal(scope, receive, Outgoing(send))
            return
        outgoing = Outgoing(send)
        try:
            await self.app(scope, Limited(receive, limit_of(scope["path"])), outgoing)
        except Exception as error:
            LOG.error("Unforeseen error at %s %s", scope["method"], scope["path"], exc_info=error)
            if not outgoing.has_started:
                await answer(scope, 500, "web.unforeseen")(scope, receive, outgoing)

    def refuse(self, scope: Scope, headers: Headers) -> Response | None:
        """Return the refusal of a request that may not come in, None when it may."""
        if host_of(headers.get("host", "")) not in self.hosts:
            return answer(scope, 421, "web.foreign_host")
        if scope["method"] not in SAFE_METHODS and self.is_foreign(headers):
            return answer(scope, 403, "web.foreign_page")
        length = headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > limit_of(scope["path"]):
            return too_large(scope)
        return None

    def is_foreign(self, headers: Headers) -> bool:
        """Say whether a browser says that another site's page sent this."""
        site, origin = headers.get("sec-fetch-site"), headers.get("origin")
        if site is not None and site not in OWN_PAGE:
            return True
        return origin is not None and urlsplit(origin).netloc.lower() != headers.get("host", "").lower()


def too_large(scope: Scope) -> Response:
    """Return the refusal of a body beyond the limit."""
    return answer(scope, 413, "web.too_large", megabytes=limit_of(scope["path"]) // MEGABYTE)


class Limited:
    """Counts the bytes of a body that did not say its length."""

    def __init__(self, receive: Receive, limit: int) -> None:
        self.receive, self.limit, self.seen = receive, limit, 0

    async def __call__(self) -> Message:
        """Pass the next part on while the limit holds."""
        message = await self.receive()
        self.seen += len(message.get("body", b""))
        if self.seen > self.limit:
            raise TooLargeError
        return message


class Outgoing:
    """Adds the security headers to whatever is sent."""

    def __init__(self, send: Send) -> None:
        self.send, self.has_started = send, False

    async def __call__(self, message: Message) -> None:
        """Send a part of the answer."""
        if message["type"] == "http.response.start":
            self.has_started = True
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("Cache-Control", "no-store")
        await self.send(message)


class GzipAnswers:
    """Compresses the answers of the API; files asked for in ranges must stay as they are."""

    def __init__(self, app: ASGIApp) -> None:
        self.plain, self.zipped = app, GZipMiddleware(app, minimum_size=2_000, compresslevel=5)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Choose by address."""
        is_api = scope["type"] == "http" and scope["path"].startswith("/api/")
        await (self.zipped if is_api else self.plain)(scope, receive, send)
