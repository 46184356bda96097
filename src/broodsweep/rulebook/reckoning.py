"""Counts days and months by the calendar, as the rules do."""

from __future__ import annotations

from calendar import monthrange
from datetime import date, timedelta

from broodsweep.rulebook.rule import Duration, Unit

_MONTHS_A_YEAR = 12
_DAYS_A_WEEK = 7


def after(day: date, duration: Duration) -> date:
    """Return the day that lies that long after another.

    The first day is not counted: ten days after 1 June is 11 June. Months go by the calendar to the day of
    the same number; where the month has none, to its last day (two months after 31 December is 28 February).

    Parameters
    ----------
    day
        Day from which to count.
    duration
        Stretch of time in days, weeks or months.

    Raises
    ------
    ValueError
        If the duration is in hours: those are counted from an instant, not from a day.
    """
    if duration.unit is Unit.DAYS:
        return day + timedelta(days=duration.count)
    if duration.unit is Unit.WEEKS:
        return day + timedelta(days=_DAYS_A_WEEK * duration.count)
    if duration.unit is Unit.MONTHS:
        return add_months(day, duration.count)
    raise ValueError(f"Expected days, weeks or months to count from a day, got {duration.unit}.")


def add_months(day: date, months: int) -> date:
    """Return the day of the same number so many months later, clamped to the end of the month."""
    index = day.year * _MONTHS_A_YEAR + day.month - 1 + months
    year, month = divmod(index, _MONTHS_A_YEAR)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def day_of_year(written: str, year: int) -> date:
    """Return the day written ``MM-DD`` in that year.

    Raises
    ------
    ValueError
        If the text is not a day of the year.
    """
    return date.fromisoformat(f"{year:04d}-{written}")
