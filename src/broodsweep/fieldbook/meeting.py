"""Two looks at one apiary on one day: both are kept, and shown side by side."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from broodsweep.fieldbook.effects import CLEAN, SUSPECT, count_of, is_look
from broodsweep.fieldbook.fold import VisitNow
from broodsweep.words import Message, say


@dataclass(frozen=True, kw_only=True)
class Meeting:
    """Visits of different phones to one apiary on one day, and where they differ."""

    apiary: str
    visited_on: str
    visits: tuple[str, ...]
    differences: tuple[Message, ...]


def meetings(visits: Iterable[VisitNow], *, key_of: Callable[[str], str] = str) -> tuple[Meeting, ...]:
    """Return the apiaries that were looked at twice on a day, the newest day first."""
    groups: dict[tuple[str, str], list[VisitNow]] = {}
    for visit in visits:
        if visit.visited_on is not None and visit.apiary and not visit.is_dropped and is_look(visit):
            groups.setdefault((visit.visited_on, key_of(visit.apiary)), []).append(visit)
    found = [
        Meeting(
            apiary=apiary,
            visited_on=day,
            visits=tuple(row.visit for row in sorted(rows, key=lambda row: row.visit)),
            differences=_differences(sorted(rows, key=lambda row: row.visit)),
        )
        for (day, apiary), rows in groups.items()
        if len({row.device for row in rows}) > 1
    ]
    found.sort(key=lambda row: row.apiary)
    return tuple(sorted(found, key=lambda row: row.visited_on, reverse=True))


def _differences(visits: list[VisitNow]) -> tuple[Message, ...]:
    said: list[Message] = []
    present = [visit.present for visit in visits if visit.present is not None]
    if len(set(present)) > 1:
        said.append(say("fieldbook.differ_present", counts=_listed(present)))
    for state in (CLEAN, SUSPECT):
        counts = [count_of(visit, state) for visit in visits]
        if len(set(counts)) > 1:
            said.append(say(f"fieldbook.differ_{state}", counts=_listed(counts)))
    colonies: dict[int, set[str]] = {}
    for visit in visits:
        for colony in visit.colonies:
            if colony.state is not None:
                colonies.setdefault(colony.colony, set()).add(colony.state)
    differing = sorted(number for number, states in colonies.items() if len(states) > 1)
    if differing:
        said.append(say("fieldbook.differ_colonies", colonies=_listed(differing)))
    return tuple(said)


def _listed(numbers: Iterable[int]) -> str:
    return ", ".join(str(int(number)) for number in numbers)
