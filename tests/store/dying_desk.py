"""Run as a program by test_killing_field.py: takes in numbered lines and pieces of photos, tells each once it is kept."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

from broodsweep.desk.access import Device
from broodsweep.desk.context import Desk
from broodsweep.desk.field_photos import photo_state, take_piece
from broodsweep.desk.fieldbook import take_lines
from broodsweep.rulebook import load_books
from broodsweep.store import open_store

AT = datetime(2026, 7, 8, 9, tzinfo=UTC)
PHONE = Device(
    device="phone-1",
    label="phone-1",
    who="Una Selvik",
    inspector=None,
    enrolled_at=AT,
    revoked_at=None,
    wipe_asked_at=None,
    seal_key="",
    sign_key="",
)
PIECE = 30_000


def line(number: int) -> dict[str, Any]:
    """Return the note of that number, in a visit of ten lines."""
    visit = f"0197e0f0-0000-7000-8000-{number // 10:012d}"
    return {
        "line": f"0197e0f1-0000-7000-8000-{number:012d}",
        "device": "phone-1",
        "number": number + 1,
        "visit": visit,
        "apiary": "A1",
        "kind": "note_written",
        "written_at": "2026-07-08T09:00:00Z",
        "body": {"text": f"note {number}"},
    }


def photo(number: int) -> bytes:
    """Return the bytes of the photo of that number."""
    return b"\xff\xd8\xff" + number.to_bytes(4, "big") * 30_000


def main(path: Path, tell: Callable[[object], object]) -> None:
    """Take in batches of seven lines and then a photo in pieces, over and over, until killed."""
    with open_store(path, now=lambda: AT) as store:
        desk = Desk(store=store, books=load_books(), now=lambda: AT)
        start = len(store.lines()) // 7 * 7
        for number in range(start, start + 70_000, 7):
            answers = take_lines(desk, PHONE, [line(one) for one in range(number, number + 7)]).answers
            tell(("lines", [row.line for row in answers]))
            data = photo(number)
            name = sha256(data).hexdigest()
            while not (there := photo_state(desk, PHONE, name)).is_whole:
                piece = data[there.received : there.received + PIECE]
                take_piece(desk, PHONE, name, start=there.received, total=len(data), piece=piece)
                tell(("piece", name))
            tell(("photo", name))


if given := globals().get("GIVEN"):  # run within a process made for it
    main(given[0], given[1].send)
