"""Visits for two inspectors at the same time, in two stages.

First a plan without them; then for each the day, the minute and the two inspectors are chosen that lose least of that
plan, and the task is solved again with both halves fixed to that minute. A diseased apiary comes last in a round, so
what is lost is what would have come after that minute.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from itertools import combinations

from broodsweep.rounds.allowed import service_windows, why_not
from broodsweep.rounds.cost import price_on, worth_of_visiting
from broodsweep.rounds.model import Candidate, InspectorDay, Pin, Task
from broodsweep.rounds.plan import Round
from broodsweep.rounds.profiles import Fixed, break_minutes

GRID_MINUTES = 15
"""Step between the minutes tried (project choice)."""


def choose_pairs(task: Task, rounds: Iterable[Round]) -> dict[str, Fixed]:
    """Return day, minute and inspectors of every visit for two that has a place, the most costly first."""
    made = {(row.inspector, row.on): row for row in rounds}
    chosen: dict[str, Fixed] = {}
    rows = [row for row in task.candidates if row.needs_two]
    for row in sorted(rows, key=lambda row: (-worth_of_visiting(task, row), row.apiary)):
        best = _best(task, row, made, chosen)
        if best is not None:
            chosen[row.apiary] = best
    return chosen


def _best(
    task: Task, row: Candidate, made: Mapping[tuple[str, date], Round], chosen: Mapping[str, Fixed]
) -> Fixed | None:
    pin = task.pins.get(row.apiary)
    best: tuple[float, date, int, tuple[str, str]] | None = None
    for on in sorted({day.on for day in task.days}):
        losses = {
            day.inspector: _losses(task, row, day, made.get(day.key), chosen)
            for day in task.days
            if day.on == on
        }
        price = price_on(task, row, next(day for day in task.days if day.on == on))
        for one, two in combinations(sorted(name for name, found in losses.items() if found), 2):
            if pin and pin.inspector not in (None, one, two):
                continue
            for begin in sorted(losses[one].keys() & losses[two].keys()):
                cost = price + losses[one][begin] + losses[two][begin]
                if best is None or (cost, on, begin) < best[:3]:
                    best = (cost, on, begin, (one, two))
    if best is None or best[0] > worth_of_visiting(task, row):
        return None
    return Fixed(on=best[1], begin_minute=best[2], inspectors=best[3])


def _losses(
    task: Task,
    row: Candidate,
    day: InspectorDay,
    made: Round | None,
    chosen: Mapping[str, Fixed],
) -> dict[int, float]:
    """Return what of the round is lost when the visit begins at each minute at which it can."""
    alone = replace(task, pins=_without_inspector(task.pins, row.apiary))
    rooms = service_windows(row, day)
    if not rooms or why_not(alone, row, day) is not None:
        return {}
    out = task.travel.minutes_between(day.start, row.apiary) or 0
    back = task.travel.minutes_between(row.apiary, day.end) or 0
    minutes: set[int] = set()
    pin = task.pins.get(row.apiary)
    for room in rooms:
        first = max(room.start_minute, day.work.start_minute + out)
        last = min(room.end_minute, day.latest_minute - back) - row.service_minutes - break_minutes(day)
        if pin and pin.begin_minute is not None:
            minutes |= {pin.begin_minute} if first <= pin.begin_minute else set()
        elif last >= first:
            minutes |= {*range(first, last + 1, GRID_MINUTES), last}
    taken = [
        (other.begin_minute, other.begin_minute + task.by_apiary[name].service_minutes)
        for name, other in chosen.items()
        if other.on == day.on and day.inspector in other.inspectors
    ]
    return {
        minute: _lost(task, row, day, made, minute)
        for minute in sorted(minutes)
        if all(minute + row.service_minutes + back <= start or end + out <= minute for start, end in taken)
    }


def _lost(task: Task, row: Candidate, day: InspectorDay, made: Round | None, minute: int) -> float:
    """Worth of the visits that could not be left in time or would have to come after."""
    if made is None:
        return 0.0
    lost = 0.0
    for stop in made.stops:
        drive = task.travel.minutes_between(stop.apiary, row.apiary)
        other = task.by_apiary[stop.apiary]
        is_before = drive is not None and stop.leave_minute + drive <= minute and other.status <= row.status
        if not is_before:
            lost += worth_of_visiting(task, other) - price_on(task, other, day)
    return lost


def _without_inspector(pins: Mapping[str, Pin], apiary: str) -> dict[str, Pin]:
    """One of two may be anyone: only the pinned day holds for both."""
    found = dict(pins)
    if apiary in found:
        found[apiary] = replace(found[apiary], inspector=None)
    return found
