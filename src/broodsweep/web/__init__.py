"""The desk in a browser: parse, call the desk, format."""

from __future__ import annotations

from broodsweep.web.app import create_app

__all__ = ["create_app"]
