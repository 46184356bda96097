"""The independent checker: goes through a plan line by line and names every hard rule that it breaks.

It shares no code with what makes plans: it reads times, places and rules and compares. It runs on every plan,
whoever made it; a plan that breaks a hard rule is never returned.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from broodsweep.rounds.errors import BrokenPlanError
from broodsweep.rounds.model import InspectorDay, Task, Window
from broodsweep.rounds.plan import PauseKind, Plan, PlannedStop, Round
from broodsweep.words import Message, say

_KM_SLACK = 1e-6


def broken_rules(task: Task, plan: Plan) -> tuple[Message, ...]:
    """Return every hard rule that the plan breaks, in words; empty for a legal plan."""
    return tuple(_all(task, plan))


def refuse_broken(task: Task, plan: Plan) -> Plan:
    """Return the plan when it breaks no hard rule.

    Raises
    ------
    BrokenPlanError
        With the number of broken rules and the first of them.
    """
    broken = broken_rules(task, plan)
    if broken:
        raise BrokenPlanError("rounds.broken_plan", count=len(broken), first=broken[0])
    return plan


def _all(task: Task, plan: Plan) -> Iterator[Message]:
    yield from _everyone_once(task, plan)
    days = {(row.inspector, row.on): row for row in task.days}
    seen = set()
    for row in plan.rounds:
        day = days.get((row.inspector, row.on))
        if day is None or (row.inspector, row.on) in seen:
            yield _broken("not_working", row)
            continue
        seen.add((row.inspector, row.on))
        yield from _hours(day, row)
        yield from _way(task, day, row)
        yield from _hygiene(task, day, row)
        yield from _rest(day, row)
        for stop in row.stops:
            yield from _visit(task, day, row, stop)
    yield from _pairs(task, plan)


def _broken(rule: str, row: Round, apiary: str = "–") -> Message:
    return say(f"rounds.broken_{rule}", inspector=row.inspector, round_on=row.on, apiary=apiary)


def _everyone_once(task: Task, plan: Plan) -> Iterator[Message]:
    times: dict[str, int] = defaultdict(int)
    for row in plan.rounds:
        for stop in row.stops:
            times[stop.apiary] += 1
    left_out = [row.apiary for row in plan.unplanned]
    for candidate in task.candidates:
        made = times.pop(candidate.apiary, 0)
        wanted = (0, 2) if candidate.needs_two else (0, 1)
        if made not in wanted or (made == 0) != (candidate.apiary in left_out):
            yield say("rounds.broken_once", apiary=candidate.apiary, count=made)
    for name in [*times, *(set(left_out) - {row.apiary for row in task.candidates})]:
        yield say("rounds.broken_unknown", apiary=name)


def _hours(day: InspectorDay, row: Round) -> Iterator[Message]:
    ends = min(24 * 60, day.work.end_minute + day.overtime_minutes)
    if row.leave_minute < day.work.start_minute or row.back_minute > ends or not row.stops:
        yield _broken("hours", row)
    if row.overtime_minutes != max(0, row.back_minute - day.work.end_minute):
        yield _broken("overtime", row)


def _way(task: Task, day: InspectorDay, row: Round) -> Iterator[Message]:
    """Every drive, pause and visit follows the one before; nothing overlaps; kilometres add up."""
    parts: list[tuple[int, int, str, str]] = [
        *((stop.begin_minute, stop.leave_minute, stop.apiary, "visit") for stop in row.stops),
        *(
            (pause.start_minute, pause.end_minute, pause.at, "pause")
            for pause in row.pauses
            if not _is_inside_a_visit(pause.start_minute, pause.end_minute, pause.at, row)
        ),
        (row.back_minute, row.back_minute, day.end, "end"),
    ]
    place, free, km, drive = day.start, row.leave_minute, 0.0, 0
    order = {"visit": 0, "pause": 1, "end": 2}
    for start, end, at, kind in sorted(parts, key=lambda part: (part[0], part[1], order[part[3]])):
        a, b = task.travel.index[place], task.travel.index[at]
        if place != at and not task.travel.is_reachable[a, b]:
            yield _broken("no_way", row, at)
            return
        minutes = 0 if place == at else int(task.travel.minutes[a, b])
        if start < free + minutes or end < start:
            yield _broken("overlap", row, at)
        km += 0.0 if place == at else float(task.travel.km[a, b])
        drive += minutes
        place, free = at, end
        if day.most_commute_minutes is not None and minutes > day.most_commute_minutes and kind != "pause":
            ends_here = at == row.stops[0].apiary or kind == "end"
            if ends_here:
                yield _broken("commute", row, at)
    if abs(km - row.km) > _KM_SLACK or drive != row.drive_minutes:
        yield _broken("sums", row)


def _is_inside_a_visit(start: int, end: int, at: str, row: Round) -> bool:
    return any(
        stop.apiary == at and stop.begin_minute <= start and end <= stop.leave_minute for stop in row.stops
    )


def _hygiene(task: Task, day: InspectorDay, row: Round) -> Iterator[Message]:
    """From worse to better only over a wash of full length in between."""
    status = {candidate.apiary: int(candidate.status) for candidate in task.candidates}
    soil, since = int(day.soiled), row.leave_minute
    needed = task.hygiene.decontamination_minutes
    for stop in row.stops:
        washed = any(
            pause.kind == PauseKind.WASH
            and needed is not None
            and pause.end_minute - pause.start_minute >= needed
            and since <= pause.start_minute
            and pause.end_minute <= stop.arrive_minute
            for pause in row.pauses
        )
        soil = 0 if washed else soil
        if soil > status.get(stop.apiary, 0):
            yield _broken("hygiene", row, stop.apiary)
        soil, since = max(soil, status.get(stop.apiary, 0)), stop.leave_minute


def _rest(day: InspectorDay, row: Round) -> Iterator[Message]:
    if not day.break_minutes or row.back_minute - row.leave_minute <= day.break_after_minutes:
        return
    for pause in row.pauses:
        long_enough = pause.end_minute - pause.start_minute >= day.break_minutes
        begins, ends = day.break_between.start_minute, day.break_between.end_minute
        in_time = begins <= pause.start_minute and pause.end_minute <= ends
        if pause.kind == PauseKind.BREAK and long_enough and in_time:
            return
    yield _broken("rest", row)


def _visit(task: Task, day: InspectorDay, row: Round, stop: PlannedStop) -> Iterator[Message]:
    candidate = next((one for one in task.candidates if one.apiary == stop.apiary), None)
    if candidate is None:
        return
    rest = sum(
        pause.end_minute - pause.start_minute
        for pause in row.pauses
        if pause.at == stop.apiary
        and stop.begin_minute <= pause.start_minute
        and pause.end_minute <= stop.leave_minute
    )
    if (
        stop.arrive_minute > stop.begin_minute
        or stop.leave_minute - stop.begin_minute - rest < candidate.service_minutes
    ):
        yield _broken("service", row, stop.apiary)
    if not _lies_in(stop, [day.opening] if day.opening else []):
        yield _broken("opening", row, stop.apiary)
    hours = candidate.day_windows.get(row.on, (candidate.window,) if candidate.window else None)
    if hours is not None and not _lies_in(stop, hours):
        yield _broken("window", row, stop.apiary)
    light = day.daylight
    if light is None or stop.begin_minute < light.start_minute or stop.leave_minute > light.end_minute:
        yield _broken("daylight", row, stop.apiary)
    if candidate.appointment_on is not None and candidate.appointment_on != row.on:
        yield _broken("appointment", row, stop.apiary)
    if candidate.days is not None and row.on not in candidate.days:
        yield _broken("day", row, stop.apiary)
    if candidate.inspectors is not None and row.inspector not in candidate.inspectors:
        yield _broken("inspector", row, stop.apiary)
    if not candidate.skills <= day.skills:
        yield _broken("skill", row, stop.apiary)
    pin = task.pins.get(stop.apiary)
    if pin is not None:
        kept = (
            (pin.inspector in (None, row.inspector) or candidate.needs_two)
            and pin.on in (None, row.on)
            and pin.begin_minute in (None, stop.begin_minute)
        )
        if not kept:
            yield _broken("pin", row, stop.apiary)


def _lies_in(stop: PlannedStop, windows: Iterable[Window]) -> bool:
    """Say whether the whole visit lies in one of the windows."""
    return any(
        window.start_minute <= stop.begin_minute and stop.leave_minute <= window.end_minute
        for window in windows
    )


def _pairs(task: Task, plan: Plan) -> Iterator[Message]:
    """Two who go together begin on the same day at the same minute; a pinned inspector is one of them."""
    for candidate in task.candidates:
        if not candidate.needs_two:
            continue
        both = [(row, stop) for row in plan.rounds for stop in row.stops if stop.apiary == candidate.apiary]
        starts = {(row.on, stop.begin_minute) for row, stop in both}
        if len(starts) > 1:
            yield _broken("pair", both[0][0], candidate.apiary)
        pin = task.pins.get(candidate.apiary)
        if both and pin and pin.inspector and pin.inspector not in {row.inspector for row, _ in both}:
            yield _broken("pin", both[0][0], candidate.apiary)
