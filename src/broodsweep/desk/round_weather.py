"""What a forecast allows, looked at before it is noted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from broodsweep.desk.context import Desk
from broodsweep.desk.round_ahead import days_from
from broodsweep.desk.round_hours import Changes
from broodsweep.desk.rounds import Wishes, hours_of, time_zone
from broodsweep.rounds.day import DayHours, ForecastHour, Thresholds, check_forecast


@dataclass(frozen=True, kw_only=True)
class WeatherDay:
    """A day's weather, hour by hour, and what it allows."""

    hours: tuple[ForecastHour, ...]
    allows: DayHours


def look_at_weather(
    desk: Desk,
    forecast: Sequence[ForecastHour],
    days: Sequence[date],
    thresholds: Thresholds,
    rained_off: frozenset[date] = frozenset(),
) -> tuple[WeatherDay, ...]:
    """Return each day with its weather and the hours in which hives may be opened.

    Raises
    ------
    RoundsError
        If no inspector is on record, so that nobody knows where the sun is looked at.
    """
    if not days:
        return ()
    kept = desk.snapshot()
    wishes = Wishes(thresholds=thresholds, changes=Changes(rained_off=rained_off))
    found = []
    for on in days:
        mine = tuple(hour for hour in forecast if hour.at.date() == on)
        (allows,) = hours_of(kept, on, 1, time_zone(kept), mine, wishes)
        found.append(WeatherDay(hours=mine, allows=allows))
    return tuple(found)


def look_at_forecast(
    desk: Desk, forecast: Sequence[ForecastHour], first_on: date, days: int, thresholds: Thresholds
) -> tuple[WeatherDay, ...]:
    """Return what a forecast allows on the days of a plan.

    Raises
    ------
    RoundsError
        If the forecast has no hours, or none on these days.
    """
    check_forecast(forecast, first_on, days)
    return look_at_weather(desk, forecast, days_from(first_on, days), thresholds)
