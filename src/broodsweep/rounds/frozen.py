"""A plan in the middle of a day: what is done or under way stays, the rest can be planned anew from where people are.

`freeze` cuts the plan at a minute: visits done, and the one that an inspector is at or on the way to, are kept; the
inspector's day then begins on that site, in the clothes worn there. `join` puts the kept beginnings and the new rounds
together again.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from broodsweep.rounds.allowed import why_not
from broodsweep.rounds.model import InspectorDay, Pin, Status, Task, Window
from broodsweep.rounds.plan import PauseKind, PlannedStop, Round


@dataclass(frozen=True, kw_only=True)
class Frozen:
    """What is left to plan, and the beginnings of rounds that stay.

    ``stuck`` are visits held whose place is closed by now: they are free to move.
    """

    task: Task
    kept: tuple[Round, ...]
    stuck: tuple[str, ...] = ()


def freeze(
    task: Task,
    rounds: Iterable[Round],
    *,
    on: date,
    minute: int,
    done: Collection[str] = (),
    held: Collection[str] = (),
) -> Frozen:
    """Return what is left to plan of a task when its rounds are under way.

    Parameters
    ----------
    task
        What the rounds were made from, with what has changed since.
    rounds
        The rounds under way.
    on, minute
        Now, on the local clock.
    done
        Visits made.
    held
        Visits that stay with their inspector and day (announced, promised), where that is still possible.
    """
    rounds = tuple(rounds)
    kept: dict[tuple[str, date], Round] = {}
    for row in rounds:
        stops = _stays(row, on, minute, done)
        if stops:
            kept[(row.inspector, row.on)] = _beginning(task, row, stops, on, minute)
    made = {*done, *(name for row in kept.values() for name in row.apiaries)}
    days = tuple(_rest_of(task, day, kept.get(day.key), on, minute) for day in task.days if day.on >= on)
    left = replace(
        task,
        candidates=tuple(row for row in task.candidates if row.apiary not in made),
        days=tuple(day for day in days if day is not None),
        pins={name: pin for name, pin in task.pins.items() if name not in made},
        announced={
            **{stop.apiary: (row.inspector, row.on) for row in rounds for stop in row.stops if row.on >= on},
            **task.announced,
        },
    )
    pins, stuck = _held(left, rounds, set(held) - made)
    return Frozen(task=replace(left, pins={**pins, **left.pins}), kept=tuple(kept.values()), stuck=stuck)


def _stays(row: Round, on: date, minute: int, done: Collection[str]) -> tuple[PlannedStop, ...]:
    """The stops that are made, and the next one when the inspector is there or on the way by now."""
    made = [stop for stop in row.stops if stop.apiary in done]
    if row.on != on:
        return tuple(made)
    after = row.stops.index(made[-1]) + 1 if made else 0
    left_at = made[-1].leave_minute if made else row.leave_minute
    if after < len(row.stops) and left_at <= minute and not _is_home(row, minute):
        made.append(row.stops[after])
    return tuple(made)


def _is_home(row: Round, minute: int) -> bool:
    return minute >= row.back_minute


def _beginning(task: Task, row: Round, stops: tuple[PlannedStop, ...], on: date, minute: int) -> Round:
    """The round up to its last stop that stays; one that runs late is left now at the earliest."""
    last = stops[-1]
    if row.on == on and last.leave_minute < minute:
        last = replace(last, leave_minute=minute)
    stops = (*stops[:-1], last)
    pauses = tuple(pause for pause in row.pauses if pause.end_minute <= last.leave_minute)
    parts = [(stop.begin_minute, stop.apiary) for stop in stops]
    parts += [(pause.start_minute, pause.at) for pause in pauses]
    day = task.by_day.get((row.inspector, row.on))
    places = [*([day.start] if day else []), *(at for _, at in sorted(parts))]
    ways = [(start, end) for start, end in pairwise(places) if start != end]
    km = sum(task.travel.km_between(*way) or 0.0 for way in ways)
    minutes = sum(task.travel.minutes_between(*way) or 0 for way in ways)
    return replace(
        row,
        stops=stops,
        pauses=pauses,
        back_minute=last.leave_minute,
        km=km,
        drive_minutes=minutes,
        overtime_minutes=0,
    )


def _rest_of(task: Task, day: InspectorDay, kept: Round | None, on: date, minute: int) -> InspectorDay | None:
    """The inspector's day from where and when it goes on; None when it is over."""
    if day.on != on:
        return day
    begins = max(day.work.start_minute, minute, kept.back_minute if kept else 0)
    if begins >= day.work.end_minute:
        return None
    opening = day.opening
    if opening is not None:
        opening = opening.meet(Window(begins, day.latest_minute))
    rest = replace(day, work=Window(begins, day.work.end_minute), opening=opening)
    if kept is None:
        return rest
    had_break = any(pause.kind is PauseKind.BREAK for pause in kept.pauses)
    return replace(
        rest,
        start=kept.stops[-1].apiary,
        soiled=_soil(task, day, kept),
        break_minutes=0 if had_break else day.break_minutes,
        break_after_minutes=max(0, day.break_after_minutes - (begins - kept.leave_minute)),
    )


def _soil(task: Task, day: InspectorDay, kept: Round) -> Status:
    """What is on the clothes after the stops kept: the worst since the last full wash."""
    soil, washed_at = (
        day.soiled,
        max((pause.end_minute for pause in kept.pauses if pause.kind is PauseKind.WASH), default=-1),
    )
    if washed_at >= 0:
        soil = Status.CLEAN
    for stop in kept.stops:
        known = task.by_apiary.get(stop.apiary)
        if stop.leave_minute > washed_at and known is not None:
            soil = max(soil, known.status)
    return soil


def _held(
    task: Task, rounds: Iterable[Round], held: Collection[str]
) -> tuple[dict[str, Pin], tuple[str, ...]]:
    """Pin the visits held to their place; what that place no longer allows is named."""
    pins: dict[str, Pin] = {}
    stuck = []
    for row in rounds:
        for name in row.apiaries:
            if name not in held or name not in task.by_apiary or name in pins:
                continue
            day = task.by_day.get((row.inspector, row.on))
            if day is None or why_not(task, task.by_apiary[name], day) is not None:
                stuck.append(name)
            else:
                pins[name] = Pin(inspector=row.inspector, on=row.on)
    return pins, tuple(dict.fromkeys(stuck))


def join(frozen: Frozen, rounds: Iterable[Round]) -> tuple[Round, ...]:
    """Return the beginnings kept and the new rounds as one; who drives no further goes home from the last stop."""
    new = {(row.inspector, row.on): row for row in rounds}
    found = []
    for row in frozen.kept:
        after = new.pop((row.inspector, row.on), None)
        found.append(_home(frozen.task, row) if after is None else _joined(row, after))
    return tuple(sorted([*found, *new.values()], key=lambda row: (row.on, row.inspector)))


def _joined(row: Round, after: Round) -> Round:
    return replace(
        after,
        leave_minute=row.leave_minute,
        stops=(*row.stops, *after.stops),
        pauses=(*row.pauses, *after.pauses),
        km=row.km + after.km,
        drive_minutes=row.drive_minutes + after.drive_minutes,
    )


def _home(task: Task, row: Round) -> Round:
    day = task.by_day.get((row.inspector, row.on))
    last = row.stops[-1].apiary
    minutes = task.travel.minutes_between(last, day.end) if day else None
    if day is None or minutes is None:
        return row
    back = row.back_minute + minutes
    return replace(
        row,
        back_minute=back,
        km=row.km + (task.travel.km_between(last, day.end) or 0.0),
        drive_minutes=row.drive_minutes + minutes,
        overtime_minutes=max(0, back - day.work.end_minute),
    )
