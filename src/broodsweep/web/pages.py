"""Serves the built pages; where they are not built, says how to build them."""

from __future__ import annotations

import html
from pathlib import Path

from fastapi import FastAPI, Request
from starlette.exceptions import HTTPException
from starlette.responses import FileResponse, HTMLResponse, Response

from broodsweep.web.locale import locale_of
from broodsweep.words import text

STATIC = Path(__file__).parent / "static"
FRESH = "no-cache"
FOREVER = "public, max-age=31536000, immutable"
"""Files under assets/ carry a digest of their content in the name."""
SECTIONS = frozenset({"", "today", "ground", "outbreaks", "weigh", "settings"})


def add_pages(app: FastAPI, static: Path = STATIC) -> None:
    """Let the application answer every address of the pages with the one page that draws them."""

    @app.get("/{path:path}", include_in_schema=False)
    def page(path: str, request: Request) -> Response:
        """Give a built file, or the page itself for an address of ours."""
        root = static.resolve()
        wanted = (root / path).resolve()
        if path and wanted.is_relative_to(root) and wanted.is_file() and not wanted.name.startswith("."):
            cache = FOREVER if path.startswith("assets/") else FRESH
            return FileResponse(wanted, headers={"Cache-Control": cache})
        if path.split("/")[0] not in SECTIONS and "text/html" not in request.headers.get("accept", ""):
            raise HTTPException(404)
        if path.startswith(("api/", "basemap/", "assets/")):
            raise HTTPException(404)
        index = root / "index.html"
        if not index.is_file():
            return HTMLResponse(
                not_built(locale_of(request)), status_code=503, headers={"Cache-Control": FRESH}
            )
        return FileResponse(index, headers={"Cache-Control": FRESH})


def not_built(locale: str) -> str:
    """Return the plain page that says how the pages are built."""
    said = html.escape(text("web.not_built", locale=locale))
    return f"<!doctype html><html lang={locale}><meta charset=utf-8><title>Broodsweep</title><p>{said}</p></html>"
