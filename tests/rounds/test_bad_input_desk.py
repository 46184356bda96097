"""What a user can get wrong before a plan is asked for: told plainly, and what can be planned is planned."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from broodsweep import tables
from broodsweep.desk import rounds as desk_rounds
from broodsweep.desk.rounds import plan_rounds
from broodsweep.rounds.checker import broken_rules
from broodsweep.words import render
from tests.rounds.test_desk_rounds import FEW, WEDNESDAY, make_desk, make_ground


def test_more_candidates_than_one_plan_takes_are_cut_to_the_most_urgent(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """As with 5,000: the case and the nearest are planned, each of the others is named with the reason."""
    monkeypatch.setattr(desk_rounds, "MOST_CANDIDATES", 4)
    answer = plan_rounds(make_desk(make_ground()), WEDNESDAY, 3, effort=FEW)
    assert (
        broken_rules(answer.task, answer.plan) != ()
    )  # the checker is told of four: the rest is left out beside it
    assert len(answer.task.candidates) == 4
    assert "C" in answer.plan.chosen
    left = [row for row in answer.plan.unplanned if row.why[0].key == "rounds.not_considered"]
    assert len(left) == 4
    assert render(left[0].why[0]) == "not looked at: one plan takes 4 visits and more urgent ones came first"
    whole = replace(answer.plan, unplanned=tuple(row for row in answer.plan.unplanned if row not in left))
    assert broken_rules(answer.task, whole) == ()
    considered = min(row.worth for row in answer.task.candidates)
    monkeypatch.undo()
    everyone = plan_rounds(make_desk(make_ground()), WEDNESDAY, 3).task.by_apiary
    assert all(everyone[row.apiary].worth <= considered for row in left)


def test_an_inspector_without_a_home_is_named_and_the_others_can_be_taken(tmp_path: Path) -> None:
    text = "inspector,home,works,day_start,day_end\nI1,,,09:00,17:00\nI2,SK 123 456,,09:00,17:00\n"
    (tmp_path / "inspectors.csv").write_text(text, encoding="utf-8")
    reading = tables.read_ground(tmp_path, today=date(2026, 11, 25))
    (trouble,) = reading.all_complaints
    assert (trouble.line, trouble.column, trouble.what.key) == (2, "home", "register.blank")
    assert not reading.is_usable
    sound = tables.read_ground(tmp_path, today=date(2026, 11, 25), skip_bad=True)
    assert [row.inspector for row in sound.ground.inspectors] == ["I2"]
