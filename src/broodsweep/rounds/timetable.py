"""Puts times to an order of visits: drives, waits, washes and the break, or says that it cannot be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from broodsweep.rounds.allowed import needs_wash, service_windows
from broodsweep.rounds.model import InspectorDay, Status, Task, Window
from broodsweep.rounds.plan import Pause, PauseKind, PlannedStop, Round


@dataclass(kw_only=True)
class _Drive:
    """A round being driven, minute by minute."""

    at: str
    minute: int
    soil: Status
    km: float = 0.0
    drive_minutes: int = 0
    stops: list[PlannedStop] = field(default_factory=list)
    pauses: list[Pause] = field(default_factory=list)


def timetable(
    task: Task,
    day: InspectorDay,
    order: Sequence[str],
    *,
    fixed: Mapping[str, int] | None = None,
) -> Round | None:
    """Return the round that makes these visits in this order, or None when no legal times exist.

    Every visit begins as early as it can; the inspector leaves home just in time for the first. When the round is
    longer than ``day.break_after_minutes`` the break goes where the inspector is back earliest.

    Parameters
    ----------
    task
        Visits, roads and rules.
    day
        The inspector's day.
    order
        Apiaries in order of visit.
    fixed
        Minute at which a visit must begin (two inspectors together).
    """
    begins = {
        name: pin.begin_minute
        for name in order
        if (pin := task.pins.get(name)) and pin.begin_minute is not None
    }
    begins |= dict(fixed or {})
    plain = _drive(task, day, order, begins, None)
    if plain is None or plain.back_minute - plain.leave_minute <= day.break_after_minutes:
        return plain
    if not day.break_minutes:
        return plain
    places = [(number, inside) for inside in (False, True) for number in range(len(order))]
    tried = [_drive(task, day, order, begins, place) for place in places]
    return min((row for row in tried if row), key=lambda row: row.back_minute, default=None)


def _drive(
    task: Task,
    day: InspectorDay,
    order: Sequence[str],
    begins: Mapping[str, int],
    pause: tuple[int, bool] | None,
) -> Round | None:
    """Drive the order; ``pause`` is the stop after which, or during which (True), the break is taken."""
    drive = _Drive(at=day.start, minute=day.work.start_minute, soil=day.soiled)
    for number, name in enumerate(order):
        if not _wash(task, day, drive, name) or not _go(task, drive, name):
            return None
        inside = pause == (number, True)
        if not _visit(task, day, drive, name, begins.get(name), inside=inside):
            return None
        if pause == (number, False) and not _rest(day, drive):
            return None
    if not _go(task, drive, day.end) or drive.minute > day.latest_minute:
        return None
    return _as_round(day, drive)


def _go(task: Task, drive: _Drive, name: str) -> bool:
    minutes, km = task.travel.minutes_between(drive.at, name), task.travel.km_between(drive.at, name)
    if minutes is None or km is None:
        return False
    drive.at, drive.minute = name, drive.minute + minutes
    drive.km += km
    drive.drive_minutes += minutes
    return True


def _wash(task: Task, day: InspectorDay, drive: _Drive, name: str) -> bool:
    status = task.by_apiary[name].status
    if not needs_wash(drive.soil, status):
        return True
    minutes = task.hygiene.decontamination_minutes
    if minutes is None:
        return False
    if task.hygiene.wash_at_home and drive.at != day.end and not _go(task, drive, day.end):
        return False
    drive.pauses.append(
        Pause(kind=PauseKind.WASH, start_minute=drive.minute, end_minute=drive.minute + minutes, at=drive.at)
    )
    drive.minute += minutes
    drive.soil = Status.CLEAN
    return True


def _visit(
    task: Task, day: InspectorDay, drive: _Drive, name: str, begin: int | None, *, inside: bool
) -> bool:
    """Visit in the first of the keeper's hours that holds it."""
    rooms = service_windows(task.by_apiary[name], day)
    return any(_visit_in(task, day, drive, name, begin, room, inside=inside) for room in rooms)


def _visit_in(
    task: Task,
    day: InspectorDay,
    drive: _Drive,
    name: str,
    begin: int | None,
    room: Window,
    *,
    inside: bool,
) -> bool:
    row = task.by_apiary[name]
    starts = max(drive.minute, room.start_minute) if begin is None else begin
    if starts < max(drive.minute, room.start_minute):
        return False
    leaves = starts + row.service_minutes
    rest_at = rest_end = starts
    if inside:
        rest_at = max(starts, day.break_between.start_minute)
        leaves += day.break_minutes
        if rest_at > starts + row.service_minutes:
            return False
        rest_end = rest_at + day.break_minutes
        if rest_end > day.break_between.end_minute:
            return False
    if leaves > room.end_minute:
        return False
    if inside:
        drive.pauses.append(Pause(kind=PauseKind.BREAK, start_minute=rest_at, end_minute=rest_end, at=name))
    drive.stops.append(
        PlannedStop(
            apiary=name,
            arrive_minute=drive.minute,
            begin_minute=starts,
            leave_minute=leaves,
            why=row.why,
            bring=row.bring,
        )
    )
    drive.minute = leaves
    drive.soil = max(drive.soil, row.status)
    return True


def _rest(day: InspectorDay, drive: _Drive) -> bool:
    starts = max(drive.minute, day.break_between.start_minute)
    ends = starts + day.break_minutes
    if ends > day.break_between.end_minute:
        return False
    drive.pauses.append(Pause(kind=PauseKind.BREAK, start_minute=starts, end_minute=ends, at=drive.at))
    drive.minute = ends
    return True


def _as_round(day: InspectorDay, drive: _Drive) -> Round:
    """Leave just in time for the first visit instead of waiting there."""
    stops, leave = drive.stops, day.work.start_minute
    washes_first = bool(drive.pauses) and drive.pauses[0].start_minute < (
        stops[0].arrive_minute if stops else 0
    )
    if stops and not washes_first:
        wait = stops[0].begin_minute - stops[0].arrive_minute
        leave += wait
        first = PlannedStop(**{**vars(stops[0]), "arrive_minute": stops[0].begin_minute})
        stops = [first, *stops[1:]]
    return Round(
        inspector=day.inspector,
        on=day.on,
        leave_minute=leave,
        back_minute=drive.minute,
        stops=tuple(stops),
        pauses=tuple(drive.pauses),
        km=drive.km,
        drive_minutes=drive.drive_minutes,
        overtime_minutes=max(0, drive.minute - day.work.end_minute),
    )
