"""The season over weeks: nothing twice, no week overfull, last days first, near what no plan can beat."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from broodsweep.rounds.season import Duty, DutyKind, SeasonPlan, SeasonWeek, plan_season
from broodsweep.rounds.season import _Table as Table

MONDAY = date(2026, 7, 6)
SWEEP, TRAINING = DutyKind.SWEEP, DutyKind.TRAINING


def weeks(*minutes: int) -> list[SeasonWeek]:
    return [
        SeasonWeek(starts_on=MONDAY + timedelta(weeks=number), capacity_minutes=room)
        for number, room in enumerate(minutes)
    ]


def duty(name: str, minutes: int = 60, worth: float = 0.1, **more: object) -> Duty:
    return Duty(**{"name": name, "kind": SWEEP, "minutes": minutes, "worth": worth, **more})  # type: ignore[arg-type]


def placed(plan: SeasonPlan) -> dict[str, int]:
    return {name: number for number, week in enumerate(plan.weeks) for name in week.duties}


def test_the_most_worth_comes_first_and_what_is_too_much_is_left_with_the_reason() -> None:
    plan = plan_season([duty("low", worth=0.01), duty("high", worth=0.5), duty("mid")], weeks(60, 60))
    assert placed(plan) == {"high": 0, "mid": 1}
    assert [(name, why.key) for name, why in plan.left_out] == [("low", "season.why_full")]
    assert [week.used_minutes for week in plan.weeks] == [60, 60]


def test_a_last_day_by_law_comes_before_worth() -> None:
    due = duty("due", worth=0.001, last_on=MONDAY + timedelta(days=3))
    plan = plan_season([due, duty("high", worth=0.9)], weeks(60, 60))
    assert placed(plan) == {"due": 0, "high": 1}
    assert plan.missed == ()
    missed = plan_season([due], weeks(0, 60))
    assert placed(missed) == {"due": 1}
    assert missed.missed == ("due",)


def test_nothing_is_done_before_its_first_day() -> None:
    plan = plan_season([duty("later", first_on=MONDAY + timedelta(days=9))], weeks(60, 60, 60))
    assert placed(plan) == {"later": 1}


def test_training_takes_the_hours_of_its_week() -> None:
    day = Duty(name="t", kind=TRAINING, minutes=60, worth=0.0, first_on=MONDAY + timedelta(days=1))
    plan = plan_season([day, duty("a")], weeks(60, 60))
    assert placed(plan) == {"t": 0, "a": 1}
    assert plan.weeks[0].by_kind == {TRAINING: 60}


@pytest.mark.parametrize(
    ("minutes", "rooms", "why"),
    [(60, (0, 0), "season.why_no_hours"), (90, (60, 60), "season.why_too_long")],
)
def test_what_no_week_can_hold_says_why(minutes: int, rooms: tuple[int, ...], why: str) -> None:
    plan = plan_season([duty("a", minutes)], weeks(*rooms))
    assert [said.key for _, said in plan.left_out] == [why]


def test_a_duty_twice_or_weeks_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match="each duty once"):
        plan_season([duty("a"), duty("a")], weeks(60))
    with pytest.raises(ValueError, match="weeks in order"):
        plan_season([duty("a")], [])


DUTIES = st.lists(
    st.tuples(
        st.integers(20, 90),
        st.integers(0, 100),
        st.one_of(st.none(), st.integers(0, 20)),
        st.one_of(st.none(), st.integers(0, 20)),
    ),
    max_size=5,
)


@settings(max_examples=60, deadline=None)
@given(DUTIES, st.lists(st.integers(0, 150), min_size=1, max_size=3))
def test_the_bound_lies_below_the_best_of_every_plan_tried_one_by_one(
    rows: list[tuple[int, int, int | None, int | None]], rooms: list[int]
) -> None:
    """The outside check is enumeration: every way to put five duties into three weeks or none."""
    day = MONDAY
    asked = [
        duty(
            f"d{number}",
            minutes,
            worth / 100,
            first_on=None if first is None else day + timedelta(days=first),
            last_on=None if last is None else day + timedelta(days=last),
        )
        for number, (minutes, worth, first, last) in enumerate(rows)
    ]
    table = Table(asked, weeks(*rooms))
    best = float("inf")
    for choice in product([None, *range(len(rooms))], repeat=len(asked)):
        used = [0] * len(rooms)
        cost = 0.0
        for one, number in zip(asked, choice, strict=True):
            price = table.cost_out(one) if number is None else table.cost_in(one, number)
            cost += float("inf") if price is None else price
            if number is not None:
                used[number] += one.minutes
        if all(used[number] <= rooms[number] for number in range(len(rooms))):
            best = min(best, cost)
    plan = plan_season(asked, weeks(*rooms))
    assert plan.bound <= best + 1e-6
    assert plan.cost >= best - 1e-6
    names = [name for week in plan.weeks for name in week.duties] + [name for name, _ in plan.left_out]
    assert sorted(names) == sorted(one.name for one in asked)
    assert all(week.used_minutes <= week.capacity_minutes for week in plan.weeks)
