"""A plan as plain tables: what `rounds --json` gives, and the lines that a page or a sheet of paper shows."""

from __future__ import annotations

from dataclasses import fields
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from broodsweep.rounds.plan import Measures, Pause, Plan, PlannedStop, Round
from broodsweep.words import Message

HOUR_DIGITS, KM_DIGITS, MEASURE_DIGITS = 2, 2, 4


def instant(on: date, minute: int, zone: ZoneInfo) -> datetime:
    """Return the instant at which the local clock shows that minute of that day."""
    day = on + timedelta(days=minute // 1440)
    return datetime.combine(day, time(*divmod(minute % 1440, 60)), tzinfo=zone)


def plan_record(plan: Plan, zone: ZoneInfo) -> dict[str, Any]:
    """Return the plan as a plain table; its sentences are still to be put into words.

    Times are local with their offset from UTC (ISO 8601).
    """
    return {
        "rounds": [round_record(row, zone) for row in plan.rounds],
        "unplanned": [
            {"apiary": row.apiary, "why": list(row.why), "would_help": list(row.would_help)}
            for row in plan.unplanned
        ],
        "measures": measures_record(plan.measures) if plan.measures else {},
        "method": plan.method,
        "travel": plan.travel_method,
        "notes": list(plan.notes),
    }


def round_record(row: Round, zone: ZoneInfo) -> dict[str, Any]:
    """Return one round."""
    return {
        "inspector": row.inspector,
        "date": row.on,
        "leave_home": instant(row.on, row.leave_minute, zone),
        "back_home": instant(row.on, row.back_minute, zone),
        "stops": [_stop_record(row, stop, zone) for stop in row.stops],
        "pauses": [_pause_record(row, pause, zone) for pause in row.pauses],
        "km": round(row.km, KM_DIGITS),
        "hours": round(row.hours, HOUR_DIGITS),
        "drive_minutes": row.drive_minutes,
        "overtime_minutes": row.overtime_minutes,
    }


def _stop_record(row: Round, stop: PlannedStop, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "apiary": stop.apiary,
        "arrive": instant(row.on, stop.arrive_minute, zone),
        "begin": instant(row.on, stop.begin_minute, zone),
        "leave": instant(row.on, stop.leave_minute, zone),
        "why": list(stop.why),
        "bring": list(stop.bring),
        "together_with": stop.together_with,
    }


def _pause_record(row: Round, pause: Pause, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "kind": pause.kind,
        "start": instant(row.on, pause.start_minute, zone),
        "end": instant(row.on, pause.end_minute, zone),
        "at": pause.at,
    }


def measures_record(measures: Measures) -> dict[str, float | int | None]:
    """Return the measures, rounded for reading; None where not worked out."""
    found: dict[str, float | int | None] = {}
    for item in fields(measures):
        value = getattr(measures, item.name)
        found[item.name] = round(value, MEASURE_DIGITS) if isinstance(value, float) else value
    return found


def bring_list(row: Round) -> tuple[Message, ...]:
    """Return what to bring for a round, each thing once."""
    return tuple({(item.key, str(item.params)): item for stop in row.stops for item in stop.bring}.values())
