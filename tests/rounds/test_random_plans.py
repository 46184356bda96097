"""Random teams, weather and rules: the independent checker never finds a broken hard rule."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings

from broodsweep.rounds.checker import broken_rules
from broodsweep.rounds.model import Task
from broodsweep.rounds.plan import Plan
from broodsweep.rounds.planner import hand_plan, make_plan
from broodsweep.rounds.solve import Effort
from broodsweep.words import render
from tests.rounds.tasks import tasks

SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large]


@settings(max_examples=60, deadline=None, suppress_health_check=SLOW, derandomize=True)
@given(tasks())
def test_no_plan_by_hand_breaks_a_hard_rule(task: Task) -> None:
    plan = hand_plan(task)
    assert not [render(row) for row in broken_rules(task, plan)]


@settings(max_examples=25, deadline=None, suppress_health_check=SLOW, derandomize=True)
@given(tasks())
def test_no_plan_of_the_solver_breaks_a_hard_rule_and_none_is_worse_than_the_hand_rule(task: Task) -> None:
    drafts: list[Plan] = []
    plan = make_plan(task, Effort(iterations=60, seeds=(1,)), drafted=drafts.append)
    assert drafts
    for draft in drafts:
        assert not [render(row) for row in broken_rules(task, draft)]
    assert not [render(row) for row in broken_rules(task, plan)]
    assert plan.cost.total <= hand_plan(task).cost.total + 1e-9
