"""Daylight against published almanac values.

Greenwich, 2026 (HM Nautical Almanac Office tables for London; from memory, as printed to the minute in diaries:
21 June sunrise 04:43, sunset 21:21 BST; 21 December 08:04, 15:53 GMT; 20 March 06:03 to 06:05, 18:13 to 18:15 GMT).
A minute each way for the year's shift of the leap cycle.
"""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

import pytest

from broodsweep.rounds.day import daylight

LONDON = (-0.1278, 51.5074)


@pytest.mark.parametrize(
    ("on", "rises", "sets"),
    [
        (date(2026, 6, 21), 4 * 60 + 43, 21 * 60 + 21),
        (date(2026, 12, 21), 8 * 60 + 4, 15 * 60 + 53),
        (date(2026, 3, 20), 6 * 60 + 4, 18 * 60 + 14),
    ],
)
def test_sunrise_and_sunset_at_london(on: date, rises: int, sets: int) -> None:
    found = daylight(on, *LONDON, ZoneInfo("Europe/London"))
    assert found is not None
    assert found.start_minute == pytest.approx(rises, abs=2)
    assert found.end_minute == pytest.approx(sets, abs=2)
