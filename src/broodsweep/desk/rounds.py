"""Plan rounds: joins the register, the outbreaks, the sweep lists, the due dates and the planner."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from broodsweep.desk.context import Desk
from broodsweep.desk.round_delay import Evening, evenings
from broodsweep.desk.round_hours import Changes, with_changes
from broodsweep.desk.round_names import contact_lines, inspector_names, named_plan
from broodsweep.desk.rounds_visits import candidates
from broodsweep.desk.snapshot import Snapshot
from broodsweep.register import Inspector
from broodsweep.rounds.constants import EXTRA_UNVISITED_DAYS
from broodsweep.rounds.day import DayHours, ForecastHour, Thresholds, check_forecast, day_hours
from broodsweep.rounds.errors import RoundsError
from broodsweep.rounds.model import (
    MOST_CANDIDATES,
    Candidate,
    Hygiene,
    InspectorDay,
    Pin,
    Prices,
    Task,
    Window,
)
from broodsweep.rounds.plan import Plan, Round, Unplanned
from broodsweep.rounds.travel import TravelTable, travel_by_distance
from broodsweep.words import Message, say

if TYPE_CHECKING:
    from broodsweep.rounds.solve import Effort

TravelSource = Callable[[Mapping[str, tuple[float, float]]], TravelTable]
"""Gives the table of drive times between named points (longitude, latitude)."""
MOST_DAYS = 60
MOST_MATRIX_BYTES = 400_000_000
"""Memory that the matrices of a plan may take; what is chosen from is cut to it, the most urgent kept."""
BYTES_A_PAIR = 16
TIME_ZONE = "time_zone"
"""Setting that names the clock people go by, for example ``Europe/London``."""
_ZONES = {"british_grid": "Europe/London", "irish_grid": "Europe/Dublin"}
_DEGREES_PER_HOUR = 15.0


@dataclass(frozen=True, kw_only=True)
class Wishes:
    """How a plan is wanted: rules of hygiene, overtime, breaks, what is fixed and what was announced.

    ``outbreak`` asks for the visits of one outbreak alone; None: of every open one.
    """

    outbreak: str | None = None
    hygiene: Hygiene = field(default_factory=Hygiene)
    overtime_minutes: int = 0
    thresholds: Thresholds = field(default_factory=Thresholds)
    pins: Mapping[str, Pin] = field(default_factory=dict)
    announced: Mapping[str, tuple[str, date]] = field(default_factory=dict)
    changes: Changes = field(default_factory=Changes)


@dataclass(frozen=True, kw_only=True, eq=False)
class RoundsAnswer:
    """A plan with what it was made from."""

    first_on: date
    days: int
    plan: Plan
    task: Task
    hours: tuple[DayHours, ...]
    zone: ZoneInfo
    delay: tuple[Evening, ...]
    called: Mapping[str, str]
    """Names of the inspectors by their keys."""
    contacts: Mapping[str, tuple[str, ...]]
    """Who keeps the bees at each stop, telephone, address."""


def plan_rounds(
    desk: Desk,
    start: date,
    days: int,
    *,
    effort: Effort | None = None,
    travel: TravelSource = travel_by_distance,
    forecast: Sequence[ForecastHour] = (),
    wishes: Wishes | None = None,
    shown: Callable[[Plan], None] | None = None,
    before: Sequence[Round] = (),
    with_bound: bool = False,
) -> RoundsAnswer:
    """Return rounds for the days from ``start``, each plan checked by the independent checker.

    Parameters
    ----------
    desk
        The desk.
    start, days
        First day and number of days, weekends included.
    effort
        How long to search; None: the hand rule only.
    travel
        Where drive times come from; by default straight lines with a detour factor.
    forecast
        Weather by hour; without it the usual hours of the month hold.
    wishes
        Hygiene, overtime, what is fixed, announced or has changed.
    shown
        Called with every better plan.
    before
        Rounds of the plan before a change, to start from.
    with_bound
        Also work out below what cost no plan can go, within the same time.

    Raises
    ------
    RoundsError
        If nobody works on these days, nothing is to be visited, or the forecast is for other days.
    """
    wishes = wishes or Wishes()
    if not 1 <= days <= MOST_DAYS:
        raise RoundsError("rounds.bad_days", days=days, most=MOST_DAYS)
    if forecast:
        check_forecast(forecast, start, days)
    kept = desk.snapshot()
    zone = time_zone(kept)
    hours = hours_of(kept, start, days, zone, forecast, wishes)
    team = inspector_days(kept, hours, wishes)
    if not team:
        wrong = next(iter(_backwards(kept)), say("rounds.no_inspector_days"))
        raise RoundsError(wrong.key, **wrong.params)
    span = [day.on for day in hours]
    every = with_changes(kept, candidates(desk, start, days, wishes.outbreak), wishes.changes, span)
    if not every:
        raise RoundsError("rounds.nothing_to_visit")
    most = _most_candidates(len({day.on for day in team}))
    taken, rest = every[:most], every[most:]
    task = _task(kept, start, days, taken, team, travel, wishes)
    # The solver's libraries take seconds to import: they are loaded when a plan is asked for, not when the desk opens.
    from broodsweep.rounds.planner import hand_plan, make_plan

    by_hand: list[Plan] = []

    def heard(better: Plan) -> None:
        """The first plan shown is that of the hand rule."""
        if not by_hand:
            by_hand.append(better)
        if shown is not None:
            shown(better)

    orders = {(row.inspector, row.on): list(row.apiaries) for row in before if row.on >= start}
    if effort is None:
        plan = hand_plan(task)
    else:
        plan = make_plan(task, effort, shown=heard, start=orders or None, with_bound=with_bound)
    left = tuple(Unplanned(apiary=row.apiary, why=(say("rounds.not_considered", most=most),)) for row in rest)
    plan = replace(plan, unplanned=(*plan.unplanned, *left), notes=(*plan.notes, *_backwards(kept)))
    called = inspector_names(kept)
    return RoundsAnswer(
        first_on=start,
        days=days,
        plan=named_plan(plan, called),
        task=task,
        hours=hours,
        zone=zone,
        delay=evenings(task, span, plan.chosen, by_hand[0].chosen if by_hand else None),
        called=called,
        contacts={row.apiary: contact_lines(kept, row.apiary) for row in taken},
    )


def _most_candidates(working_days: int) -> int:
    return min(MOST_CANDIDATES, math.isqrt(MOST_MATRIX_BYTES // (BYTES_A_PAIR * max(1, working_days))))


def _task(
    kept: Snapshot,
    start: date,
    days: int,
    taken: Sequence[Candidate],
    team: Sequence[InspectorDay],
    travel: TravelSource,
    wishes: Wishes,
) -> Task:
    points = {row.apiary: kept.apiaries[row.apiary].place.centre for row in taken}
    homes = {home_name(row.inspector): row.home.centre for row in kept.ground.inspectors}
    asked = {name for day in team for name in (day.start, day.end)}
    points |= {name: point for name, point in homes.items() if name in asked}
    names = {row.apiary for row in taken}
    return Task(
        first_on=start,
        candidates=tuple(taken),
        days=tuple(team),
        travel=travel(points),
        prices=Prices(unvisited_days=days - 1 + EXTRA_UNVISITED_DAYS.value),
        hygiene=wishes.hygiene,
        pins={name: pin for name, pin in wishes.pins.items() if name in names},
        announced={name: told for name, told in wishes.announced.items() if name in names},
    )


def home_name(inspector: str) -> str:
    """Name of an inspector's home in the table of drive times."""
    return f"home of {inspector}"


def time_zone(kept: Snapshot) -> ZoneInfo:
    """Return the clock people go by: the setting, else by the grid of the homes, else by longitude in whole hours."""
    named = kept.settings.get(TIME_ZONE)
    homes = [row.home for row in kept.ground.inspectors]
    if named is None and homes:
        named = _ZONES.get(homes[0].notation)
    if named is None:
        middle = sum(home.longitude for home in homes) / len(homes) if homes else 0.0
        named = f"Etc/GMT{-round(middle / _DEGREES_PER_HOUR):+d}" if round(middle / 15.0) else "UTC"
    try:
        return ZoneInfo(str(named))
    except (ZoneInfoNotFoundError, ValueError):
        raise RoundsError("rounds.bad_time_zone", zone=str(named)) from None


def hours_of(
    kept: Snapshot,
    start: date,
    days: int,
    zone: ZoneInfo,
    forecast: Sequence[ForecastHour],
    wishes: Wishes,
) -> tuple[DayHours, ...]:
    """Return daylight and opening hours of each day, for the middle of the inspectors' homes."""
    homes = [row.home for row in kept.ground.inspectors]
    if not homes:
        raise RoundsError("rounds.no_inspector_days")
    point = (
        sum(home.longitude for home in homes) / len(homes),
        sum(home.latitude for home in homes) / len(homes),
    )
    found = []
    for number in range(days):
        on = start + timedelta(days=number)
        row = day_hours(on, point, zone, forecast=forecast, thresholds=wishes.thresholds)
        if on in wishes.changes.rained_off:
            row = replace(row, opening=None, why=say("rounds.hours_rained_off", day_on=on))
        found.append(row)
    return tuple(found)


def working_hours(row: Inspector) -> Window | None:
    """Return the hours of an inspector's usual day; None when it ends before it begins."""
    start, end = (60 * at.hour + at.minute for at in (row.day_start, row.day_end))
    return Window(start, end) if start < end else None


def _backwards(kept: Snapshot) -> tuple[Message, ...]:
    """Name the inspectors for whom nothing is planned because their day ends before it begins."""
    return tuple(
        say(
            "rounds.day_backwards",
            inspector=row.name or row.inspector,
            opens=f"{row.day_start:%H:%M}",
            closes=f"{row.day_end:%H:%M}",
        )
        for row in kept.ground.inspectors
        if working_hours(row) is None
    )


def inspector_days(kept: Snapshot, hours: Sequence[DayHours], wishes: Wishes) -> tuple[InspectorDay, ...]:
    """Return every inspector on every day that they work, are not ill and have daylight."""
    found = []
    for day in hours:
        for row in kept.ground.inspectors:
            work = wishes.changes.part_days.get((row.inspector, day.on)) or working_hours(row)
            if work is None or not _works(row, day.on, wishes.changes):
                continue
            found.append(
                InspectorDay(
                    inspector=row.inspector,
                    on=day.on,
                    start=home_name(row.inspector),
                    end=home_name(row.inspector),
                    work=work,
                    opening=day.opening,
                    daylight=day.daylight,
                    overtime_minutes=wishes.overtime_minutes,
                )
            )
    return tuple(found)


def _works(row: Inspector, on: date, changes: Changes) -> bool:
    """Hours given for a day count even on a day that is usually free; illness comes before both."""
    if (row.inspector, on) in changes.ill:
        return False
    return on.isoweekday() in row.works or (row.inspector, on) in changes.part_days
