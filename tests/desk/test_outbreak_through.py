"""A case followed through: from the first suspect cell to the release, as the desk sees it."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from tests.desk.conftest import LEAD, TODAY

from broodsweep.constants import Disease
from broodsweep.desk import outbreaks, overview
from broodsweep.desk.apiaries import record_visit
from broodsweep.desk.context import Desk
from broodsweep.errors import NotFoundError, RefusedError
from broodsweep.outbreak import CaseState, EventKind
from broodsweep.register import Visit

FOUND = date(2026, 7, 1)


def opened(desk: Desk, kind: EventKind = EventKind.SUSPECTED) -> str:
    row = outbreaks.open_outbreak(
        desk,
        LEAD,
        disease=Disease.AFB,
        apiary="C",
        found_on=FOUND,
        kind=kind,
        evidence="rope 3 cm",
        detail={"by": "laboratory"},
    )
    return row.outbreak


def step(desk: Desk, name: str, kind: EventKind, on: date, **detail: object) -> None:
    outbreaks.record_event(desk, LEAD, name, "C", kind=kind, happened_on=on, detail=detail)


def state(desk: Desk, name: str, on: date = TODAY) -> CaseState:
    return outbreaks.outbreak_sheet(desk, name, on).cases[0].state


def test_opening_names_the_outbreak_by_disease_year_and_number(desk: Desk) -> None:
    assert opened(desk) == "AFB-2026-1"
    second = outbreaks.open_outbreak(
        desk, LEAD, disease=Disease.AFB, apiary="Z", found_on=FOUND, kind=EventKind.SUSPECTED
    )
    assert second.outbreak == "AFB-2026-2"
    third = outbreaks.open_outbreak(
        desk, LEAD, disease=Disease.EFB, apiary="C", found_on=FOUND, kind=EventKind.SUSPECTED
    )
    assert third.outbreak == "EFB-2026-1"


def test_the_whole_way_to_release(desk: Desk) -> None:
    name = opened(desk)
    assert state(desk, name) == CaseState.SUSPECTED
    desk.as_of = date(2026, 9, 30)
    desk.now = lambda: datetime(2026, 9, 30, 8, tzinfo=UTC)
    step(desk, name, EventKind.NOTIFIED, FOUND)
    step(desk, name, EventKind.SAMPLE_SENT, FOUND)
    assert state(desk, name, desk.today()) == CaseState.AWAITING_RESULT
    step(desk, name, EventKind.CONFIRMED, date(2026, 7, 3), by="laboratory")
    assert state(desk, name, desk.today()) == CaseState.CONFIRMED
    for kind in (EventKind.NOTICE_SERVED, EventKind.COLONIES_DESTROYED, EventKind.COMB_BURNED):
        step(desk, name, kind, date(2026, 7, 4))
    for kind in (EventKind.EQUIPMENT_DISINFECTED, EventKind.SITE_CLOSED_UP, EventKind.KIT_CLEANED):
        step(desk, name, kind, date(2026, 7, 4))
    assert state(desk, name, desk.today()) == CaseState.IN_REINSPECTION
    sheet = outbreaks.outbreak_sheet(desk, name, date(2026, 7, 8))
    again = next(row for row in sheet.due if row.key == "reinspection")
    assert again.due_on == date(2026, 7, 4) + timedelta(weeks=6)
    with pytest.raises(RefusedError):
        step(desk, name, EventKind.RELEASED, date(2026, 7, 10))
    step(desk, name, EventKind.REINSPECTED_CLEAN, date(2026, 8, 20))
    step(desk, name, EventKind.RELEASED, date(2026, 8, 21))
    assert state(desk, name, desk.today()) == CaseState.RELEASED
    closed = outbreaks.close_outbreak(desk, LEAD, name, desk.today())
    assert closed.closed_on == desk.today()
    assert not outbreaks.outbreak_sheet(desk, name, desk.today()).forbidden


def test_a_refused_step_changes_nothing(desk: Desk) -> None:
    name = opened(desk)
    before = desk.store.version()
    with pytest.raises(RefusedError):
        step(desk, name, EventKind.COLONIES_DESTROYED, FOUND)
    with pytest.raises(RefusedError, match="after today"):
        step(desk, name, EventKind.CONFIRMED, TODAY + timedelta(days=1))
    assert desk.store.version() == before


def test_an_apiary_has_one_open_case_of_a_disease(desk: Desk) -> None:
    name = opened(desk)
    with pytest.raises(RefusedError, match=name):
        opened(desk)
    with pytest.raises(RefusedError, match=name):
        outbreaks.add_case(desk, LEAD, name, apiary="C", found_on=FOUND, kind=EventKind.SUSPECTED)


def test_a_second_case_joins_the_outbreak(desk: Desk) -> None:
    name = opened(desk)
    row = outbreaks.add_case(desk, LEAD, name, apiary="N", found_on=TODAY, kind=EventKind.SUSPECTED)
    assert [case.apiary for case in row.cases] == ["C", "N"]
    line = outbreaks.list_outbreaks(desk, TODAY)[0]
    assert line.cases == 2
    assert line.cases_by_state == {CaseState.SUSPECTED: 2}


def test_an_outbreak_with_an_open_case_is_not_closed(desk: Desk) -> None:
    name = opened(desk)
    with pytest.raises(RefusedError):
        outbreaks.close_outbreak(desk, LEAD, name, TODAY)


def test_what_is_not_there_is_said_with_what_is(desk: Desk) -> None:
    with pytest.raises(NotFoundError, match="No outbreak"):
        outbreaks.outbreak_sheet(desk, "AFB-1999-1", TODAY)
    with pytest.raises(NotFoundError, match="No apiary"):
        outbreaks.open_outbreak(
            desk, LEAD, disease=Disease.AFB, apiary="X", found_on=FOUND, kind=EventKind.SUSPECTED
        )
    with pytest.raises(NotFoundError, match="common-practice"):
        outbreaks.open_outbreak(
            desk,
            LEAD,
            disease=Disease.AFB,
            apiary="C",
            found_on=FOUND,
            kind=EventKind.SUSPECTED,
            rulebook="atlantis",
        )


def test_today_shows_the_finding_until_an_outbreak_holds_it(desk: Desk) -> None:
    assert [row.visit.visit for row in overview.today(desk, TODAY).findings] == ["V2"]
    opened(desk)
    sheet = overview.today(desk, TODAY)
    assert sheet.findings == ()
    assert sheet.overdue or sheet.at_once
    assert [lot.lot for lot in sheet.lots] == ["T-31"]


def test_a_standstill_forbids_moves_while_the_case_is_open(desk: Desk) -> None:
    name = opened(desk)
    bans = overview.forbidden_of(desk, TODAY)
    assert {row.apiary for row in bans} == {"C"}
    assert all(row.outbreak == name for row in bans)
    assert any("colonies" in row.goods for row in bans)


def test_another_disease_does_not_join_an_outbreak(desk: Desk) -> None:
    name = opened(desk)
    with pytest.raises(RefusedError, match="is of American foulbrood, not of European foulbrood"):
        outbreaks.add_case(
            desk, LEAD, name, apiary="N", found_on=FOUND, kind=EventKind.SUSPECTED, disease=Disease.EFB
        )


def test_a_fresh_finding_at_a_released_case_is_shown_again(desk: Desk) -> None:
    """The old outbreak holds what was found in it, not what is found a year later."""
    name = opened(desk)
    step(desk, name, EventKind.NOT_CONFIRMED, date(2026, 7, 3))
    assert overview.today(desk, TODAY).findings == ()  # V2 of 1 July is what the outbreak was opened on
    again = Visit(
        visit="V9",
        apiary="C",
        visited_on=TODAY,
        colonies_inspected=5,
        colonies_confirmed=0,
        colonies_suspect=1,
        disease=Disease.AFB,
    )
    record_visit(desk, LEAD, again)
    assert [row.visit.visit for row in overview.today(desk, TODAY).findings] == ["V9"]
    step(desk, name, EventKind.REOPENED, TODAY)
    assert overview.today(desk, TODAY).findings == ()


def test_another_rulebook_is_looked_by_without_touching_the_record(desk: Desk) -> None:
    name = opened(desk, EventKind.CONFIRMED)
    there = Desk(store=desk.store, books=desk.books, now=desk.now, as_of=TODAY, rulebook="germany")
    assert outbreaks.outbreak_sheet(there, name, TODAY).rulebook_title == desk.books["germany"].title
    assert 1000.0 in outbreaks.outbreak_sheet(there, name, TODAY).radii_m  # the German zone
    assert desk.snapshot().outbreak(name).rulebook == "common-practice"
