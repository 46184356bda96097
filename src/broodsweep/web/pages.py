"""Serves the built pages; where they are not built, says how to build them."""

from __future__ import annotations

import html
import mimetypes
from pathlib import Path

from fastapi import FastAPI, Request
from starlette.exceptions import HTTPException
from starlette.responses import FileResponse, HTMLResponse, RedirectResponse, Response

from broodsweep.web.locale import locale_of
from broodsweep.words import text

STATIC = Path(__file__).parent / "static"
FRESH = "no-cache"
FOREVER = "public, max-age=31536000, immutable"
"""Files under assets/ carry a digest of their content in the name."""
SECTIONS = frozenset({"", "today", "ground", "outbreaks", "weigh", "settings", "fieldwork"})
PHONE = "field"
"""The field book stands under this address of its own, which its service worker may answer for."""
WORKER = f"{PHONE}/sw.js"
MANIFEST = "application/manifest+json"


def add_pages(app: FastAPI, static: Path = STATIC) -> None:
    """Let the application answer every address of the pages with the one page that draws them."""

    @app.get("/{path:path}", include_in_schema=False)
    def page(path: str, request: Request) -> Response:
        """Give a built file, or the page itself for an address of ours."""
        root = static.resolve()
        wanted = (root / path).resolve()
        if path and wanted.is_relative_to(root) and wanted.is_file() and not wanted.name.startswith("."):
            return built(wanted, request, FOREVER if path.startswith("assets/") else FRESH, path)
        if path == PHONE:
            return RedirectResponse(f"/{PHONE}/", status_code=308, headers={"Cache-Control": FRESH})
        index = root / ("fieldbook.html" if path == f"{PHONE}/" else "index.html")
        if path != f"{PHONE}/" and not _is_a_page(path, request):
            raise HTTPException(404)
        if not index.is_file():
            return HTMLResponse(
                not_built(locale_of(request)), status_code=503, headers={"Cache-Control": FRESH}
            )
        return built(index, request, FRESH, path)


def _is_a_page(path: str, request: Request) -> bool:
    if path.startswith(("api/", "basemap/", "assets/", f"{PHONE}/")):
        return False
    return path.split("/")[0] in SECTIONS or "text/html" in request.headers.get("accept", "")


def built(wanted: Path, request: Request, cache: str, path: str) -> Response:
    """Give a built file, compressed where the build made it so and the browser can read it."""
    headers = {"Cache-Control": cache, "Vary": "Accept-Encoding"}
    if path == WORKER:
        headers["Service-Worker-Allowed"] = f"/{PHONE}/"
    media = MANIFEST if wanted.suffix == ".webmanifest" else mimetypes.guess_type(wanted.name)[0]
    small = wanted.with_name(f"{wanted.name}.gz")
    is_read = "gzip" in request.headers.get("accept-encoding", "") and "range" not in request.headers
    if is_read and small.is_file():
        return FileResponse(small, media_type=media, headers={**headers, "Content-Encoding": "gzip"})
    return FileResponse(wanted, media_type=media, headers=headers)


def not_built(locale: str) -> str:
    """Return the plain page that says how the pages are built."""
    said = html.escape(text("web.not_built", locale=locale))
    return f"<!doctype html><html lang={locale}><meta charset=utf-8><title>Broodsweep</title><p>{said}</p></html>"
