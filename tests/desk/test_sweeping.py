"""The sweep list: who is on it, in which order, and why."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from tests.desk.conftest import LEAD, TODAY

from broodsweep.constants import Disease, Goods
from broodsweep.desk import outbreaks, rules, sweeping
from broodsweep.desk.answers import SweepList
from broodsweep.desk.apiaries import record_visit
from broodsweep.desk.context import Desk
from broodsweep.outbreak import EventKind
from broodsweep.register import Move, Visit
from broodsweep.surveillance.sweep import left_after
from broodsweep.words import render


@pytest.fixture
def name(desk: Desk) -> str:
    row = outbreaks.open_outbreak(
        desk, LEAD, disease=Disease.AFB, apiary="C", found_on=date(2026, 7, 1), kind=EventKind.SUSPECTED
    )
    return row.outbreak


def listed(desk: Desk, name: str) -> SweepList:
    return sweeping.sweep_list(desk, name, TODAY)


def test_everyone_in_the_rings_the_same_keeper_and_the_moves_are_on_it(desk: Desk, name: str) -> None:
    assert {stop.apiary.apiary for stop in listed(desk, name).stops} == {"N", "E", "F", "Z", "M"}


def test_the_case_itself_and_those_who_left_are_not(desk: Desk, name: str) -> None:
    assert not {"C", "L"} & {stop.apiary.apiary for stop in listed(desk, name).stops}


def test_a_square_across_the_line_cannot_be_told_and_is_swept(desk: Desk, name: str) -> None:
    stop = next(row for row in listed(desk, name).stops if row.apiary.apiary == "E")
    assert stop.ring is not None
    assert stop.ring.answers == ("cannot_tell", "in")
    assert stop.ring.nearest_m < 3000 < stop.ring.farthest_m


def test_reasons_are_in_words(desk: Desk, name: str) -> None:
    said = {row.apiary.apiary: [render(reason) for reason in row.reasons] for row in listed(desk, name).stops}
    assert "nuclei received from C on 3 May 2026" in said["M"]
    assert "same keeper as C" in said["Z"]
    assert "last clean visit 4 of 9 colonies, 42 days ago" in said["N"]
    assert "no visit on record" in said["F"]


def test_a_distance_known_loosely_is_told_as_a_range(desk: Desk, name: str) -> None:
    said = {row.apiary.apiary: [render(reason) for reason in row.reasons] for row in listed(desk, name).stops}
    assert "999 m from C" in said["N"]  # squares of 1 m
    assert "2.9 km to 3.0 km from C" in said["E"]  # a square of 100 m


def test_a_keeper_with_two_cases_counts_for_both(desk: Desk, name: str) -> None:
    before = next(row for row in listed(desk, name).stops if row.apiary.apiary == "Z")
    moved = replace(desk.snapshot().apiaries["M"], keeper="K1")
    with desk.store.work(LEAD, "move_keeper") as work:
        work.save("apiaries", [moved])
    outbreaks.add_case(desk, LEAD, name, apiary="M", found_on=date(2026, 7, 2), kind=EventKind.SUSPECTED)
    after = next(row for row in listed(desk, name).stops if row.apiary.apiary == "Z")
    assert after.score == pytest.approx(100 * (1 - math.exp(-0.8)), abs=0.1)  # twice 0.4; 40 km away
    assert after.score > before.score
    assert {"same keeper as C", "same keeper as M"} <= {render(reason) for reason in after.reasons}


def test_a_visit_on_which_no_hive_was_opened_sweeps_nothing(desk: Desk, name: str) -> None:
    shut = Visit(visit="V8", apiary="N", visited_on=TODAY, colonies_inspected=0, colonies_confirmed=0)
    before = next(row for row in listed(desk, name).stops if row.apiary.apiary == "N")
    record_visit(desk, LEAD, shut)
    after = next(row for row in listed(desk, name).stops if row.apiary.apiary == "N")
    assert after.seen_on is None
    assert after.score == before.score


def test_an_apiary_found_empty_is_seen_and_says_so(desk: Desk, name: str) -> None:
    gone = Visit(
        visit="V8",
        apiary="F",
        visited_on=TODAY,
        colonies_inspected=0,
        colonies_confirmed=0,
        colonies_present=0,
    )
    record_visit(desk, LEAD, gone)
    after = next(row for row in listed(desk, name).stops if row.apiary.apiary == "F")
    assert after.seen_on == TODAY
    assert "no colonies stood there today" in {render(reason) for reason in after.reasons}


def test_moves_outside_the_tracing_window_do_not_count(desk: Desk, name: str) -> None:
    said = {row.apiary.apiary: [render(reason) for reason in row.reasons] for row in listed(desk, name).stops}
    assert not any("colonies received" in reason for reason in said["F"])


def test_the_tracing_window_goes_on_with_the_latest_case(desk: Desk, name: str) -> None:
    """Opened on 1 July, traced for 42 days (common practice, our own choice): to 12 August. A case found on 1 August
    is traced to 12 September."""
    late = Move(moved_on=date(2026, 8, 20), goods=Goods.NUCLEI, from_apiary="N", to_apiary="M", quantity=1)
    there = Desk(store=desk.store, books=desk.books, now=desk.now, as_of=date(2026, 9, 1))
    with desk.store.work(LEAD, "load") as work:
        work.save("moves", [late])

    def said() -> list[str]:
        stops = sweeping.sweep_list(there, name, there.today()).stops
        stop = next(row for row in stops if row.apiary.apiary == "M")
        return [render(reason) for reason in stop.reasons]

    assert "nuclei received from N on 20 Aug 2026" not in said()
    clock = datetime(2026, 8, 1, 12, tzinfo=UTC)
    august = Desk(store=desk.store, books=desk.books, now=lambda: clock)
    outbreaks.add_case(august, LEAD, name, apiary="N", found_on=date(2026, 8, 1), kind=EventKind.CONFIRMED)
    assert "nuclei received from N on 20 Aug 2026" in said()


def test_the_order_follows_the_documented_rule(desk: Desk, name: str) -> None:
    """By hand: 100 (1 - exp(-sum)); N: exp(-1.0/1.2), size sqrt(9/5), clean visit 4 of 9 42 days ago leaves the rest."""
    scores = {row.apiary.apiary: row.score for row in listed(desk, name).stops}
    pressure = math.exp(-999.99 / 1200) * math.sqrt(9 / 5) * (1 - 0.8 * 4 / 9 * math.exp(-42 / 87))
    assert scores["N"] == pytest.approx(100 * (1 - math.exp(-pressure)), abs=0.1)
    assert scores["M"] == pytest.approx(100 * (1 - math.exp(-1.0)), abs=0.1)
    assert scores["Z"] == pytest.approx(100 * (1 - math.exp(-0.4)), abs=0.1)
    ranked = [row.score for row in listed(desk, name).stops]
    assert ranked == sorted(ranked, reverse=True)


def test_a_visit_marks_the_stop_as_seen_and_lowers_it(desk: Desk, name: str) -> None:
    before = next(row for row in listed(desk, name).stops if row.apiary.apiary == "F")
    record_visit(
        desk,
        LEAD,
        Visit(visit="V9", apiary="F", visited_on=TODAY, colonies_inspected=5, colonies_confirmed=0),
    )
    sweep = listed(desk, name)
    after = next(row for row in sweep.stops if row.apiary.apiary == "F")
    assert after.seen_on == TODAY
    assert after.score < before.score
    assert (sweep.seen, sweep.unseen) == (1, 4)


def test_rings_follow_a_local_change_of_the_rulebook(desk: Desk, name: str) -> None:
    rules.override_rule(desk, LEAD, "common-practice", "sweep.widened_ring", 3500.0, "small island")
    sheet = outbreaks.outbreak_sheet(desk, name, TODAY)
    assert sheet.radii_m == (3000.0, 3500.0)
    assert sheet.locally_changed == ("sweep.widened_ring",)
    assert "F" not in {stop.apiary.apiary for stop in listed(desk, name).stops}
    rules.clear_override(desk, LEAD, "common-practice", "sweep.widened_ring")
    assert outbreaks.outbreak_sheet(desk, name, TODAY).radii_m == (3000.0, 5000.0)


def test_a_case_not_confirmed_is_swept_round_no_more(desk: Desk, name: str) -> None:
    outbreaks.record_event(desk, LEAD, name, "C", kind=EventKind.SAMPLE_SENT, happened_on=date(2026, 7, 2))
    outbreaks.record_event(desk, LEAD, name, "C", kind=EventKind.NOT_CONFIRMED, happened_on=date(2026, 7, 6))
    assert listed(desk, name).stops == ()


def test_outlines_are_closed_geodesic_circles(desk: Desk, name: str) -> None:
    outline = sweeping.ring_outlines(desk, name, TODAY)
    assert [row["properties"]["radius_m"] for row in outline["features"]] == [3000.0, 5000.0]
    ring = outline["features"][0]["geometry"]["coordinates"][0]
    assert ring[0] == ring[-1]
    from pyproj import Geod

    centre = desk.snapshot().apiaries["C"].place
    for longitude, latitude in ring[::30]:
        _, _, away_m = Geod(ellps="WGS84").inv(centre.longitude, centre.latitude, longitude, latitude)
        assert away_m == pytest.approx(3000.0, abs=0.02)


def test_a_clean_look_at_nothing_counts_for_nothing() -> None:
    empty = Visit(visit="V", apiary="A", visited_on=TODAY, colonies_inspected=0, colonies_confirmed=0)
    assert left_after(empty, TODAY) == 1.0
