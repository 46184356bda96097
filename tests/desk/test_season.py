"""The season at the desk: what is asked for, the hours of the team, training days, refusals."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from broodsweep.desk.context import Desk
from broodsweep.desk.round_ahead import note_ahead
from broodsweep.desk.round_facts import Change, ChangeKind
from broodsweep.desk.season import SeasonQuestion, season, set_training, training_days
from broodsweep.errors import BroodsweepError
from broodsweep.geo import parse_place
from broodsweep.register import Apiary, Visit
from broodsweep.rounds.season import DutyKind
from broodsweep.words import render

from .test_round_plans import LEAD, WEDNESDAY, make_desk

WEEKS = SeasonQuestion(first_on=WEDNESDAY, weeks=4)


@pytest.fixture
def desk() -> Desk:
    found = make_desk()
    far = {name: parse_place(f"OV {70000 + 3000 * n} 70000") for n, name in enumerate(("S1", "S2", "S3"))}
    with found.store.work(LEAD, "add") as work:
        work.save("apiaries", [Apiary(apiary=name, place=place, colonies=3) for name, place in far.items()])
        work.save(
            "visits",
            [
                Visit(
                    visit=f"look {name}",
                    apiary=name,
                    visited_on=on,
                    colonies_inspected=3,
                    colonies_confirmed=0,
                )
                for name, on in (("S1", date(2026, 6, 1)), ("S2", date(2025, 7, 20)))
            ],
        )
    return found


def test_sweeps_cases_and_surveillance_find_their_weeks(desk: Desk) -> None:
    answer = season(desk, WEEKS)
    kinds = {line.duty.apiary: line.duty.kind for line in answer.lines.values()}
    assert kinds["N01"] is DutyKind.SWEEP
    assert kinds["S3"] is DutyKind.SURVEILLANCE
    assert "S1" not in kinds, "looked at five weeks ago"
    assert answer.lines["visit S2"].duty.first_on == date(2026, 7, 20)
    assert render(answer.lines["visit S2"].why[0]) == "last looked at on 20 Jul 2025"
    assert render(answer.lines["visit S3"].why[0]) == "nobody is known to have looked there"
    where = {name: number for number, week in enumerate(answer.plan.weeks) for name in week.duties}
    assert where["visit C"] == 0, "colonies to be dealt with come first"
    assert where["visit S2"] == 2
    assert answer.plan.left_out == ()
    assert answer.plan.weeks[0].starts_on == WEDNESDAY
    assert answer.plan.weeks[1].starts_on == date(2026, 7, 13)
    assert answer.question.last_on == date(2026, 8, 2)


def test_the_hours_of_the_team_are_those_of_the_rounds(desk: Desk) -> None:
    """July: hives 10 to 17, work 9 to 17, half an hour's break; two inspectors, Wednesday to Friday, then five days."""
    free = season(desk, WEEKS).plan.weeks
    assert [week.capacity_minutes for week in free] == [6 * 390, 10 * 390, 10 * 390, 10 * 390]
    note_ahead(desk, LEAD, Change(kind=ChangeKind.ILL, inspector="I1", days=(WEDNESDAY,)))
    note_ahead(desk, LEAD, Change(kind=ChangeKind.RAINED_OFF, days=(WEDNESDAY + timedelta(days=1),)))
    assert season(desk, WEEKS).plan.weeks[0].capacity_minutes == 3 * 390


def test_training_days_are_kept_and_take_the_hours_of_the_team(desk: Desk) -> None:
    day = date(2026, 7, 15)
    set_training(desk, LEAD, [day, day])
    assert training_days(desk) == (day,)
    week = season(desk, WEEKS).plan.weeks[1]
    assert week.by_kind[DutyKind.TRAINING] == 2 * 390
    assert season(desk, WEEKS, [date(2026, 7, 18)]).plan.weeks[1].by_kind.get(DutyKind.TRAINING) is None, (
        "a Saturday: nobody works"
    )
    assert desk.store.journal()[-1].what == "season_training"


@pytest.mark.parametrize(
    ("question", "said"),
    [
        (SeasonQuestion(first_on=WEDNESDAY, weeks=0), "1 to 53 weeks, not 0"),
        (SeasonQuestion(first_on=WEDNESDAY, weeks=54), "1 to 53 weeks, not 54"),
        (SeasonQuestion(first_on=WEDNESDAY, every_months=0), "one month or more"),
    ],
)
def test_weeks_that_make_no_season_are_refused(desk: Desk, question: SeasonQuestion, said: str) -> None:
    with pytest.raises(BroodsweepError, match=said):
        season(desk, question)


def test_a_winter_has_no_hours_and_says_so(desk: Desk) -> None:
    answer = season(desk, SeasonQuestion(first_on=date(2026, 12, 7), weeks=3))
    assert all(week.capacity_minutes == 0 for week in answer.plan.weeks)
    assert {why.key for _, why in answer.plan.left_out} == {"season.why_no_hours"}
