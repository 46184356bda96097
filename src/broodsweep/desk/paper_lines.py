"""A paper sheet entered at the desk: the lines that a phone would have written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid5

from broodsweep.desk.access import Device
from broodsweep.desk.context import Desk
from broodsweep.desk.fieldbook import Taken, take_lines
from broodsweep.errors import RefusedError
from broodsweep.fieldbook import digest_of

PAPER = "paper"
"""Device of the lines of paper sheets."""
SHEET_NAMES = UUID("5d2f3c8e-5f0e-5b7c-9a37-0e9f64c1b2d4")
"""Namespace of the visits that paper sheets name: one sheet for one apiary on one day."""
LINE_NAMES = UUID("8a1c6b44-71a5-5c39-8f55-2a9c0d3e7f10")
"""Namespace of the lines of paper sheets."""


@dataclass(frozen=True, kw_only=True)
class PaperVisit:
    """A sheet as it was filled in; ``colonies``, ``samples`` and ``reports`` are bodies of lines."""

    visit: str
    apiary: str
    visited_on: date
    purpose: str
    who: str
    inspector: str | None = None
    present: int = 0
    weather: Mapping[str, Any] | None = None
    colonies: Sequence[Mapping[str, Any]] = ()
    signs: Sequence[Mapping[str, Any]] = ()
    tests: Sequence[Mapping[str, Any]] = ()
    samples: Sequence[Mapping[str, Any]] = ()
    handed: Sequence[Mapping[str, Any]] = ()
    reports: Sequence[Mapping[str, Any]] = ()
    cleaned: Sequence[str] = ()
    cleaned_how: str = ""
    note: str = ""
    signed_by: str = ""
    keeper_was_there: bool = False
    keeper_name: str = ""


def sheet_name(apiary: str, on: date) -> str:
    """Return the name of the visit that a sheet for an apiary on a day stands for, however often it is printed."""
    return str(uuid5(SHEET_NAMES, f"{apiary}|{on.isoformat()}"))


def is_entered(desk: Desk, visit: str) -> bool:
    """Say whether lines of a sheet are here."""
    return bool(desk.store.lines(visits=[visit]))


def paper_device(who: str, inspector: str | None, at: datetime) -> Device:
    """Return what stands for the phone of a paper sheet."""
    return Device(
        device=PAPER,
        label=PAPER,
        who=who,
        inspector=inspector,
        enrolled_at=at,
        revoked_at=None,
        wipe_asked_at=None,
        seal_key="",
        sign_key="",
    )


def enter_paper(desk: Desk, told: PaperVisit) -> Taken:
    """Take in a paper sheet as the lines that a phone would have written.

    Raises
    ------
    NotFoundError
        If the register has no such apiary.
    RefusedError
        If the sheet was entered before, or is dated ahead.
    """
    desk.snapshot().apiary(told.apiary)
    if is_entered(desk, told.visit):
        raise RefusedError("fieldbook.sheet_entered", apiary=told.apiary)
    if told.visited_on > desk.today():
        raise RefusedError("fieldbook.in_future", happened_on=told.visited_on, today_on=desk.today())
    at = desk.now()
    first = 1 + max((row.highest for row in desk.store.heard() if row.device == PAPER), default=0)
    lines: list[dict[str, Any]] = []
    for number, (kind, body) in enumerate(_bodies(told), start=first):
        lines.append(_line(told, number, kind, body, at))
    if told.signed_by:
        names = [line["line"] for line in lines]
        signed = {
            "by": told.signed_by,
            "role": PAPER,
            "keeper_was_there": told.keeper_was_there,
            "keeper_name": told.keeper_name,
            "strokes": [],
            "keeper_strokes": [],
            "lines": len(names),
            "digest": digest_of(names),
        }
        lines.append(_line(told, first + len(lines), "visit_signed", signed, at))
    return take_lines(desk, paper_device(told.who, told.inspector, at), lines)


def _bodies(told: PaperVisit) -> list[tuple[str, dict[str, Any]]]:
    rows: list[tuple[str, dict[str, Any]]] = [
        ("visit_begun", {"purpose": told.purpose, "visited_on": told.visited_on.isoformat()})
    ]
    if told.weather is not None:
        rows.append(("weather_seen", dict(told.weather)))
    rows.append(("colonies_counted", {"present": told.present}))
    rows += [("colony_looked", dict(body)) for body in told.colonies]
    rows += [("sign_seen", dict(body)) for body in told.signs]
    for number, body in enumerate(told.tests):
        name = str(uuid5(LINE_NAMES, f"{told.visit}|test|{number}"))
        rows.append(("test_done", {"test": name, "is_void": False, **body}))
    rows += [("sample_taken", dict(body)) for body in told.samples]
    rows += [("sample_handed", dict(body)) for body in told.handed]
    for number, body in enumerate(told.reports):
        name = str(uuid5(LINE_NAMES, f"{told.visit}|report|{number}"))
        rows.append(("keeper_said", {"report": name, "is_void": False, **body}))
    if told.cleaned:
        rows.append(("kit_cleaned", {"what": list(told.cleaned), "how": told.cleaned_how}))
    if told.note.strip():
        rows.append(("note_written", {"text": told.note.strip()}))
    return rows


def _line(told: PaperVisit, number: int, kind: str, body: dict[str, Any], at: datetime) -> dict[str, Any]:
    return {
        "line": str(uuid5(LINE_NAMES, f"{told.visit}|{number}|{kind}")),
        "device": PAPER,
        "number": number,
        "visit": told.visit,
        "apiary": told.apiary,
        "kind": kind,
        "written_at": at.isoformat(),
        "body": body,
    }
