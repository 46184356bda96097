"""What is asked of the rounds: plan these days, change that, look at this forecast."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated

from pydantic import Field

from broodsweep.desk.round_facts import ChangeKind
from broodsweep.web.shapes.base import Asked, Name, Signed

LONGEST_SECONDS = 600
MOST_HOURS = 60 * 24
MOST_TEXT = 400_000
CLOCK = r"^([01]\d|2[0-3]):[0-5]\d$|^24:00$"


class WeatherHour(Asked):
    """Weather of the hour that begins then (local clock)."""

    time: datetime
    temperature: float = Field(ge=-60, le=60, allow_inf_nan=False, description="[degree Celsius]")
    wind: float = Field(ge=0, le=120, allow_inf_nan=False, description="[m/s]")
    rain: float = Field(ge=0, le=500, allow_inf_nan=False, description="[mm in the hour]")


class RoundRules(Asked):
    """The rules of the rounds that the service sets for itself."""

    wash_minutes: int | None = Field(
        ge=0, le=480, description="A full change and wash; null: never to a cleaner apiary on the same day."
    )
    wash_at_home: bool
    least_celsius: float = Field(ge=-10, le=40, allow_inf_nan=False)
    most_wind_m_per_s: float = Field(ge=0, le=40, allow_inf_nan=False)
    most_rain_mm: float = Field(ge=0, le=20, allow_inf_nan=False)
    opens: str = Field(pattern=CLOCK)
    closes: str = Field(pattern=CLOCK)


class _Looked(Signed):
    """How long to look."""

    seconds: float = Field(default=20.0, ge=1.0, le=LONGEST_SECONDS)
    iterations: int | None = Field(
        default=None, ge=1, le=1_000_000, description="Steps instead of seconds: the same plan every time."
    )


class PlanAsked(_Looked):
    """Which days to plan, for one outbreak or the whole district."""

    first_on: date
    days: int = Field(ge=1, le=60)
    outbreak: Name | None = None
    overtime_minutes: int = Field(default=0, ge=0, le=480)
    with_bound: bool = True


class RoundWindowAsked(Asked):
    """From when until when."""

    opens: str = Field(pattern=CLOCK)
    closes: str = Field(pattern=CLOCK)


class WeatherAsked(Asked):
    """A forecast to look at: the text of a file, or its hours; nothing is kept."""

    first_on: date
    days: int = Field(ge=1, le=60)
    text: str | None = Field(default=None, max_length=MOST_TEXT)
    is_json: bool = False
    hours: list[WeatherHour] = Field(default=[], max_length=MOST_HOURS)


class RoundChangeAsked(_Looked):
    """What turned out differently, or where a visit is wanted; planned anew where it needs to be."""

    seconds: float = Field(default=4.0, ge=1.0, le=LONGEST_SECONDS)
    number: int = Field(description="The plan that the user saw; 0 before the first.")
    kind: ChangeKind
    apiary: Name | None = None
    name: Name | None = Field(default=None, description="Apiary or keeper that is away.")
    inspector: Name | None = None
    days: list[date] = Field(default=[], max_length=60)
    weekdays: list[Annotated[int, Field(ge=1, le=7)]] = Field(
        default=[1, 2, 3, 4, 5, 6, 7], max_length=7, description="ISO weekdays of a keeper's hours."
    )
    windows: list[RoundWindowAsked] = Field(default=[], max_length=6)
    weather: list[WeatherHour] = Field(default=[], max_length=MOST_HOURS)
    rules: RoundRules | None = None


class GoBackAsked(Signed):
    """The word to take the plan before."""

    number: int = Field(description="The plan that the user saw.")
