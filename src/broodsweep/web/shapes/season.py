"""Answers about the season: weeks, what falls in them, what finds none."""

from __future__ import annotations

from datetime import date

from pydantic import Field

from broodsweep.web.shapes.base import Shape, Signed


class SeasonDutyShape(Shape):
    """A visit of the season, or a training day."""

    apiary: str | None
    keeper_name: str | None
    kind: str
    minutes: int
    first_on: date | None
    last_on: date | None
    why: list[str]
    why_not: str | None


class SeasonWeekShape(Shape):
    """A week: the hours the team has, and what is planned in them."""

    first_on: date
    last_on: date
    capacity_hours: float
    used_hours: float
    by_kind: dict[str, float] = Field(description="Hours planned of each kind.")
    duties: list[SeasonDutyShape]


class SeasonShape(Shape):
    """The season as planned. It is a draft: a person signs it."""

    first_on: date
    last_on: date
    every_months: int
    kinds: list[str]
    weeks: list[SeasonWeekShape]
    left_out: list[SeasonDutyShape]
    missed: list[str]
    needed_hours: float
    capacity_hours: float
    cost: float
    bound: float = Field(description="No plan of these weeks can cost less.")
    training: list[date]
    method: str
    travel: str


class TrainingAsked(Signed):
    """The training days to keep."""

    days: list[date] = Field(max_length=200)
