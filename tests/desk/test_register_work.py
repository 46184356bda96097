"""Finding apiaries, writing down visits, merging duplicates, choosing rules."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from tests.desk.conftest import LEAD, TODAY, apiary, make_desk, small_ground

from broodsweep.constants import Disease
from broodsweep.desk import apiaries, duplicates, outbreaks, rules
from broodsweep.desk.context import Desk
from broodsweep.errors import BroodsweepError, NotFoundError, RefusedError
from broodsweep.outbreak import EventKind
from broodsweep.register import Keeper, Visit


def test_search_finds_by_name_keeper_and_place_whatever_the_accents(desk: Desk) -> None:
    assert [line.apiary.apiary for line in apiaries.list_apiaries(desk, search="BRASK").lines] == ["C", "Z"]
    assert [line.apiary.apiary for line in apiaries.list_apiaries(desk, search="529").lines] == ["E"]
    assert apiaries.list_apiaries(desk, search="nobody").total == 0


def test_pages_and_orders(desk: Desk) -> None:
    page = apiaries.list_apiaries(desk, sort="colonies", limit=2)
    assert page.total == 7
    assert [line.apiary.apiary for line in page.lines] == ["N", "C"]
    longest_unseen = apiaries.list_apiaries(desk, sort="last_visit").lines
    assert [line.apiary.apiary for line in longest_unseen[-2:]] == ["N", "C"]
    with pytest.raises(ValueError, match="Expected sort"):
        apiaries.list_apiaries(desk, sort="age")


def test_the_sheet_holds_everything_known(desk: Desk) -> None:
    sheet = apiaries.apiary_sheet(desk, "C")
    assert sheet.keeper is not None
    assert sheet.same_keeper == ("Z",)
    assert len(sheet.moves) == 2
    with pytest.raises(NotFoundError):
        apiaries.apiary_sheet(desk, "Q")


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"visit": "V1"}, "on record"),
        ({"visited_on": TODAY + timedelta(days=1)}, "after today"),
        ({"colonies_confirmed": 9}, "confirmed"),
        ({"colonies_present": 2}, "present"),
        ({"apiary": "Q"}, "No apiary"),
    ],
)
def test_a_visit_that_cannot_be_is_refused_with_the_reason(
    desk: Desk, change: dict[str, object], word: str
) -> None:
    plain = {
        "visit": "V9",
        "apiary": "N",
        "visited_on": TODAY,
        "colonies_inspected": 4,
        "colonies_confirmed": 0,
    }
    before = desk.store.version()
    with pytest.raises(BroodsweepError, match=word):
        apiaries.record_visit(desk, LEAD, Visit(**{**plain, **change}))
    assert desk.store.version() == before


def test_an_apiary_found_on_the_way_is_in_the_register(desk: Desk) -> None:
    apiaries.add_apiary(desk, LEAD, apiary("NEW1", "OV 500 505"))
    assert "NEW1" in desk.snapshot().apiaries
    with pytest.raises(RefusedError):
        apiaries.add_apiary(desk, LEAD, apiary("NEW1", "OV 500 505"))


def test_the_map_marks_the_gravest_case(desk: Desk) -> None:
    outbreaks.open_outbreak(
        desk, LEAD, disease=Disease.AFB, apiary="C", found_on=date(2026, 7, 1), kind=EventKind.SUSPECTED
    )
    marks = {point.apiary: point.mark for point in apiaries.map_points(desk)}
    assert marks["C"] == "suspected"
    assert marks["N"] is None


def test_merging_carries_the_moves_over_and_a_case_is_not_dropped(desk: Desk) -> None:
    outbreaks.open_outbreak(
        desk, LEAD, disease=Disease.AFB, apiary="C", found_on=date(2026, 7, 1), kind=EventKind.SUSPECTED
    )
    with pytest.raises(RefusedError, match="is a case"):
        duplicates.merge(desk, LEAD, "apiary", "N", "C")
    duplicates.merge(desk, LEAD, "apiary", "F", "M")
    kept = desk.snapshot()
    assert "M" not in kept.apiaries
    assert any(move.to_apiary == "F" and move.goods == "nuclei" for move in kept.ground.moves)


def test_a_dismissed_pair_is_not_offered_again(desk: Desk) -> None:
    apiaries.add_apiary(desk, LEAD, apiary("N2", "OV 50010 51010", "K2", 9))
    pairs = {(pair.first, pair.second) for pair in duplicates.list_duplicates(desk)}
    assert ("N", "N2") in pairs
    duplicates.dismiss(desk, LEAD, "apiary", "N2", "N")
    assert ("N", "N2") not in {(pair.first, pair.second) for pair in duplicates.list_duplicates(desk)}


def test_the_chosen_rulebook_serves_new_outbreaks(desk: Desk) -> None:
    rules.choose_book(desk, LEAD, "switzerland")
    row = outbreaks.open_outbreak(
        desk, LEAD, disease=Disease.AFB, apiary="C", found_on=date(2026, 7, 1), kind=EventKind.SUSPECTED
    )
    assert row.rulebook == "switzerland"
    assert 2000.0 in outbreaks.outbreak_sheet(desk, row.outbreak, TODAY).radii_m
    with pytest.raises(NotFoundError):
        rules.choose_book(desk, LEAD, "atlantis")


def test_a_local_change_needs_a_reason_and_a_fitting_value(desk: Desk) -> None:
    with pytest.raises(BroodsweepError):
        rules.override_rule(desk, LEAD, "common-practice", "sweep.first_ring", 2000.0, "")
    with pytest.raises(BroodsweepError):
        rules.override_rule(desk, LEAD, "common-practice", "sweep.first_ring", -5, "wrong")
    assert desk.snapshot().settings.get(rules.OVERRIDES) is None


def test_a_new_keeper_never_takes_the_place_of_one_on_the_register(desk: Desk) -> None:
    with pytest.raises(RefusedError, match="Keeper K1 is on the register already"):
        apiaries.add_apiary(desk, LEAD, apiary("NEW2", "OV 500 505", "K1"), Keeper(keeper="K1"))
    assert desk.snapshot().keepers["K1"].name == "Ottar Brask"
    assert "NEW2" not in desk.snapshot().apiaries


def test_the_day_is_the_day_where_the_desk_stands() -> None:
    """Half past nine in the evening of 7 July UTC is the morning of 8 July in Wellington (UTC+12)."""
    made = make_desk(small_ground())
    evening = datetime(2026, 7, 7, 21, 30, tzinfo=UTC)
    there = Desk(store=made.store, books=made.books, now=lambda: evening, zone=timezone(timedelta(hours=12)))
    assert there.today() == date(2026, 7, 8)
    assert Desk(store=made.store, books=made.books, now=lambda: evening).today() == date(2026, 7, 7)
    seen = Visit(visit="V9", apiary="N", visited_on=there.today(), colonies_inspected=4, colonies_confirmed=0)
    assert apiaries.record_visit(there, LEAD, seen) == seen
    outbreak = outbreaks.open_outbreak(
        there, LEAD, disease=Disease.AFB, apiary="C", found_on=there.today(), kind=EventKind.SUSPECTED
    )
    assert outbreak.cases[0].events[0].recorded_at == evening
