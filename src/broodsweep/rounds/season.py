"""The season over weeks: which visit falls in which week, by the worth of the rounds and the hours of the team.

Each duty goes into one week or none; a week holds so many minutes. The cost is that of the rounds: worth times the
days until the visit, a price on a last day by law that passes, what is left out counted as made some days after the
end. Solved as a linear programme over duties and weeks (HiGHS): its value is a bound, and all but a few duties, at
most one for each week, come out whole; those few are placed one by one where they still cost least.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import coo_array

from broodsweep.rounds.constants import EXTRA_UNVISITED_DAYS, MISSED_DEADLINE_PRICE
from broodsweep.words import Message, say

WHOLE = 1.0 - 1e-6
"""A share of a duty above this is the duty."""
DAYS_A_WEEK = 7


class DutyKind(StrEnum):
    """What a duty is for."""

    SWEEP = "sweep"
    """A sweep list or a case."""
    REINSPECTION = "reinspection"
    SURVEILLANCE = "surveillance"
    TRAINING = "training"
    """Takes the team's hours; fixed in its week."""


@dataclass(frozen=True, kw_only=True)
class Duty:
    """Something that takes hours of the season.

    Parameters
    ----------
    name
        Key, once in a season.
    kind
        What it is for.
    minutes
        Minutes of inspectors, drive included.
    worth
        What a day of delay costs, as in the rounds. [infected apiary-days per day]
    first_on
        First day on which it can be done; None: any.
    last_on
        Last day by law; a later week is possible but missed.
    apiary, point
        Where; None for what is nowhere. Longitude and latitude. [degree]
    """

    name: str
    kind: DutyKind
    minutes: int
    worth: float
    first_on: date | None = None
    last_on: date | None = None
    apiary: str | None = None
    point: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        if self.minutes <= 0 or not self.worth >= 0.0:
            raise ValueError(f"Expected minutes > 0 and worth >= 0, got {self}.")


@dataclass(frozen=True, kw_only=True)
class SeasonWeek:
    """A week from ``starts_on`` to its Sunday, with the minutes that the team has."""

    starts_on: date
    capacity_minutes: int

    @property
    def ends_on(self) -> date:
        """The Sunday."""
        return self.starts_on + timedelta(days=DAYS_A_WEEK - self.starts_on.isoweekday())


@dataclass(frozen=True, kw_only=True)
class WeekPlan:
    """What falls in a week, the most worth first; ``by_kind`` holds minutes."""

    starts_on: date
    capacity_minutes: int
    used_minutes: int
    duties: tuple[str, ...]
    by_kind: Mapping[DutyKind, int]


@dataclass(frozen=True, kw_only=True)
class SeasonPlan:
    """Weeks, what finds none and why, and last days that pass.

    ``cost`` is what it costs, ``bound`` what no plan of these weeks can cost less than. [infected apiary-days]
    """

    weeks: tuple[WeekPlan, ...]
    left_out: tuple[tuple[str, Message], ...]
    missed: tuple[str, ...]
    cost: float
    bound: float


def plan_season(duties: Sequence[Duty], weeks: Sequence[SeasonWeek]) -> SeasonPlan:
    """Return which duty falls in which week.

    Parameters
    ----------
    duties
        What is asked for. Training is fixed in the week of its first day and takes its hours before all else.
    weeks
        The weeks in order.

    Raises
    ------
    ValueError
        If a name is there twice or the weeks are not in order.
    """
    if len({duty.name for duty in duties}) != len(duties):
        raise ValueError("Expected each duty once, got one twice.")
    starts = [week.starts_on for week in weeks]
    if not weeks or starts != sorted(set(starts)):
        raise ValueError(f"Expected weeks in order, got {starts}.")
    table = _Table(duties, weeks)
    chosen, bound = table.solved()
    return table.plan(chosen, bound)


class _Table:
    """Duties against weeks: what each costs in each, and the minutes left."""

    def __init__(self, duties: Sequence[Duty], weeks: Sequence[SeasonWeek]) -> None:
        self.weeks = weeks
        self.fixed = [duty for duty in duties if duty.kind is DutyKind.TRAINING]
        self.duties = [duty for duty in duties if duty.kind is not DutyKind.TRAINING]
        self.begin = weeks[0].starts_on
        self.end = weeks[-1].ends_on
        self.room = np.array([week.capacity_minutes for week in weeks], dtype=np.int64)
        for duty in self.fixed:
            number = self.week_of(duty.first_on)
            if number is not None:
                self.room[number] = max(0, self.room[number] - duty.minutes)

    def week_of(self, on: date | None) -> int | None:
        """Number of the week that holds a day."""
        if on is None:
            return None
        return next((n for n, week in enumerate(self.weeks) if week.starts_on <= on <= week.ends_on), None)

    def cost_in(self, duty: Duty, number: int) -> float | None:
        """What a duty costs in a week; None: it cannot be done there."""
        week = self.weeks[number]
        on = max(week.starts_on, duty.first_on or week.starts_on)
        if on > week.ends_on or duty.minutes > self.room[number]:
            return None
        late = MISSED_DEADLINE_PRICE.value if duty.last_on is not None and duty.last_on < on else 0.0
        return duty.worth * (on - self.begin).days + late

    def cost_out(self, duty: Duty) -> float:
        """What leaving a duty out costs: as if made some days after the end, its last day passed."""
        days = (self.end - self.begin).days + EXTRA_UNVISITED_DAYS.value
        is_due = duty.last_on is not None and duty.last_on <= self.end
        return duty.worth * days + (MISSED_DEADLINE_PRICE.value if is_due else 0.0)

    def solved(self) -> tuple[dict[str, int], float]:
        """Return the week of each duty that finds one, and the bound."""
        pairs = [
            (row, number, cost)
            for row, duty in enumerate(self.duties)
            for number in range(len(self.weeks))
            if (cost := self.cost_in(duty, number)) is not None
        ]
        out = [self.cost_out(duty) for duty in self.duties]
        if not pairs:
            return {}, sum(out)
        rows = np.array([row for row, _, _ in pairs])
        columns = np.arange(len(pairs))
        numbers = np.array([number for _, number, _ in pairs])
        minutes = np.array([self.duties[row].minutes for row in rows], dtype=float)
        gain = np.array([cost - out[row] for row, _, cost in pairs])
        limits = coo_array(
            (
                np.concatenate([np.ones(len(pairs)), minutes]),
                (np.concatenate([rows, len(self.duties) + numbers]), np.concatenate([columns, columns])),
            ),
            shape=(len(self.duties) + len(self.weeks), len(pairs)),
        ).tocsr()
        most = np.concatenate([np.ones(len(self.duties)), self.room.astype(float)])
        found = linprog(gain, A_ub=limits, b_ub=most, bounds=(0.0, 1.0), method="highs")
        chosen = {
            self.duties[row].name: number
            for (row, number, _), share in zip(pairs, found.x, strict=True)
            if share > WHOLE
        }
        return self._completed(chosen), sum(out) + float(found.fun)

    def _completed(self, chosen: dict[str, int]) -> dict[str, int]:
        """Place what the programme split or left, the most urgent first, where it still costs least."""
        left = self.room.copy()
        for duty in self.duties:
            if duty.name in chosen:
                left[chosen[duty.name]] -= duty.minutes
        for duty in sorted(self.duties, key=lambda row: (-row.worth / row.minutes, row.name)):
            if duty.name in chosen:
                continue
            open_weeks = [
                (cost, number)
                for number in range(len(self.weeks))
                if (cost := self.cost_in(duty, number)) is not None and duty.minutes <= left[number]
            ]
            if open_weeks and min(open_weeks)[0] < self.cost_out(duty):
                number = min(open_weeks)[1]
                chosen[duty.name] = number
                left[number] -= duty.minutes
        return chosen

    def plan(self, chosen: Mapping[str, int], bound: float) -> SeasonPlan:
        """Return the plan with the training in it."""
        by_name = {duty.name: duty for duty in (*self.fixed, *self.duties)}
        held: dict[int, list[Duty]] = defaultdict(list)
        for duty in self.fixed:
            number = self.week_of(duty.first_on)
            if number is not None:
                held[number].append(duty)
        for name, number in chosen.items():
            held[number].append(by_name[name])
        cost = sum(
            self.cost_out(duty) if duty.name not in chosen else (self.cost_in(duty, chosen[duty.name]) or 0.0)
            for duty in self.duties
        )
        left = [duty for duty in self.duties if duty.name not in chosen]
        return SeasonPlan(
            weeks=tuple(self._week(number, held[number]) for number in range(len(self.weeks))),
            left_out=tuple(
                (duty.name, self._why(duty)) for duty in sorted(left, key=lambda row: (-row.worth, row.name))
            ),
            missed=tuple(sorted(duty.name for duty in self.duties if self._is_missed(duty, chosen))),
            cost=cost,
            bound=min(bound, cost),
        )

    def _week(self, number: int, duties: Sequence[Duty]) -> WeekPlan:
        week = self.weeks[number]
        by_kind: dict[DutyKind, int] = defaultdict(int)
        for duty in duties:
            by_kind[duty.kind] += duty.minutes
        ordered = sorted(duties, key=lambda row: (-row.worth, row.name))
        return WeekPlan(
            starts_on=week.starts_on,
            capacity_minutes=week.capacity_minutes,
            used_minutes=sum(duty.minutes for duty in duties),
            duties=tuple(duty.name for duty in ordered),
            by_kind=dict(by_kind),
        )

    def _is_missed(self, duty: Duty, chosen: Mapping[str, int]) -> bool:
        if duty.last_on is None or duty.last_on > self.end:
            return False
        if duty.name not in chosen:
            return True
        return duty.last_on < max(self.weeks[chosen[duty.name]].starts_on, duty.first_on or date.min)

    def _why(self, duty: Duty) -> Message:
        """Why a duty finds no week."""
        first = duty.first_on or self.begin
        later = [number for number, week in enumerate(self.weeks) if week.ends_on >= first]
        if not any(self.room[number] > 0 for number in later):
            return say("season.why_no_hours", first_on=first)
        if not any(duty.minutes <= self.room[number] for number in later):
            return say("season.why_too_long", minutes=duty.minutes)
        return say("season.why_full")
