"""A plan with its bound, end to end: what is said of how good the plan is holds."""

from __future__ import annotations

import pytest

from broodsweep.rounds.bound import lower_bound
from broodsweep.rounds.checker import broken_rules
from broodsweep.rounds.columns import prepare
from broodsweep.rounds.cost import worth_of_visiting
from broodsweep.rounds.knapsack import knapsack_bound
from broodsweep.rounds.model import Status, Task
from broodsweep.rounds.plan import Plan
from broodsweep.rounds.planner import hand_plan, make_plan
from broodsweep.rounds.solve import Effort
from tests.rounds.district import district
from tests.rounds.tasks import line, task_of, visit, workday

EFFORT = Effort(iterations=400)


@pytest.fixture(scope="module")
def small() -> Task:
    return district(5, apiaries=60, inspectors=3, working_days=4, breaks=True)


@pytest.fixture(scope="module")
def bounded(small: Task) -> Plan:
    return make_plan(small, EFFORT, with_bound=True)


def test_the_plan_says_how_far_above_the_bound_it_is_at_most(bounded: Plan) -> None:
    measures = bounded.measures
    assert measures is not None
    assert measures.bound is not None
    assert measures.within_share is not None
    assert 0.0 < measures.bound <= bounded.cost.total
    assert measures.within_share == pytest.approx(bounded.cost.total / measures.bound - 1.0)
    assert measures.within_share < 0.1  # measured: 7.0 %


def test_the_plan_with_a_bound_is_legal_and_repeatable(small: Task, bounded: Plan) -> None:
    assert broken_rules(small, bounded) == ()
    again = make_plan(small, EFFORT, with_bound=True)
    assert (again.rounds, again.measures) == (bounded.rounds, bounded.measures)


def test_no_plan_found_by_another_seed_lies_below_the_bound(small: Task, bounded: Plan) -> None:
    assert bounded.measures is not None
    assert bounded.measures.bound is not None
    other = make_plan(small, Effort(iterations=1500, seeds=(7, 8)))
    assert bounded.measures.bound <= other.cost.total


def test_the_bound_rises_with_its_steps_and_starts_at_that_of_time_alone(small: Task) -> None:
    prepared = prepare(small)
    everything = sum(worth_of_visiting(small, row) for row in small.candidates)
    by_time = everything - knapsack_bound(prepared)[0]
    start = hand_plan(small).rounds
    few, many = (lower_bound(small, start=start, steps=steps, threads=1) for steps in (1, 60))
    assert few.cost == pytest.approx(by_time, abs=1e-6)
    assert many.cost > 1.02 * few.cost


def test_every_plan_of_visits_for_two_lies_above_the_bound() -> None:
    rows = [visit(f"A{n}", service_minutes=70) for n in range(1, 8)]
    rows.append(visit("sick", needs_two=True, status=Status.INFECTED, worth=1.0, service_minutes=90))
    road = line({"home": 0, "sick": 22, **{f"A{n}": 5.0 * n for n in range(1, 8)}})
    task = task_of(rows, [workday("I1"), workday("I2")], road)
    plan = make_plan(task, EFFORT, with_bound=True)
    assert broken_rules(task, plan) == ()
    assert plan.measures is not None
    assert plan.measures.bound is not None
    assert plan.measures.bound <= plan.cost.total
