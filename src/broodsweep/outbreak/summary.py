"""Sorts what is due by how soon it presses, and names the steps that settle it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from broodsweep.outbreak.due import SOON, Due, DueState
from broodsweep.outbreak.history import CLEARANCES
from broodsweep.outbreak.model import EventKind
from broodsweep.outbreak.refusals import step_said
from broodsweep.words import Message


@dataclass(frozen=True, kw_only=True)
class DueSummary:
    """What a day asks for: overdue, at once, within the week, and what is still to come."""

    overdue: tuple[Due, ...]
    at_once: tuple[Due, ...]
    this_week: tuple[Due, ...]
    later: tuple[Due, ...]


def summarise(lines: Iterable[Due], on: date) -> DueSummary:
    """Sort lines by how soon they press; what is done is left out."""
    every = [line for line in lines if line.state is not DueState.DONE]
    overdue = tuple(line for line in every if line.state is DueState.OVERDUE)
    at_once = tuple(line for line in every if line.state is DueState.DUE and line.is_at_once)
    rest = [line for line in every if line not in overdue and line not in at_once]
    week = tuple(
        line
        for line in rest
        if line.state is DueState.DUE or (line.state is DueState.COMING and _first(line, on) <= on + SOON)
    )
    return DueSummary(
        overdue=overdue,
        at_once=at_once,
        this_week=week,
        later=tuple(line for line in rest if line not in week),
    )


def _first(line: Due, on: date) -> date:
    days = [day for day in (line.earliest_on, line.due_on) if day is not None and day >= on]
    return min(days, default=date.max)


def steps_that_settle(key: str) -> tuple[Message, ...]:
    """Return the steps, in words, that tick off a line of that key."""
    kinds = {
        "notify": (EventKind.NOTIFIED,),
        "confirm": (EventKind.CONFIRMED, EventKind.NOT_CONFIRMED),
        "clearance": tuple(sorted(CLEARANCES)),
        "reinspection": (EventKind.REINSPECTED_CLEAN, EventKind.REINSPECTED_POSITIVE),
        "release": (EventKind.RELEASED,),
    }.get(key)
    return tuple(step_said(kind) for kind in kinds or (EventKind(key),))
