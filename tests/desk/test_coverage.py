"""How much the register knows, as finished sweeps tell it; and what a run takes from it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.coverage import coverage_of
from broodsweep.desk.outbreaks import open_outbreak
from broodsweep.desk.ports import Author
from broodsweep.desk.rehearsing import STANDARD, strategy_said
from broodsweep.fieldbook.effects import FOUND_BY
from broodsweep.geo import parse_place
from broodsweep.outbreak import EventKind
from broodsweep.register import Apiary, Visit
from broodsweep.rulebook import load_books
from broodsweep.spread.unregistered import chapman, count_unregistered
from broodsweep.store import MemoryStore
from broodsweep.words import Message, render

DAY = date(2026, 7, 8)
LEAD = Author(who="Una Selvik", device="test")


def desk_with(*, found: int, registered: int, visited: int) -> Desk:
    """A case, registered apiaries and found ones within 1 km, one far off; so many of the registered were visited."""
    now = datetime(2026, 7, 8, 9, tzinfo=UTC)
    desk = Desk(store=MemoryStore(now=lambda: now), books=load_books(None), now=lambda: now, as_of=DAY)
    near = [
        Apiary(apiary=f"R{n:02}", place=parse_place(f"OV 50{n:03} 50000"), colonies=4)
        for n in range(registered)
    ]
    on_the_way = [
        Apiary(
            apiary=f"F{n:02}", place=parse_place(f"OV 50{n:03} 50300"), colonies=4, extra=((FOUND_BY, "I1"),)
        )
        for n in range(found)
    ]
    far = Apiary(apiary="Z", place=parse_place("OV 90000 50000"), colonies=4)
    looked = [*near[:visited], *on_the_way, far]
    with desk.store.work(LEAD, "load") as work:
        work.save("apiaries", [*near, *on_the_way, far])
        work.save(
            "visits",
            [
                Visit(
                    visit=f"V-{row.apiary}",
                    apiary=row.apiary,
                    visited_on=DAY - timedelta(days=2),
                    colonies_inspected=4,
                    colonies_confirmed=0,
                )
                for row in looked
            ],
        )
    open_outbreak(
        desk,
        LEAD,
        disease=Disease.AFB,
        apiary="R00",
        found_on=DAY - timedelta(days=7),
        kind=EventKind.CONFIRMED,
        detail={"by": "laboratory"},
    )
    return desk


def test_a_finished_sweep_that_found_apiaries_says_how_many_more_there_are() -> None:
    coverage = coverage_of(desk_with(found=3, registered=20, visited=18), DAY)
    assert coverage and (coverage.registered, coverage.seen, coverage.seen_registered) == (20, 21, 18)
    # Chapman 1951: (n1 + 1)(n2 + 1)/(m + 1) - 1, by hand
    assert chapman(20, 21, 18)[0] == 21 * 22 / 19 - 1
    counted = count_unregistered(200, coverage)
    assert counted.by_sweeps and 30 <= counted.low <= counted.count <= counted.high


def test_an_unfinished_sweep_says_nothing() -> None:
    assert coverage_of(desk_with(found=3, registered=20, visited=17), DAY) is None


def test_a_team_that_never_entered_a_found_apiary_says_nothing() -> None:
    assert coverage_of(desk_with(found=0, registered=20, visited=20), DAY) is None


def test_what_lies_outside_the_ring_or_was_seen_before_the_outbreak_is_not_counted() -> None:
    desk = desk_with(found=2, registered=20, visited=20)
    coverage = coverage_of(desk, DAY)
    assert coverage and coverage.registered == 20, "Z lies 40 km off"
    early = [
        replace(row, visited_on=DAY - timedelta(days=30))
        for row in desk.snapshot().ground.visits
        if row.apiary.startswith("F")
    ]
    with desk.store.work(LEAD, "amend") as work:
        work.save("visits", early)
    again = coverage_of(desk, DAY)
    assert again and again.seen == 20


def test_a_run_takes_it_from_the_record() -> None:
    from broodsweep.desk.hidden import look_for_hidden
    from broodsweep.spread import Settings

    quick = Settings(chains=2, warm_sweeps=100, batch_sweeps=200, least_batches=1, most_batches=1, draws=50)
    found = look_for_hidden(desk_with(found=3, registered=20, visited=20), Disease.AFB, DAY, settings=quick)
    assert found.answer.unregistered["by_sweeps"] is True


def test_the_standard_strategies_have_words_and_a_users_name_stays() -> None:
    for row in STANDARD:
        said = strategy_said(row.name)
        assert isinstance(said, Message) and "km" in render(said)
    assert strategy_said("My own") == "My own"
