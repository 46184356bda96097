"""What the desk knows of hours: absences, keepers' hours, appointments, part days, weather, the rules of a round."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from broodsweep.desk import rounds as desk_rounds
from broodsweep.desk.context import Desk
from broodsweep.desk.rounds import Changes, Wishes, plan_rounds
from broodsweep.rounds.model import Candidate

from .test_round_plans import THURSDAY, WEDNESDAY, make_desk


@pytest.fixture
def desk() -> Desk:
    return make_desk()


def test_a_visit_that_no_day_allows_stays_out_when_its_keeper_is_away(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No day at all is not any day: the day of the absence was taken from every day of the plan."""
    found = desk_rounds.candidates(desk, WEDNESDAY, 2)
    never = next(row for row in found if row.apiary == "N07")

    def chosen(desk: Desk, start: date, days: int) -> tuple[Candidate, ...]:
        return tuple(replace(row, days=frozenset()) if row is never else row for row in found)

    monkeypatch.setattr(desk_rounds, "candidates", chosen)
    wishes = Wishes(changes=Changes(away={"K3": frozenset({WEDNESDAY + timedelta(days=1)})}))
    answer = plan_rounds(desk, WEDNESDAY, 2, wishes=wishes)
    assert "N07" not in answer.plan.chosen
    assert answer.task.by_apiary["N07"].days == frozenset()
    assert answer.task.by_apiary["N08"].days == frozenset({THURSDAY}) - {THURSDAY} | {WEDNESDAY}
