"""Random and small tasks for the tests of the rounds."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np
from hypothesis import strategies as st

from broodsweep.rounds.model import (
    WHOLE_DAY,
    Candidate,
    Hygiene,
    InspectorDay,
    Pin,
    Prices,
    Status,
    Task,
    Window,
)
from broodsweep.rounds.travel import TravelTable, travel_by_distance
from broodsweep.words import say

MONDAY = date(2026, 6, 1)


def table(km: np.ndarray, names: list[str], *, minutes: np.ndarray | None = None) -> TravelTable:
    """Return a travel table from kilometres: a minute a kilometre unless told."""
    km = np.asarray(km, dtype=float)
    return TravelTable(
        names=tuple(names),
        points=tuple((0.0, 0.01 * number) for number in range(len(names))),
        minutes=np.rint(km if minutes is None else minutes).astype(np.int64),
        km=km,
        is_reachable=np.ones(km.shape, dtype=bool),
        method=say("rounds.by_distance", detour=1.0, speed=60.0),
    )


def line(stops: dict[str, float]) -> TravelTable:
    """Return a table of places along one straight road, at these kilometres; a minute a kilometre."""
    at = np.array(list(stops.values()))
    return table(np.abs(at[:, None] - at[None, :]), list(stops))


def visit(apiary: str, **more: Any) -> Candidate:
    """Return a plain visit: half an hour, worth 0.1."""
    return Candidate(**{"apiary": apiary, "worth": 0.1, "service_minutes": 30, **more})


def workday(inspector: str = "I1", on: date = MONDAY, **more: Any) -> InspectorDay:
    """Return a plain day from home: 9 to 17, hives open 10 to 16, no break."""
    plain: dict[str, Any] = {
        "inspector": inspector,
        "on": on,
        "start": "home",
        "end": "home",
        "work": Window(540, 1020),
        "opening": Window(600, 960),
        "break_minutes": 0,
    }
    return InspectorDay(**{**plain, **more})


def task_of(candidates: list[Candidate], days: list[InspectorDay], travel: TravelTable, **more: Any) -> Task:
    """Return a task with plain prices: a visit left out waits ten days."""
    plain: dict[str, Any] = {"prices": Prices(unvisited_days=10.0), "first_on": MONDAY}
    return Task(**{**plain, "candidates": tuple(candidates), "days": tuple(days), "travel": travel, **more})


@st.composite
def windows(draw: st.DrawFn, early: int = 6, late: int = 20) -> Window:
    """Return hours of a day."""
    start = draw(st.integers(early * 4, late * 4 - 4))
    return Window(15 * start, 15 * draw(st.integers(start + 1, late * 4)))


@st.composite
def tasks(draw: st.DrawFn) -> Task:
    """Return a random team, weather, roads and rules, impossible ones included."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    team = [f"I{k}" for k in range(draw(st.integers(1, 4)))]
    span = [MONDAY + timedelta(days=n) for n in range(draw(st.integers(1, 4)))]
    names = [f"A{n:02d}" for n in range(draw(st.integers(0, 16)))]
    places = [*names, *(f"home {k}" for k in team), "here"]
    points = {
        name: (float(x), float(y))
        for name, (x, y) in zip(places, rng.uniform(0, 0.4, (len(places), 2)), strict=True)
    }
    travel = travel_by_distance(points)
    if draw(st.booleans()):
        reach = rng.random(travel.km.shape) > 0.15
        np.fill_diagonal(reach, True)
        skew = rng.integers(0, 9, travel.minutes.shape)
        travel = TravelTable(
            names=travel.names,
            points=travel.points,
            minutes=travel.minutes + skew * (1 - np.eye(len(places), dtype=np.int64)),
            km=travel.km,
            is_reachable=reach,
            method=travel.method,
        )
    days = [draw(inspector_days(name, on)) for on in span for name in team if rng.random() > 0.15] or [
        draw(inspector_days(team[0], span[0]))
    ]
    rows = [draw(candidates(name, team, span)) for name in names]
    pins = {
        name: Pin(
            inspector=draw(st.sampled_from([None, *team])),
            on=draw(st.sampled_from([None, *span])),
            begin_minute=draw(st.sampled_from([None, None, None, 720])),
        )
        for name in names
        if rng.random() < 0.1
    }
    told = {
        name: (str(rng.choice(team)), span[int(rng.integers(len(span)))])
        for name in names
        if rng.random() < 0.3
    }
    return Task(
        first_on=MONDAY,
        candidates=tuple(rows),
        days=tuple(days),
        travel=travel,
        prices=Prices(unvisited_days=float(len(span) + 3)),
        hygiene=draw(
            st.builds(
                Hygiene, decontamination_minutes=st.sampled_from([None, 45, 90]), wash_at_home=st.booleans()
            )
        ),
        pins=pins,
        announced=told,
    )


@st.composite
def inspector_days(draw: st.DrawFn, name: str, on: date) -> InspectorDay:
    """Return one inspector's day: any hours, any weather, perhaps begun already."""
    daylight = draw(st.sampled_from([WHOLE_DAY, Window(500, 1000), None]))
    opening = draw(st.one_of(st.just(Window(600, 1020)), windows(8, 18), st.none()))
    return InspectorDay(
        inspector=name,
        on=on,
        start=draw(st.sampled_from([f"home {name}", f"home {name}", "here"])),
        end=f"home {name}",
        work=draw(st.one_of(st.just(Window(540, 1020)), windows(6, 20))),
        opening=opening.meet(daylight) if opening else None,
        daylight=daylight,
        overtime_minutes=draw(st.sampled_from([0, 0, 60])),
        break_minutes=draw(st.sampled_from([0, 30, 45])),
        skills=draw(st.sampled_from([frozenset(), frozenset({"sign"})])),
        soiled=draw(st.sampled_from([Status.CLEAN, Status.CLEAN, Status.SUSPECT, Status.INFECTED])),
        most_commute_minutes=draw(st.sampled_from([None, None, 30])),
    )


@st.composite
def candidates(draw: st.DrawFn, name: str, team: list[str], span: list[date]) -> Candidate:
    """Return a visit with any of the conditions that a visit can have."""
    some_days = st.frozensets(st.sampled_from(span), min_size=1)
    window = draw(st.one_of(st.none(), st.none(), windows(8, 18)))
    own_hours = st.dictionaries(
        st.sampled_from(span), st.lists(windows(8, 18), max_size=3).map(tuple), max_size=len(span)
    )
    return Candidate(
        apiary=name,
        worth=draw(st.floats(0.0, 1.0)),
        service_minutes=draw(st.integers(10, 200)),
        status=draw(st.sampled_from([Status.CLEAN, Status.CLEAN, Status.SUSPECT, Status.INFECTED])),
        window=window,
        day_windows=draw(st.just({}) if window else st.one_of(st.just({}), own_hours)),
        days=draw(st.one_of(st.none(), st.none(), some_days)),
        deadline_on=draw(st.one_of(st.none(), st.none(), st.sampled_from(span))),
        appointment_on=draw(st.one_of(st.none(), st.none(), st.sampled_from(span))),
        inspectors=draw(st.one_of(st.none(), st.none(), st.frozensets(st.sampled_from(team), min_size=1))),
        skills=draw(st.sampled_from([frozenset(), frozenset(), frozenset({"sign"})])),
        needs_two=draw(st.sampled_from([False, False, False, True])),
    )
