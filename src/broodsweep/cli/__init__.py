"""The command: parse, call the desk, format."""

from __future__ import annotations

from broodsweep.cli.app import main

__all__ = ["main"]
