"""A plan under way: what is done or being driven to stays, the rest is planned from there."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from broodsweep.rounds.checker import broken_rules
from broodsweep.rounds.drafting import draft
from broodsweep.rounds.frozen import freeze, join
from broodsweep.rounds.model import Status, Task
from broodsweep.rounds.plan import Plan
from broodsweep.rounds.planner import hand_plan, make_plan
from broodsweep.rounds.solve import Effort
from broodsweep.words import say
from tests.rounds.district import district
from tests.rounds.tasks import MONDAY, line, task_of, visit, workday

FEW = Effort(iterations=200, seeds=(1,))
TUESDAY = MONDAY + timedelta(days=1)


@pytest.fixture(scope="module")
def task() -> Task:
    return district(8, apiaries=50, inspectors=3, working_days=3, breaks=True)


@pytest.fixture(scope="module")
def plan(task: Task) -> Plan:
    return make_plan(task, FEW)


def done_by(plan: Plan, minute: int) -> set[str]:
    return {
        stop.apiary
        for row in plan.rounds
        if row.on == MONDAY
        for stop in row.stops
        if stop.leave_minute <= minute
    }


@pytest.mark.parametrize("minute", [0, 630, 690, 735, 800, 870, 930])
def test_what_is_joined_again_is_a_legal_plan_with_the_kept_visits_unmoved(
    task: Task, plan: Plan, minute: int
) -> None:
    done = done_by(plan, minute)
    frozen = freeze(task, plan.rounds, on=MONDAY, minute=minute, done=done)
    again = make_plan(frozen.task, FEW)
    whole = draft(task, join(frozen, again.rounds), say("rounds.method_solver"))
    assert broken_rules(task, whole) == ()
    before = {stop.apiary: stop.begin_minute for row in plan.rounds for stop in row.stops}
    kept = [stop for row in frozen.kept for stop in row.stops]
    assert {stop.apiary for stop in kept} >= done
    assert all(stop.begin_minute == before[stop.apiary] for stop in kept)
    assert all(whole.chosen[stop.apiary] == plan.chosen[stop.apiary] for stop in kept)


def test_the_stop_being_driven_to_stays_and_the_day_goes_on_from_there() -> None:
    road = line({"home": 0, "A": 10, "B": 20, "C": 30})
    task = task_of([visit(name) for name in "ABC"], [workday()], road)
    plan = hand_plan(task)
    first, second, third = plan.rounds[0].stops
    now = first.leave_minute + 2
    frozen = freeze(task, plan.rounds, on=MONDAY, minute=now, done={first.apiary})
    (row,) = frozen.kept
    assert row.apiaries == (first.apiary, second.apiary)
    (day,) = frozen.task.days
    assert (day.start, day.work.start_minute) == (second.apiary, second.leave_minute)
    assert [one.apiary for one in frozen.task.candidates] == [third.apiary]


def test_before_anyone_leaves_nothing_is_kept() -> None:
    task = task_of([visit("A")], [workday()], line({"home": 0, "A": 10}))
    frozen = freeze(task, hand_plan(task).rounds, on=MONDAY, minute=500)
    assert frozen.kept == ()
    assert frozen.task.days == task.days


def test_dirty_clothes_are_remembered_and_clean_the_next_day() -> None:
    road = line({"home": 0, "sick": 10, "A": 20})
    rows = [visit("sick", status=Status.INFECTED), visit("A", days=frozenset({TUESDAY}))]
    task = task_of(rows, [workday(), workday(on=TUESDAY)], road)
    plan = hand_plan(task)
    leaves = next(row for row in plan.rounds if row.on == MONDAY).stops[-1].leave_minute
    frozen = freeze(task, plan.rounds, on=MONDAY, minute=leaves, done={"sick"})
    assert [day.soiled for day in frozen.task.days] == [Status.INFECTED, Status.CLEAN]


def test_who_runs_late_goes_on_from_now() -> None:
    task = task_of([visit("A"), visit("B")], [workday()], line({"home": 0, "A": 10, "B": 20}))
    plan = hand_plan(task)
    late = plan.rounds[0].stops[0].leave_minute + 90
    frozen = freeze(task, plan.rounds, on=MONDAY, minute=late, done={plan.rounds[0].stops[0].apiary})
    assert frozen.task.days[0].work.start_minute == late


def test_a_day_that_is_over_is_not_planned_again() -> None:
    task = task_of([visit("A")], [workday(), workday(on=TUESDAY)], line({"home": 0, "A": 10}))
    frozen = freeze(task, (), on=TUESDAY, minute=600)
    assert [day.on for day in frozen.task.days] == [TUESDAY]


def test_what_is_held_stays_where_it_can_and_is_named_where_it_cannot(task: Task, plan: Plan) -> None:
    tuesday = [row for row in plan.rounds if row.on == TUESDAY]
    held = {name for row in tuesday for name in row.apiaries}
    assert len(tuesday) > 1
    ill = tuesday[0].inspector
    days = tuple(day for day in task.days if day.key != (ill, TUESDAY))
    frozen = freeze(replace(task, days=days), plan.rounds, on=MONDAY, minute=0, held=held)
    assert set(frozen.stuck) == set(tuesday[0].apiaries)
    again = make_plan(frozen.task, FEW)
    for row in tuesday[1:]:
        assert {again.chosen[name] for name in row.apiaries} == {(row.inspector, TUESDAY)}
