"""Writes the description of the API: ``python -m broodsweep.web.openapi > field/openapi.json``."""

from __future__ import annotations

import json
import sys
from datetime import UTC, datetime
from pathlib import Path

from broodsweep.desk.context import Desk
from broodsweep.store import MemoryStore
from broodsweep.web.app import create_app


def _no_clock() -> datetime:
    return datetime(2000, 1, 1, tzinfo=UTC)


def written_schema() -> str:
    """Return the OpenAPI description as text, the same for the same code."""
    desk = Desk(store=MemoryStore(now=_no_clock), books={}, now=_no_clock)
    schema = create_app(desk, home=Path("home")).openapi()
    # The version of the program changes without the API changing.
    schema["info"]["version"] = "1"
    return json.dumps(schema, indent=1, sort_keys=True, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    sys.stdout.write(written_schema())
