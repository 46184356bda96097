"""Counting by the calendar, against the calendar rules of the standard library and of the Gregorian year."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from broodsweep.rulebook import Duration, Unit, add_months, after

DAYS = st.dates(date(1990, 1, 1), date(2090, 1, 1))


@pytest.mark.parametrize(
    ("day", "months", "found"),
    [
        (date(2026, 6, 1), 2, date(2026, 8, 1)),
        (date(2026, 6, 1), 9, date(2027, 3, 1)),
        (date(2025, 12, 31), 2, date(2026, 2, 28)),
        (date(2027, 12, 31), 2, date(2028, 2, 29)),
        (date(2026, 8, 31), 1, date(2026, 9, 30)),
        (date(2026, 11, 30), 1, date(2026, 12, 30)),
        (date(2026, 5, 5), 0, date(2026, 5, 5)),
    ],
)
def test_months_go_by_the_calendar_and_stop_at_its_end(day: date, months: int, found: date) -> None:
    assert add_months(day, months) == found


@given(DAYS, st.integers(0, 400))
def test_a_month_later_lies_in_the_month_so_many_further(day: date, months: int) -> None:
    later = add_months(day, months)
    assert (later.year * 12 + later.month) - (day.year * 12 + day.month) == months
    assert later.day == day.day or (later.day < day.day and (later + timedelta(days=1)).day == 1)


@given(DAYS, DAYS, st.integers(0, 60), st.sampled_from([Unit.DAYS, Unit.WEEKS, Unit.MONTHS]))
def test_a_later_start_never_ends_earlier(one: date, other: date, count: int, unit: Unit) -> None:
    first, second = sorted((one, other))
    span = Duration(count=count, unit=unit)
    assert after(first, span) <= after(second, span)


def test_hours_are_not_counted_from_a_day() -> None:
    with pytest.raises(ValueError, match="Expected days, weeks or months"):
        after(date(2026, 6, 1), Duration(count=5, unit=Unit.HOURS))
