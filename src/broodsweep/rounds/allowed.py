"""Whether a visit may stand on an inspector's day at all, and if not, why."""

from __future__ import annotations

from broodsweep.rounds.cost import is_pinned_elsewhere
from broodsweep.rounds.model import Candidate, InspectorDay, Status, Task, Window
from broodsweep.words import Message, say


def why_not(task: Task, row: Candidate, day: InspectorDay) -> Message | None:
    """Return why a visit cannot stand on that day, even alone; None when it can."""
    who = say("rounds.who_when", inspector=day.inspector, day_on=day.on)
    if is_pinned_elsewhere(task.pins, row.apiary, day):
        return say("rounds.not_pinned", who=who)
    if row.inspectors is not None and day.inspector not in row.inspectors:
        return say("rounds.not_inspector", inspectors=sorted(row.inspectors))
    if not row.skills <= day.skills:
        return say("rounds.not_skilled", inspector=day.inspector, skills=sorted(row.skills - day.skills))
    if row.appointment_on not in (None, day.on):
        return say("rounds.not_appointment", appointment_on=row.appointment_on)
    if row.days is not None and day.on not in row.days:
        return say("rounds.not_that_day", day_on=day.on)
    if day.opening is None:
        return say("rounds.not_opening", day_on=day.on)
    return _no_way(task, row, day) or _no_time(task, row, day)


def _no_way(task: Task, row: Candidate, day: InspectorDay) -> Message | None:
    travel = task.travel
    there, back = (
        travel.minutes_between(day.start, row.apiary),
        travel.minutes_between(row.apiary, day.end),
    )
    if there is None or back is None:
        return travel.off_road.get(row.apiary) or say("rounds.not_reachable", inspector=day.inspector)
    limit = day.most_commute_minutes
    if limit is not None and max(there, back) > limit:
        return say("rounds.too_far", inspector=day.inspector, minutes=max(there, back))
    if day.soiled > row.status and task.hygiene.decontamination_minutes is None:
        return say("rounds.not_clean", inspector=day.inspector, day_on=day.on)
    return None


def _no_time(task: Task, row: Candidate, day: InspectorDay) -> Message | None:
    """The visit alone: out, wait, visit, back."""
    there = task.travel.minutes_between(day.start, row.apiary) or 0
    back = task.travel.minutes_between(row.apiary, day.end) or 0
    wash = task.hygiene.decontamination_minutes or 0 if day.soiled > row.status else 0
    earliest, latest = day.work.start_minute + wash + there, day.latest_minute - back
    fits = any(
        max(earliest, room.start_minute) + row.service_minutes <= min(room.end_minute, latest)
        for room in service_windows(row, day)
    )
    if not fits:
        return say("rounds.too_long", minutes=row.service_minutes, inspector=day.inspector, day_on=day.on)
    return None


def service_windows(row: Candidate, day: InspectorDay) -> tuple[Window, ...]:
    """Return the hours of that day in one of which the whole visit must lie, earliest first; empty: none."""
    if day.opening is None:
        return ()
    hours = row.windows_on(day.on)
    if hours is None:
        return (day.opening,)
    return tuple(room for window in sorted(hours) if (room := day.opening.meet(window)) is not None)


def needs_wash(before: Status, after: Status) -> bool:
    """Say whether a full change and wash is needed between two apiaries: from worse to better it is."""
    return before > after
