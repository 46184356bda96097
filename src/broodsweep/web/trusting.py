"""The page on which a phone gets the certificate of the desk's own authority: that and nothing else, without TLS."""

from __future__ import annotations

import html

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from broodsweep.access.authority import Authority
from broodsweep.words import text

STEPS = ("android", "ios", "then")
LOOK = (
    "body{font:1.15rem/1.5 system-ui,sans-serif;max-width:38rem;margin:0 auto;padding:1rem;color:#1b2430;background:#fbfaf5}"
    "a.get{display:inline-block;padding:.9rem 1.2rem;border:2px solid #1b2430;color:inherit;font-weight:600}"
    "code{font-size:1.05rem;overflow-wrap:anywhere}p.caution{border-left:.4rem solid #1b2430;padding-left:.8rem}"
)


def trust_app(authority: Authority, *, desk: str, locale: str) -> Starlette:
    """Return the page as an application.

    Parameters
    ----------
    authority
        Whose certificate it hands out.
    desk
        Address of the desk, to go on to.
    locale
        Language of the page.
    """

    def page(_: Request) -> Response:
        return HTMLResponse(written(authority, desk=desk, locale=locale), headers=HEADERS)

    def certificate(_: Request) -> Response:
        return Response(
            authority.certificate.read_bytes(),
            media_type="application/x-x509-ca-cert",
            headers={**HEADERS, "Content-Disposition": 'attachment; filename="broodsweep-desk.crt"'},
        )

    return Starlette(routes=[Route("/", page), Route("/broodsweep-desk.crt", certificate)])


HEADERS = {
    "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; base-uri 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
}


def written(authority: Authority, *, desk: str, locale: str) -> str:
    """Return the page."""

    def said(name: str) -> str:
        return html.escape(text(f"access.trust_{name}", locale=locale))

    steps = "".join(f"<li>{said(step)}</li>" for step in STEPS)
    return (
        f"<!doctype html><html lang={locale}><meta charset=utf-8><meta name=viewport content='width=device-width'>"
        f"<title>{said('title')}</title><style>{LOOK}</style><h1>{said('title')}</h1><p>{said('why')}</p>"
        f"<p class=caution>{said('risk')}</p><p>{said('compare')}<br><code>{html.escape(authority.fingerprint)}</code></p>"
        f"<p><a class=get href=/broodsweep-desk.crt>{said('get')}</a></p><ol>{steps}</ol>"
        f"<p><a href='{html.escape(desk)}'>{html.escape(desk)}</a></p></html>"
    )
