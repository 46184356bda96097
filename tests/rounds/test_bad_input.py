"""What a user can get wrong: each with a sentence, and what can be planned is planned."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from broodsweep.rounds.errors import RoundsError
from broodsweep.rounds.model import MOST_CANDIDATES, Window
from broodsweep.rounds.planner import hand_plan, make_plan
from broodsweep.rounds.solve import Effort
from broodsweep.rounds.travel import TravelTable
from broodsweep.tables.forecast import read_forecast_file
from broodsweep.tables.osm_roads import read_roads
from broodsweep.words import render, say
from tests.rounds.tasks import line, task_of, visit, workday

ROAD = line({"home": 0, "A": 10, "B": 20})
FEW = Effort(iterations=50, seeds=(1,))


def test_zero_inspectors_are_told_what_to_add() -> None:
    with pytest.raises(RoundsError, match="Nobody works on these days"):
        task_of([visit("A")], [], ROAD)


def test_five_thousand_candidates_are_refused_with_the_limit() -> None:
    rows = [visit(f"A{n}") for n in range(5000)]
    with pytest.raises(
        RoundsError, match=f"5,000 visits are too many for one plan; it takes {MOST_CANDIDATES:,}"
    ):
        task_of(rows, [workday()], ROAD)


def test_a_window_that_closes_before_it_opens_is_refused() -> None:
    with pytest.raises(RoundsError, match=r"close \(09:00\) before they open \(17:00\)"):
        workday(work=Window(1020, 540))


def cut_off(travel: TravelTable, name: str) -> TravelTable:
    """Return the table with one place that nothing reaches."""
    reach = np.ones(travel.km.shape, dtype=bool)
    number = travel.index[name]
    reach[number], reach[:, number] = False, False
    reach[number, number] = True
    return replace(travel, is_reachable=reach, off_road={name: say("rounds.no_ferry")})


@pytest.mark.parametrize("effort", [None, FEW])
def test_an_islet_without_a_ferry_is_named_and_the_rest_is_planned(effort: Effort | None) -> None:
    task = task_of([visit("A"), visit("B")], [workday()], cut_off(ROAD, "B"))
    plan = make_plan(task, effort) if effort else hand_plan(task)
    assert plan.rounds[0].apiaries == ("A",)
    (left,) = plan.unplanned
    assert left.apiary == "B"
    assert render(left.why[0]) == "no road or ferry joins it to the rest"
    assert render(left.would_help[0]).startswith("go on foot or by boat")


def test_a_home_that_no_road_reaches_leaves_that_inspector_at_home() -> None:
    travel = cut_off(line({"home": 0, "A": 10, "island home": 20}), "island home")
    days = [workday("I1"), workday("I2", start="island home", end="island home")]
    plan = hand_plan(task_of([visit("A")], days, travel))
    assert [row.inspector for row in plan.rounds] == ["I1"]


@pytest.mark.parametrize("effort", [None, FEW])
def test_a_day_with_no_daylight_is_left_out_with_the_reason(effort: Effort | None) -> None:
    dark = workday(opening=None, daylight=None)
    task = task_of([visit("A")], [dark], ROAD)
    plan = make_plan(task, effort) if effort else hand_plan(task)
    assert plan.rounds == ()
    assert render(plan.unplanned[0].why[0]) == "hives cannot be opened on 1 Jun 2026"


def test_an_empty_list_of_visits_makes_an_empty_plan() -> None:
    plan = make_plan(task_of([], [workday()], ROAD), FEW)
    assert plan.rounds == plan.unplanned == ()


def test_a_visit_too_long_for_every_day_says_so() -> None:
    plan = make_plan(task_of([visit("A", service_minutes=400)], [workday()], ROAD), FEW)
    (left,) = plan.unplanned
    assert render(left.why[0]).startswith("400 minutes on site do not fit into the hours of I1")
    assert "longer day" in render(left.would_help[0])


@pytest.mark.parametrize("content", [b"", b"\x00\x01\x02 not a map", b"<osm><node id='1'"])
@pytest.mark.parametrize("name", ["cut.osm.pbf", "cut.osm"])
def test_a_corrupt_extract_is_named(tmp_path: Path, name: str, content: bytes) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(RoundsError, match=name):
        read_roads(path)


def test_an_extract_cut_short_is_named(tmp_path: Path) -> None:
    whole = tmp_path / "whole.osm"
    whole.write_text(
        '<osm version="0.6"><node id="1" lat="0" lon="0"/><node id="2" lat="0" lon="1"/>', encoding="utf-8"
    )
    with pytest.raises(RoundsError, match="cannot be read"):
        read_roads(whole)


def test_a_missing_extract_is_named(tmp_path: Path) -> None:
    with pytest.raises(RoundsError, match="There is no road file"):
        read_roads(tmp_path / "none.osm.pbf")


def test_an_extract_without_roads_is_named(tmp_path: Path) -> None:
    path = tmp_path / "sea.osm"
    path.write_text('<osm version="0.6"><node id="1" lat="0" lon="0"/></osm>', encoding="utf-8")
    with pytest.raises(RoundsError, match="holds no road"):
        read_roads(path)


@pytest.mark.parametrize("name", ["bad.json", "none.csv"])
def test_a_forecast_that_cannot_be_read_is_named(tmp_path: Path, name: str) -> None:
    if name == "bad.json":
        (tmp_path / name).write_text("{", encoding="utf-8")
    with pytest.raises(RoundsError, match=name):
        read_forecast_file(tmp_path / name, ZoneInfo("UTC"))


def test_a_place_that_is_not_in_the_travel_table_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="travel table"):
        task_of([visit("Z")], [workday()], ROAD)
