"""The independent checker finds each hard rule that a plan can break."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from broodsweep.rounds.checker import broken_rules, refuse_broken
from broodsweep.rounds.errors import BrokenPlanError
from broodsweep.rounds.model import Hygiene, Pin, Status, Task, Window
from broodsweep.rounds.plan import Pause, PauseKind, Plan, PlannedStop, Round, Unplanned
from broodsweep.rounds.planner import hand_plan
from tests.rounds.tasks import MONDAY, line, task_of, visit, workday

ROAD = line({"home": 0, "A": 10, "B": 20, "sick": 30})
ROWS = [visit("A"), visit("B", worth=0.2), visit("sick", status=Status.INFECTED)]


def keys(task: Task, plan: Plan) -> set[str]:
    return {row.key.removeprefix("rounds.broken_") for row in broken_rules(task, plan)}


@pytest.fixture
def task() -> Task:
    return task_of(ROWS, [workday()], ROAD)


@pytest.fixture
def plan(task: Task) -> Plan:
    made = hand_plan(task)
    assert len(made.rounds[0].stops) == 3
    return made


def with_round(plan: Plan, **changes: object) -> Plan:
    return replace(plan, rounds=(replace(plan.rounds[0], **changes),))  # type: ignore[arg-type]


def with_stop(plan: Plan, number: int, **changes: object) -> Plan:
    stops = list(plan.rounds[0].stops)
    stops[number] = replace(stops[number], **changes)  # type: ignore[arg-type]
    return with_round(plan, stops=tuple(stops))


def test_a_legal_plan_passes(task: Task, plan: Plan) -> None:
    assert keys(task, plan) == set()
    assert refuse_broken(task, plan) is plan


def test_a_broken_plan_is_refused(task: Task, plan: Plan) -> None:
    with pytest.raises(BrokenPlanError, match="held back"):
        refuse_broken(task, with_round(plan, leave_minute=0))


BREAKS: list[tuple[str, Callable[[Plan], Plan]]] = [
    ("once", lambda plan: replace(plan, unplanned=(Unplanned(apiary="A"),))),
    ("once", lambda plan: with_round(plan, stops=plan.rounds[0].stops[1:])),
    ("unknown", lambda plan: replace(plan, unplanned=(Unplanned(apiary="Z"),))),
    ("not_working", lambda plan: with_round(plan, on=MONDAY + timedelta(days=1))),
    ("not_working", lambda plan: replace(plan, rounds=plan.rounds * 2)),
    ("hours", lambda plan: with_round(plan, leave_minute=500)),
    ("hours", lambda plan: with_round(plan, back_minute=1021, overtime_minutes=1)),
    ("overtime", lambda plan: with_round(plan, overtime_minutes=7)),
    ("overlap", lambda plan: with_stop(plan, 1, begin_minute=plan.rounds[0].stops[0].leave_minute)),
    ("sums", lambda plan: with_round(plan, km=1.0)),
    ("sums", lambda plan: with_round(plan, drive_minutes=1)),
    ("service", lambda plan: with_stop(plan, 0, leave_minute=plan.rounds[0].stops[0].leave_minute - 1)),
    ("service", lambda plan: with_stop(plan, 0, arrive_minute=plan.rounds[0].stops[0].begin_minute + 1)),
]


@pytest.mark.parametrize(("rule", "spoil"), BREAKS)
def test_a_spoiled_plan_breaks_the_rule(
    rule: str, spoil: Callable[[Plan], Plan], task: Task, plan: Plan
) -> None:
    assert rule in keys(task, spoil(plan))


STRICTER: list[tuple[str, Callable[[Task], Task]]] = [
    ("opening", lambda task: with_day(task, opening=Window(700, 960))),
    ("daylight", lambda task: with_day(task, daylight=Window(640, 900), opening=Window(640, 900))),
    ("rest", lambda task: with_day(task, break_minutes=30, break_after_minutes=60)),
    ("commute", lambda task: with_day(task, most_commute_minutes=9)),
    ("hygiene", lambda task: with_day(task, soiled=Status.SUSPECT)),
    ("window", lambda task: with_visit(task, window=Window(900, 960))),
    ("window", lambda task: with_visit(task, day_windows={MONDAY: ()})),
    (
        "window",
        lambda task: with_visit(task, day_windows={MONDAY: (Window(480, 500), Window(930, 960))}),
    ),
    ("appointment", lambda task: with_visit(task, appointment_on=MONDAY + timedelta(days=1))),
    ("day", lambda task: with_visit(task, days=frozenset({MONDAY + timedelta(days=1)}))),
    ("inspector", lambda task: with_visit(task, inspectors=frozenset({"I9"}))),
    ("skill", lambda task: with_visit(task, skills=frozenset({"sign"}))),
    ("once", lambda task: with_visit(task, needs_two=True)),
    ("pin", lambda task: replace(task, pins={"A": Pin(inspector="I9")})),
    ("pin", lambda task: replace(task, pins={"A": Pin(begin_minute=959)})),
    ("no_way", lambda task: replace(task, travel=replace(task.travel, is_reachable=np.eye(4, dtype=bool)))),
]


def with_day(task: Task, **changes: object) -> Task:
    return replace(task, days=(replace(task.days[0], **changes),))  # type: ignore[arg-type]


def with_visit(task: Task, **changes: object) -> Task:
    return replace(task, candidates=(replace(task.candidates[0], **changes), *task.candidates[1:]))  # type: ignore[arg-type]


@pytest.mark.parametrize(("rule", "tighten"), STRICTER)
def test_a_plan_made_under_easier_rules_breaks_the_stricter_one(
    rule: str, tighten: Callable[[Task], Task], task: Task, plan: Plan
) -> None:
    assert rule in keys(tighten(task), plan)


def backwards(*, wash: bool) -> tuple[Task, Plan]:
    """Return a plan that goes from the diseased apiary to the clean one, with or without a wash."""
    rows = [visit("A"), visit("sick", status=Status.INFECTED)]
    task = task_of(rows, [workday()], ROAD)
    stops = (
        PlannedStop(apiary="sick", arrive_minute=600, begin_minute=600, leave_minute=630),
        PlannedStop(apiary="A", arrive_minute=695, begin_minute=695, leave_minute=725),
    )
    pause = Pause(kind=PauseKind.WASH, start_minute=630, end_minute=675, at="sick")
    row = Round(
        inspector="I1",
        on=MONDAY,
        leave_minute=570,
        back_minute=735,
        stops=stops,
        pauses=(pause,) if wash else (),
        km=60.0,
        drive_minutes=60,
    )
    return task, replace(hand_plan(task), rounds=(row,), unplanned=())


def test_a_wash_makes_the_way_back_legal_and_nothing_else_does() -> None:
    task, plan = backwards(wash=True)
    assert keys(task, plan) == set()
    assert keys(*backwards(wash=False)) == {"hygiene"}
    assert keys(replace(task, hygiene=Hygiene(decontamination_minutes=46)), plan) == {"hygiene"}
    assert keys(replace(task, hygiene=Hygiene(decontamination_minutes=None)), plan) == {"hygiene"}


def test_two_who_go_together_begin_at_the_same_minute() -> None:
    rows = [visit("A", needs_two=True)]
    days = [workday("I1"), workday("I2")]
    task = task_of(rows, days, ROAD)
    plan = hand_plan(task)
    assert [row.stops[0].together_with for row in plan.rounds] == ["I2", "I1"]
    assert keys(task, plan) == set()
    one, two = plan.rounds
    later = replace(two.stops[0], begin_minute=701, arrive_minute=701, leave_minute=731)
    moved = replace(two, stops=(later,), leave_minute=691, back_minute=741)
    assert keys(task, replace(plan, rounds=(one, moved))) == {"pair"}
