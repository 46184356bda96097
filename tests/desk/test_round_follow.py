"""A suspicion at a stop plans the rest of the round anew, once, and only where the round is touched."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest

from broodsweep.desk.context import Desk
from broodsweep.desk.field_sheet import round_news
from broodsweep.desk.fieldbook import take_lines
from broodsweep.desk.ports import Author
from broodsweep.desk.round_changes import spots
from broodsweep.desk.round_facts import Change, ChangeKind
from broodsweep.desk.round_follow import follow_field
from broodsweep.desk.round_plans import Question, can_go_back, note, plan_in_force
from broodsweep.desk.round_worker import RoundsPlanner, WorkState
from broodsweep.geo import parse_place
from broodsweep.register import Apiary
from broodsweep.rounds.travel import travel_by_distance

from .test_fieldbook import a_visit, pen, phone
from .test_round_plans import FEW, LEAD, NOW, WEDNESDAY, make_desk

FINDER = Author(who="Una Selvik", device="phone-1")


@pytest.fixture
def desk() -> Iterator[Desk]:
    """Whose clock goes on by a minute at every look."""
    made = make_desk()
    ticks = itertools.count()

    def now() -> datetime:
        return datetime(NOW.year, NOW.month, NOW.day, NOW.hour, tzinfo=UTC) + timedelta(minutes=next(ticks))

    made.now = now
    made.store.now = now  # type: ignore[attr-defined]
    yield made


@pytest.fixture
def planner(desk: Desk) -> RoundsPlanner:
    made = RoundsPlanner(desk, seconds=itertools.count().__next__, travel=lambda: travel_by_distance)
    made.plan(LEAD, Question(first_on=WEDNESDAY, days=2), FEW)
    assert made.wait(120).state is WorkState.DONE
    return made


def stop_today(desk: Desk) -> str:
    plan = plan_in_force(desk)
    assert plan is not None
    return sorted(name for name, spot in spots(plan.plan).items() if spot.on == WEDNESDAY)[0]


def test_a_suspicion_at_a_stop_plans_the_rest_anew_once(desk: Desk, planner: RoundsPlanner) -> None:
    before = plan_in_force(desk)
    stop = stop_today(desk)
    one = pen()
    a_visit(one, stop, suspect="AFB")
    take_lines(desk, phone(), one.lines)
    assert follow_field(desk, planner, FINDER, WEDNESDAY, FEW)
    assert planner.wait(120).state is WorkState.DONE
    after = plan_in_force(desk)
    assert before and after and after.number > before.number
    assert stop in after.facts.done
    assert after.made_by == FINDER.who
    assert can_go_back(desk)
    news = round_news(desk, WEDNESDAY)
    assert news is not None and not news.is_out_of_date
    assert not follow_field(desk, planner, FINDER, WEDNESDAY, FEW), "once"


def test_a_suspicion_that_came_while_a_plan_was_made_is_not_lost(desk: Desk, planner: RoundsPlanner) -> None:
    stop = stop_today(desk)
    one = pen()
    a_visit(one, stop, suspect="AFB")
    take_lines(desk, phone(), one.lines)
    plan = plan_in_force(desk)
    assert plan is not None
    other = next(name for name, spot in spots(plan.plan).items() if name != stop and spot.on == WEDNESDAY)
    note(desk, LEAD, plan.number, Change(kind=ChangeKind.DONE, apiary=other))
    news = round_news(desk, WEDNESDAY)
    assert news is not None and news.suspect == (stop,), (
        "the plan is newer than the word, and still goes there"
    )
    assert follow_field(desk, planner, FINDER, WEDNESDAY, FEW)
    assert planner.wait(120).state is WorkState.DONE


def test_a_clean_visit_leaves_the_round_as_it_is(desk: Desk, planner: RoundsPlanner) -> None:
    one = pen()
    a_visit(one, stop_today(desk))
    take_lines(desk, phone(), one.lines)
    assert not follow_field(desk, planner, FINDER, WEDNESDAY, FEW)


def test_a_suspicion_off_the_round_is_said_and_left_to_a_person(desk: Desk, planner: RoundsPlanner) -> None:
    with desk.store.work(LEAD, "add_apiary") as work:
        work.save("apiaries", [Apiary(apiary="Y", place=parse_place("OV 58000 40000"), colonies=3)])
    one = pen()
    a_visit(one, "Y", suspect="AFB")
    take_lines(desk, phone(), one.lines)
    assert not follow_field(desk, planner, FINDER, WEDNESDAY, FEW)
    news = round_news(desk, WEDNESDAY)
    assert news is not None and news.is_out_of_date


def test_without_a_plan_nothing_follows(desk: Desk) -> None:
    idle = RoundsPlanner(desk, seconds=itertools.count().__next__, travel=lambda: travel_by_distance)
    assert round_news(desk, WEDNESDAY) is None
    assert not follow_field(desk, idle, FINDER, WEDNESDAY, FEW)
