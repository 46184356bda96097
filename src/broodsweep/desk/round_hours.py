"""When visits can be made, beside what the tables say: absences, keepers' hours, appointments, parts of a day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from broodsweep.desk.rounds_visits import visit_time
from broodsweep.desk.snapshot import Snapshot
from broodsweep.rounds.constants import APPOINTMENT_WORTH
from broodsweep.rounds.model import Candidate, Status, Window
from broodsweep.words import say

EVERY_WEEKDAY = frozenset(range(1, 8))
"""ISO weekdays, 1 = Monday."""


@dataclass(frozen=True, kw_only=True)
class KeeperHours:
    """When a keeper is there: on these ISO weekdays, in one of these windows; on other weekdays not at all."""

    weekdays: frozenset[int] = EVERY_WEEKDAY
    windows: tuple[Window, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Appointment:
    """A day agreed with the keeper; the whole visit lies in ``window``, None: at any hour."""

    on: date
    window: Window | None = None


@dataclass(frozen=True, kw_only=True)
class Changes:
    """How the days turned out differently from what the tables say.

    ``away`` holds, by apiary or keeper, the days on which nobody is there; ``hours`` when someone is;
    ``appointments`` what was agreed, by apiary; ``ill`` inspectors and days; ``part_days`` the hours of an inspector
    on a day that is not whole; ``rained_off`` days on which no hive is opened.
    """

    away: Mapping[str, frozenset[date]] = field(default_factory=dict)
    hours: Mapping[str, KeeperHours] = field(default_factory=dict)
    appointments: Mapping[str, Appointment] = field(default_factory=dict)
    ill: frozenset[tuple[str, date]] = frozenset()
    part_days: Mapping[tuple[str, date], Window] = field(default_factory=dict)
    rained_off: frozenset[date] = frozenset()


def with_changes(
    kept: Snapshot, rows: Sequence[Candidate], changes: Changes, span: Iterable[date]
) -> tuple[Candidate, ...]:
    """Return the visits with the days and hours at which they can be made, the most worth first.

    What is agreed with a keeper is a visit even when no list asks for it; it holds against hours and absences.
    """
    days = frozenset(span)
    asked = {row.apiary for row in rows}
    agreed = [
        _agreed(kept, apiary)
        for apiary, row in sorted(changes.appointments.items())
        if apiary not in asked and apiary in kept.apiaries and row.on in days
    ]
    found = [_with_hours(kept, row, changes, days) for row in (*rows, *agreed)]
    return tuple(sorted(found, key=lambda row: (-row.worth, row.apiary)))


def _with_hours(kept: Snapshot, row: Candidate, changes: Changes, span: frozenset[date]) -> Candidate:
    keeper = kept.apiaries[row.apiary].keeper or ""
    away = changes.away.get(row.apiary, frozenset()) | changes.away.get(keeper, frozenset())
    hours = changes.hours.get(row.apiary) or changes.hours.get(keeper)
    agreed = changes.appointments.get(row.apiary)
    if not (away or hours or agreed):
        return row
    by_law = span if row.days is None else row.days
    days = by_law - away
    windows: dict[date, tuple[Window, ...]] = {}
    if hours is not None:
        days = frozenset(on for on in days if on.isoweekday() in hours.weekdays)
        windows = {on: hours.windows for on in days if hours.windows}
    if agreed is None:
        return replace(row, days=days, day_windows=windows)
    windows.pop(agreed.on, None)
    if agreed.window is not None:
        windows[agreed.on] = (agreed.window,)
    return replace(
        row,
        days=days | (by_law & {agreed.on}),
        day_windows=windows,
        appointment_on=agreed.on,
        why=(*row.why, say("rounds.why_agreed", appointment_on=agreed.on)),
    )


def _agreed(kept: Snapshot, apiary: str) -> Candidate:
    """A visit that only the appointment asks for."""
    last = kept.last_visit(apiary)
    status = Status.SUSPECT if last is not None and last.saw_signs else Status.CLEAN
    return Candidate(
        apiary=apiary,
        worth=APPOINTMENT_WORTH.value,
        service_minutes=visit_time(kept).minutes(max(1, kept.apiaries[apiary].colonies)),
        bring=(say("rounds.bring_gloves"),),
        status=Status.INFECTED if apiary in kept.marks else status,
    )
