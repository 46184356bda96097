"""The solver: repeatable, interruptible, honest about its costs, keeps what is fixed."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from broodsweep.rounds import profiles
from broodsweep.rounds.allowed import why_not
from broodsweep.rounds.checker import broken_rules
from broodsweep.rounds.cost import cost_of
from broodsweep.rounds.encode import encode
from broodsweep.rounds.model import Pin, Prices, Status, Task, Window
from broodsweep.rounds.plan import Plan
from broodsweep.rounds.planner import hand_plan, make_plan
from broodsweep.rounds.profiles import SCALE
from broodsweep.rounds.solve import Effort, search
from broodsweep.rounds.timetable import timetable
from tests.rounds.district import district
from tests.rounds.tasks import MONDAY, line, task_of, visit, workday


@pytest.fixture(scope="module")
def small() -> Task:
    return district(5, apiaries=60, inspectors=3, working_days=4, breaks=True)


@pytest.fixture(scope="module")
def planned(small: Task) -> Plan:
    return make_plan(small, Effort(iterations=300))


def test_the_same_seeds_and_iterations_give_the_same_plan(small: Task, planned: Plan) -> None:
    assert make_plan(small, Effort(iterations=300)).rounds == planned.rounds


def test_the_plan_is_legal_and_better_than_by_hand(small: Task, planned: Plan) -> None:
    assert broken_rules(small, planned) == ()
    assert planned.cost.total < hand_plan(small).cost.total
    assert planned.measures is not None
    assert planned.measures.by_hand_cost == pytest.approx(hand_plan(small).cost.total)


def test_the_solvers_own_cost_is_the_cost_of_the_plan() -> None:
    """What the solver counts (prizes forgone and priced arcs) is the objective, but for rounding each arc."""
    task = district(6, apiaries=40, inspectors=2, working_days=3)
    encoded = encode(task)
    assert encoded is not None
    orders = search(encoded, Effort(iterations=200, seeds=(1,)))[0]
    solution = encoded.solution(orders)
    value = (solution.distance_cost() + solution.uncollected_prizes()) / SCALE
    rounds = [timetable(task, day, orders[day.key]) for day in task.days if day.key in orders]
    assert rounds
    driven = [row for row in rounds if row is not None]
    assert len(driven) == len(rounds)
    assert len(encoded.clients) == len(task.candidates)
    assert value == pytest.approx(cost_of(task, driven).total, abs=100 / SCALE)


def test_inspectors_of_a_day_share_their_matrices_when_memory_is_short(
    monkeypatch: pytest.MonkeyPatch, small: Task
) -> None:
    """Who may not visit an apiary is then told by load: the search itself keeps to it, before anything is settled."""
    apart = encode(small)
    monkeypatch.setattr(profiles, "MOST_PROFILE_BYTES", 0)
    encoded = encode(small)
    assert apart is not None
    assert encoded is not None
    assert encoded.data.num_profiles == len({day.on for day in encoded.days}) < apart.data.num_profiles
    orders = search(encoded, Effort(iterations=1000, seeds=(1,)))[0]
    shut = [
        name
        for key, order in orders.items()
        for name in order
        if why_not(small, small.by_apiary[name], small.by_day[key]) is not None
    ]
    assert sum(map(len, orders.values())) > 30
    assert not shut
    plan = make_plan(small, Effort(iterations=300))
    assert broken_rules(small, plan) == ()
    assert plan.cost.total < hand_plan(small).cost.total


def test_an_interrupted_search_gives_the_best_so_far(small: Task) -> None:
    seen: list[float] = []

    def interrupt(share: float) -> None:
        raise KeyboardInterrupt

    effort = Effort(seeds=(1,), gone=lambda: 0.0, progress=interrupt)
    plan = make_plan(small, effort, shown=lambda plan: seen.append(plan.cost.total))
    assert broken_rules(small, plan) == ()
    assert plan.cost.total == min(seen)


def test_every_plan_shown_is_better_than_the_one_before(small: Task) -> None:
    seen: list[float] = []
    make_plan(small, Effort(iterations=200, seeds=(1,)), shown=lambda plan: seen.append(plan.cost.total))
    assert seen == sorted(seen, reverse=True)
    assert seen


def test_what_is_fixed_stays(small: Task, planned: Plan) -> None:
    row = planned.rounds[0]
    other = next(day for day in small.days if day.on != row.on and day.inspector == row.inspector)
    name = row.apiaries[0]
    fixed = replace(small, pins={name: Pin(inspector=other.inspector, on=other.on)})
    assert make_plan(fixed, Effort(iterations=300)).chosen[name] == (other.inspector, other.on)


def test_a_price_on_moving_announced_visits_moves_fewer(small: Task, planned: Plan) -> None:
    days = tuple(day for day in small.days if day.key != small.days[0].key)  # someone falls ill
    told = dict(planned.chosen)
    free = replace(small, days=days, announced=told, prices=replace(small.prices, moved=0.0))
    priced = replace(small, days=days, announced=told)
    effort = Effort(iterations=300)
    moved_free = make_plan(free, effort).measures
    moved_priced = make_plan(priced, effort).measures
    assert moved_free is not None
    assert moved_priced is not None
    assert moved_priced.moved_visits < moved_free.moved_visits  # type: ignore[operator]


def test_a_day_rained_off_moves_little_more_than_it_must(small: Task, planned: Plan) -> None:
    """Of the visits that could stay where they were announced, fewer than a third move."""
    wet = sorted({day.on for day in small.days})[1]
    days = tuple(replace(day, opening=None) if day.on == wet else day for day in small.days)
    told = dict(planned.chosen)
    orders = {(row.inspector, row.on): row.apiaries for row in planned.rounds}
    plan = make_plan(replace(small, days=days, announced=told), Effort(iterations=300), start=orders)
    measures = plan.measures
    assert measures is not None
    assert measures.moved_visits is not None
    assert measures.inevitable_moves == sum(on == wet for _, on in told.values()) > 0
    free = measures.moved_visits - measures.inevitable_moves
    assert 0 <= free < (len(told) - measures.inevitable_moves) / 3


def test_two_who_go_together_meet_and_the_rest_is_planned_round_it() -> None:
    names = {f"A{n}": 5.0 * n for n in range(1, 9)}
    rows = [visit(name, service_minutes=60) for name in names]
    rows.append(visit("sick", needs_two=True, status=Status.INFECTED, worth=1.0, service_minutes=90))
    days = [workday("I1"), workday("I2"), workday("I1", MONDAY + timedelta(days=1))]
    task = task_of(rows, days, line({"home": 0, "sick": 22, **names}))
    plan = make_plan(task, Effort(iterations=200))
    assert broken_rules(task, plan) == ()
    both = [(row.on, stop.begin_minute) for row in plan.rounds for stop in row.stops if stop.apiary == "sick"]
    assert len(both) == 2
    assert len(set(both)) == 1
    assert plan.measures is not None
    assert plan.measures.visits == 9


def test_one_inspector_alone_cannot_make_a_visit_for_two() -> None:
    task = task_of([visit("A", needs_two=True)], [workday()], line({"home": 0, "A": 5}))
    plan = make_plan(task, Effort(iterations=20, seeds=(1,)))
    assert [row.why[0].key for row in plan.unplanned] == ["rounds.no_two"]


def test_earlier_is_better_when_nothing_else_differs() -> None:
    days = [workday(on=MONDAY + timedelta(days=n)) for n in range(3)]
    rows = [visit("A", service_minutes=330, worth=0.5), visit("B", service_minutes=330, worth=0.2)]
    plan = make_plan(
        task_of(rows, days, line({"home": 0, "A": 10, "B": 10})), Effort(iterations=50, seeds=(1,))
    )
    assert [row.apiaries for row in plan.rounds] == [("A",), ("B",)]
    assert [row.on for row in plan.rounds] == [MONDAY, MONDAY + timedelta(days=1)]


@pytest.mark.parametrize(("price", "is_made_late"), [(0.1, True), (0.5, False)])
def test_overtime_is_used_when_it_is_worth_its_price(price: float, is_made_late: bool) -> None:
    """Two visits of 165 minutes and three half-hour drives end an hour late; the second is worth 0.4."""
    days = [workday(work=Window(540, 900), opening=Window(570, 960), overtime_minutes=120)]
    rows = [visit("A", service_minutes=165, worth=0.5), visit("B", service_minutes=165, worth=0.04)]
    prices = Prices(unvisited_days=10.0, kilometre=0.0, overtime_hour=price)
    task = task_of(rows, days, line({"home": 0, "A": 30, "B": 60}), prices=prices)
    for plan in (hand_plan(task), make_plan(task, Effort(iterations=100, seeds=(1,)))):
        assert broken_rules(task, plan) == ()
        assert ("B" in plan.chosen) == is_made_late
        (row,) = plan.rounds
        assert plan.cost.overtime == pytest.approx(price * row.overtime_minutes / 60)
        assert (row.overtime_minutes == 90) == is_made_late


def test_a_deadline_comes_before_a_more_urgent_visit() -> None:
    days = [workday(on=MONDAY + timedelta(days=n)) for n in range(2)]
    rows = [
        visit("A", service_minutes=330, worth=0.5),
        visit("B", service_minutes=330, worth=0.01, deadline_on=MONDAY),
    ]
    task = task_of(rows, days, line({"home": 0, "A": 10, "B": 10}), prices=Prices(unvisited_days=9.0))
    plan = make_plan(task, Effort(iterations=50, seeds=(1,)))
    assert plan.chosen["B"][1] == MONDAY


def test_an_effort_without_a_limit_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="limit"):
        Effort()
