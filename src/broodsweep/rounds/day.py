"""What a day allows: daylight by the sun, and the hours in which hives may be opened by the weather or the month."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from astral import Observer
from astral.sun import elevation, sunrise, sunset

from broodsweep.rounds.constants import (
    MONTH_HOURS,
    OPEN_FROM,
    OPEN_RAIN,
    OPEN_TEMPERATURE,
    OPEN_UNTIL,
    OPEN_WIND,
)
from broodsweep.rounds.errors import RoundsError
from broodsweep.rounds.model import DAY_MINUTES, WHOLE_DAY, Window
from broodsweep.words import Message, say

NOON = 12
HOUR_MINUTES = 60
_BETWEEN = Window(int(OPEN_FROM.value) * HOUR_MINUTES, int(OPEN_UNTIL.value) * HOUR_MINUTES)


@dataclass(frozen=True, kw_only=True)
class ForecastHour:
    """Weather of the hour that begins at ``at`` (local clock time, no zone). [degree Celsius, m/s, mm]"""

    at: datetime
    temperature_celsius: float
    wind_m_per_s: float
    rain_mm: float


@dataclass(frozen=True, kw_only=True)
class Thresholds:
    """Weather in which hives may be opened, and between which hours of the day at all."""

    least_celsius: float = OPEN_TEMPERATURE.value
    most_wind_m_per_s: float = OPEN_WIND.value
    most_rain_mm: float = OPEN_RAIN.value
    between: Window = _BETWEEN

    def allow(self, hour: ForecastHour) -> bool:
        """Say whether hives may be opened in that hour's weather."""
        return (
            hour.temperature_celsius >= self.least_celsius
            and hour.wind_m_per_s <= self.most_wind_m_per_s
            and hour.rain_mm <= self.most_rain_mm
        )


@dataclass(frozen=True, kw_only=True)
class DayHours:
    """What a day allows and why."""

    on: date
    daylight: Window | None
    opening: Window | None
    why: Message


def daylight(on: date, longitude: float, latitude: float, zone: ZoneInfo) -> Window | None:
    """Return sunrise to sunset on the local clock, in whole minutes inside both; None for polar night.

    Parameters
    ----------
    on
        The day.
    longitude, latitude
        Where. [degree]
    zone
        Clock that people go by there.
    """
    observer = Observer(latitude=latitude, longitude=longitude)
    try:
        rises = sunrise(observer, on, tzinfo=zone)
        sets = sunset(observer, on, tzinfo=zone)
    except ValueError:  # the sun does not cross the horizon that day
        noon = datetime(on.year, on.month, on.day, NOON, tzinfo=zone)
        return WHOLE_DAY if elevation(observer, noon) > 0.0 else None
    start = _minute(rises, on, zone, up=True)
    end = _minute(sets, on, zone, up=False)
    return Window(start, end) if start < end else None


def _minute(instant: datetime, on: date, zone: ZoneInfo, *, up: bool) -> int:
    """Minute of the local day, inwards; what falls on a neighbouring day is cut at midnight."""
    local = instant.astimezone(zone)
    if local.date() != on:
        return 0 if local.date() < on else DAY_MINUTES
    minute = local.hour * HOUR_MINUTES + local.minute
    return min(DAY_MINUTES, minute + 1) if up else minute


def day_hours(
    on: date,
    point: tuple[float, float],
    zone: ZoneInfo,
    *,
    forecast: Sequence[ForecastHour] = (),
    thresholds: Thresholds | None = None,
) -> DayHours:
    """Return daylight and the hours in which hives may be opened on a day.

    With a forecast: the longest run of hours whose weather allows it, within the hours of the thresholds;
    without one: the usual hours of the month. Both cut to the daylight.

    Parameters
    ----------
    on
        The day.
    point
        Longitude and latitude of the district. [degree]
    zone
        Clock that people go by there.
    forecast
        Hours of the forecast, of any days; those of this day count.
    thresholds
        Weather in which hives may be opened; None: the defaults.
    """
    thresholds = thresholds or Thresholds()
    light = daylight(on, *point, zone)
    if light is None:
        return DayHours(on=on, daylight=None, opening=None, why=say("rounds.hours_dark", day_on=on))
    today = [hour for hour in forecast if hour.at.date() == on]
    if today:
        run = _longest_run([hour for hour in today if thresholds.allow(hour)])
        opening = thresholds.between.meet(run)
        why = say("rounds.hours_forecast" if opening else "rounds.hours_bad_weather", day_on=on)
    else:
        opening = _month_hours(on.month)
        why = say("rounds.hours_month" if opening else "rounds.hours_out_of_season", day_on=on)
    return DayHours(on=on, daylight=light, opening=light.meet(opening), why=why)


def _month_hours(month: int) -> Window | None:
    hours = MONTH_HOURS.get(month)
    return Window(*(int(end.value) * HOUR_MINUTES for end in hours)) if hours else None


def _longest_run(hours: Sequence[ForecastHour]) -> Window | None:
    """Return the longest stretch of hours that follow one another; the earlier of equals."""
    best: Window | None = None
    start = end = -1
    for hour in sorted(hours, key=lambda row: row.at):
        minute = hour.at.hour * HOUR_MINUTES + hour.at.minute
        if minute > end:
            start = minute
        end = max(end, min(DAY_MINUTES, minute + HOUR_MINUTES))
        if best is None or end - start > best.length_minutes:
            best = Window(start, end)
    return best


def check_forecast(forecast: Sequence[ForecastHour], first_on: date, days: int) -> None:
    """Refuse a forecast that says nothing of the days that are planned.

    Raises
    ------
    RoundsError
        If no hour of the forecast falls into the days, with the days that it covers.
    """
    if not forecast:
        raise RoundsError("rounds.forecast_empty")
    last_on = first_on + timedelta(days=days - 1)
    given = sorted({hour.at.date() for hour in forecast})
    if not any(first_on <= day <= last_on for day in given):
        raise RoundsError(
            "rounds.forecast_other_days",
            from_on=given[0],
            until_on=given[-1],
            first_on=first_on,
            last_on=last_on,
        )


COLUMNS = {
    "time": "at",
    "temperature": "temperature_celsius",
    "wind": "wind_m_per_s",
    "rain": "rain_mm",
}
"""Headers of a forecast table: local time (ISO 8601), degrees Celsius, metres a second, millimetres in the hour."""


def read_forecast(rows: Sequence[Mapping[str, object]], zone: ZoneInfo) -> tuple[ForecastHour, ...]:
    """Return the hours of a forecast table; times with an offset are turned to the local clock.

    Raises
    ------
    RoundsError
        If a column is missing or a value cannot be read, with the row and the value.
    """
    hours = []
    for number, row in enumerate(rows, start=1):
        missing = sorted(set(COLUMNS) - set(row))
        if missing:
            raise RoundsError("rounds.forecast_columns", row=number, missing=missing, wanted=list(COLUMNS))
        values: dict[str, float] = {}
        for column in ("temperature", "wind", "rain"):
            try:
                value = float(str(row[column]).replace(",", "."))
                if not math.isfinite(value):
                    raise ValueError(f"Expected a number, got {value}.")
                values[COLUMNS[column]] = value
            except ValueError:
                raise RoundsError(
                    "rounds.forecast_value", row=number, column=column, value=str(row[column])
                ) from None
        try:
            at = datetime.fromisoformat(str(row["time"]).strip())
        except ValueError:
            raise RoundsError(
                "rounds.forecast_value", row=number, column="time", value=str(row["time"])
            ) from None
        local = at.astimezone(zone) if at.tzinfo else at
        hours.append(ForecastHour(at=local.replace(tzinfo=None), **values))
    return tuple(hours)
