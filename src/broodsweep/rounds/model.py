"""What a plan of rounds is asked from: visits, inspectors' days, roads, rules of hygiene and prices.

Minutes of the day are local clock minutes from midnight. Worth is what a day of delay costs: the expected
number of infected apiaries that stay unseen for that day, so the chance that this apiary is infected.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import IntEnum
from functools import cached_property

from broodsweep.rounds.constants import (
    BREAK_AFTER,
    BREAK_LENGTH,
    BROKEN_APPOINTMENT_PRICE,
    DECONTAMINATION_TIME,
    KILOMETRE_PRICE,
    MISSED_DEADLINE_PRICE,
    MOVED_VISIT_PRICE,
    OVERTIME_PRICE,
    PINNED_VISIT_PRICE,
)
from broodsweep.rounds.errors import RoundsError
from broodsweep.rounds.travel import TravelTable
from broodsweep.words import Message

MOST_CANDIDATES = 1000
"""Visits one plan may choose from (project choice: above it, plan by district)."""
DAY_MINUTES = 1440


class Status(IntEnum):
    """How an apiary counts for hygiene, in the order in which a day may go through them."""

    CLEAN = 0
    """Clean, or nothing known."""
    SUSPECT = 1
    INFECTED = 2


@dataclass(frozen=True, order=True)
class Window:
    """A stretch of one day, in local clock minutes; both ends included.

    Raises
    ------
    RoundsError
        If it closes before it opens or leaves the day.
    """

    start_minute: int
    end_minute: int

    def __post_init__(self) -> None:
        if not self.start_minute < self.end_minute:
            raise RoundsError(
                "rounds.window_backwards", opens=clock(self.start_minute), closes=clock(self.end_minute)
            )
        if self.start_minute < 0 or self.end_minute > DAY_MINUTES:
            raise ValueError(f"Expected minutes from 0 to {DAY_MINUTES}, got {self}.")

    @property
    def length_minutes(self) -> int:
        """Minutes from start to end."""
        return self.end_minute - self.start_minute

    def meet(self, other: Window | None) -> Window | None:
        """Return what both have in common; None when nothing."""
        if other is None:
            return None
        start, end = (
            max(self.start_minute, other.start_minute),
            min(self.end_minute, other.end_minute),
        )
        return Window(start, end) if start < end else None


WHOLE_DAY = Window(0, DAY_MINUTES)


def clock(minute: int) -> str:
    """Write a minute of the day as a clock shows it."""
    return f"{minute // 60:02d}:{minute % 60:02d}"


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """A visit that could be made.

    Parameters
    ----------
    apiary
        Key of the apiary, also its name in the travel table.
    worth
        Expected number of infected apiaries that a day's delay leaves unseen, 0 to 1.
    service_minutes
        Time on the site, setting up and washing included.
    why
        Why this visit is worth making.
    bring
        What to bring.
    status
        How it counts for hygiene.
    window
        Clock hours in which the whole visit must lie (keeper's hours, hour of an appointment); None: any.
    day_windows
        Other hours on certain days: the whole visit lies in one of them; an empty row: not that day.
    days
        Days on which it can be made; None: any.
    deadline_on
        Last day by law; a later visit is possible but missed.
    appointment_on
        Day agreed with the keeper: made on that day or not at all.
    inspectors
        Who alone may make it; None: anyone.
    skills
        What the inspector must have, for example ``sign_notice``.
    needs_two
        Two inspectors at the same time (burning, killing, lone-working rules).
    """

    apiary: str
    worth: float
    service_minutes: int
    why: tuple[Message, ...] = ()
    bring: tuple[Message, ...] = ()
    status: Status = Status.CLEAN
    window: Window | None = None
    day_windows: Mapping[date, tuple[Window, ...]] = field(default_factory=dict)
    days: frozenset[date] | None = None
    deadline_on: date | None = None
    appointment_on: date | None = None
    inspectors: frozenset[str] | None = None
    skills: frozenset[str] = frozenset()
    needs_two: bool = False

    def __post_init__(self) -> None:
        if not (math.isfinite(self.worth) and 0.0 <= self.worth <= 1.0):
            raise ValueError(f"Expected worth from 0 to 1, got {self.worth} for {self.apiary}.")
        if not 0 < self.service_minutes <= DAY_MINUTES:
            raise ValueError(f"Expected 0 < service_minutes <= 1440, got {self.service_minutes}.")

    def windows_on(self, on: date) -> tuple[Window, ...] | None:
        """Return the clock hours in one of which the whole visit must lie on a day; None: any."""
        if on in self.day_windows:
            return self.day_windows[on]
        return None if self.window is None else (self.window,)


@dataclass(frozen=True, kw_only=True)
class InspectorDay:
    """One inspector on one day: where from, when, and when hives may be opened.

    Parameters
    ----------
    start, end
        Names in the travel table: where the day begins (home, or where the inspector is now) and ends.
    work
        Working hours; the inspector leaves after its start and is back before its end plus overtime.
    opening
        Hours in which hives may be opened: weather and daylight; None: none that day.
    daylight
        Sunrise to sunset; opening lies in it.
    overtime_minutes
        How much later than ``work`` the day may end.
    break_minutes, break_between, break_after_minutes
        A round longer than ``break_after_minutes`` has a break of ``break_minutes`` within ``break_between``.
    soiled
        What the inspector has on the clothes when the day (or what is left of it) begins.
    most_commute_minutes
        Longest drive from the start or to the end; None: no limit.
    """

    inspector: str
    on: date
    start: str
    end: str
    work: Window
    opening: Window | None
    daylight: Window | None = WHOLE_DAY
    overtime_minutes: int = 0
    break_minutes: int = int(BREAK_LENGTH.value)
    break_between: Window = Window(11 * 60, 15 * 60)
    break_after_minutes: int = int(BREAK_AFTER.value)
    skills: frozenset[str] = frozenset()
    soiled: Status = Status.CLEAN
    most_commute_minutes: int | None = None

    def __post_init__(self) -> None:
        if self.overtime_minutes < 0 or self.break_minutes < 0:
            raise ValueError(f"Expected minutes >= 0, got {self.overtime_minutes}, {self.break_minutes}.")
        if self.opening is not None and self.opening.meet(self.daylight) != self.opening:
            raise ValueError(f"Expected opening within daylight {self.daylight}, got {self.opening}.")

    @property
    def latest_minute(self) -> int:
        """Minute by which the inspector is back, overtime included."""
        return min(DAY_MINUTES, self.work.end_minute + self.overtime_minutes)

    @property
    def key(self) -> tuple[str, date]:
        """Inspector and day."""
        return (self.inspector, self.on)


@dataclass(frozen=True, kw_only=True)
class Hygiene:
    """Rules between apiaries.

    ``decontamination_minutes`` is how long a full change and wash takes that lets someone go from a diseased
    (or suspect) apiary to a cleaner one on the same day; None: never on the same day. It is made on the site
    that is left, or at the end point of the day when ``wash_at_home``.
    """

    decontamination_minutes: int | None = int(DECONTAMINATION_TIME.value)
    wash_at_home: bool = False


@dataclass(frozen=True, kw_only=True)
class Prices:
    """What things cost, in expected infected apiary-days.

    ``unvisited_days`` is the delay charged for a visit left out, counted from the first day of the plan.
    """

    unvisited_days: float
    kilometre: float = KILOMETRE_PRICE.value
    missed_deadline: float = MISSED_DEADLINE_PRICE.value
    broken_appointment: float = BROKEN_APPOINTMENT_PRICE.value
    pinned: float = PINNED_VISIT_PRICE.value
    moved: float = MOVED_VISIT_PRICE.value
    overtime_hour: float = OVERTIME_PRICE.value


@dataclass(frozen=True, kw_only=True)
class Pin:
    """Where the user wants a visit: by whom, on which day, at which minute; None leaves it open."""

    inspector: str | None = None
    on: date | None = None
    begin_minute: int | None = None


@dataclass(frozen=True, kw_only=True)
class Task:
    """Everything a plan is made from.

    ``announced`` holds who was told to come when; moving such a visit costs ``prices.moved``.

    Raises
    ------
    RoundsError
        If there is nobody to plan for, or too much to choose from.
    ValueError
        If a name is twice there or not in the travel table.
    """

    first_on: date
    candidates: tuple[Candidate, ...]
    days: tuple[InspectorDay, ...]
    travel: TravelTable
    prices: Prices
    hygiene: Hygiene = field(default_factory=Hygiene)
    pins: Mapping[str, Pin] = field(default_factory=dict)
    announced: Mapping[str, tuple[str, date]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not self.days:
            raise RoundsError("rounds.no_inspector_days")
        if len(self.candidates) > MOST_CANDIDATES:
            raise RoundsError("rounds.too_many", count=len(self.candidates), most=MOST_CANDIDATES)
        for what, names in (
            ("candidate", [row.apiary for row in self.candidates]),
            ("inspector and day", [row.key for row in self.days]),
        ):
            if len(set(names)) != len(names):
                raise ValueError(f"Expected each {what} once, got one twice.")
        asked = {row.apiary for row in self.candidates} | {p for d in self.days for p in (d.start, d.end)}
        missing = sorted(asked - set(self.travel.names))
        if missing:
            raise ValueError(f"Expected every place in the travel table, got none for {missing}.")
        if any(day.on < self.first_on for day in self.days):
            raise ValueError(f"Expected days from {self.first_on} on.")

    @cached_property
    def by_apiary(self) -> dict[str, Candidate]:
        """Candidates by their apiary."""
        return {row.apiary: row for row in self.candidates}

    @cached_property
    def by_day(self) -> dict[tuple[str, date], InspectorDay]:
        """Inspectors' days by inspector and day."""
        return {row.key: row for row in self.days}

    def delay_days(self, on: date) -> int:
        """Days from the first day of the plan, weekends included."""
        return (on - self.first_on).days
