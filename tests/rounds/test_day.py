"""Daylight and opening hours."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from broodsweep.rounds.day import (
    ForecastHour,
    Thresholds,
    check_forecast,
    day_hours,
    daylight,
    read_forecast,
)
from broodsweep.rounds.errors import RoundsError
from broodsweep.rounds.model import WHOLE_DAY, Window, clock

LONDON = ZoneInfo("Europe/London")
DAY = date(2026, 7, 8)
HERE = (-1.5, 59.0)


def hours(*good: int, on: date = DAY) -> list[ForecastHour]:
    return [
        ForecastHour(
            at=datetime(on.year, on.month, on.day, hour),
            temperature_celsius=18.0 if hour in good else 12.0,
            wind_m_per_s=3.0,
            rain_mm=0.0,
        )
        for hour in range(24)
    ]


def test_without_a_forecast_the_usual_hours_of_the_month_hold() -> None:
    found = day_hours(DAY, HERE, LONDON)
    assert found.opening == Window(600, 1020)
    assert found.why.key == "rounds.hours_month"


def test_in_winter_hives_stay_shut_without_a_forecast() -> None:
    found = day_hours(date(2026, 12, 8), HERE, LONDON)
    assert found.opening is None
    assert found.why.key == "rounds.hours_out_of_season"


def test_a_forecast_gives_the_longest_run_of_good_hours() -> None:
    found = day_hours(DAY, HERE, LONDON, forecast=hours(10, 12, 13, 14, 16))
    assert found.opening == Window(720, 900)


def test_good_weather_before_ten_does_not_open_hives_earlier() -> None:
    found = day_hours(DAY, HERE, LONDON, forecast=hours(*range(6, 12)))
    assert found.opening == Window(600, 720)


def test_cold_wind_and_rain_each_keep_hives_shut() -> None:
    kind = Thresholds()
    at = datetime(2026, 7, 8, 12)
    good = ForecastHour(at=at, temperature_celsius=14.0, wind_m_per_s=8.0, rain_mm=0.0)
    assert kind.allow(good)
    for change in ({"temperature_celsius": 13.9}, {"wind_m_per_s": 8.1}, {"rain_mm": 0.1}):
        assert not kind.allow(ForecastHour(**{**vars(good), **change}))
    assert not kind.allow(ForecastHour(**{**vars(good), "rain_mm": float("nan")}))


def test_a_day_of_bad_weather_has_no_hours() -> None:
    found = day_hours(DAY, HERE, LONDON, forecast=hours())
    assert found.opening is None
    assert found.why.key == "rounds.hours_bad_weather"


def test_a_day_the_forecast_does_not_cover_falls_back_on_the_month() -> None:
    assert day_hours(DAY + timedelta(days=1), HERE, LONDON, forecast=hours(12)).opening == Window(600, 1020)


def test_polar_night_has_no_daylight_and_no_opening_and_polar_day_is_all_light() -> None:
    oslo = ZoneInfo("Europe/Oslo")
    assert daylight(date(2026, 12, 21), 18.96, 69.65, oslo) is None
    assert daylight(date(2026, 6, 21), 18.96, 69.65, oslo) == WHOLE_DAY
    found = day_hours(date(2026, 12, 21), (18.96, 69.65), oslo, forecast=hours(12, on=date(2026, 12, 21)))
    assert (found.daylight, found.opening, found.why.key) == (None, None, "rounds.hours_dark")


@given(
    st.dates(date(2000, 1, 1), date(2100, 12, 31)),
    st.floats(-180, 180),
    st.floats(-89.9, 89.9),
    st.sampled_from(["Europe/London", "Pacific/Auckland", "America/Los_Angeles", "UTC"]),
)
def test_daylight_never_fails_anywhere(on: date, longitude: float, latitude: float, zone: str) -> None:
    found = day_hours(on, (longitude, latitude), ZoneInfo(zone))
    assert found.opening is None or found.opening.meet(found.daylight) == found.opening


def test_a_forecast_for_another_week_is_refused_with_both_spans() -> None:
    with pytest.raises(RoundsError, match=r"8 Jul 2026 to 8 Jul 2026.*15 Jul 2026 to 19 Jul 2026"):
        check_forecast(hours(12), date(2026, 7, 15), 5)


def test_an_empty_forecast_is_refused() -> None:
    with pytest.raises(RoundsError, match="no rows"):
        check_forecast([], DAY, 5)


def test_rows_are_read_and_instants_turned_to_the_local_clock() -> None:
    row = {"time": "2026-07-08T12:00:00Z", "temperature": "16,5", "wind": 2, "rain": "0"}
    (found,) = read_forecast([row], LONDON)
    assert found.at == datetime(2026, 7, 8, 13)
    assert found.temperature_celsius == 16.5


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"time": "x", "temperature": 1, "wind": 1, "rain": 1}, 'time is "x"'),
        ({"time": "2026-07-08", "temperature": "warm", "wind": 1, "rain": 1}, 'temperature is "warm"'),
        ({"time": "2026-07-08", "temperature": 1, "wind": 1}, "lacks rain"),
    ],
)
def test_a_bad_row_is_named(row: dict[str, object], said: str) -> None:
    with pytest.raises(RoundsError, match=said):
        read_forecast([row], LONDON)


def test_hours_that_close_before_they_open_are_refused() -> None:
    with pytest.raises(RoundsError, match=r"close \(09:00\) before they open \(10:00\)"):
        Window(600, 540)


def test_the_clock_is_written_with_two_figures() -> None:
    assert clock(545) == "09:05"
