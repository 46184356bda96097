"""Looks at an apiary without a case: kept, shown again, taken up when a case is opened."""

from __future__ import annotations

from datetime import date

import pytest

from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.duplicates import merge
from broodsweep.desk.evidence import attach
from broodsweep.desk.kits import kits
from broodsweep.desk.looks import LOOK, keep_look, kept_look, looks_at
from broodsweep.desk.weighing import Look
from broodsweep.diagnosis import Reading, Season, State
from broodsweep.errors import NotFoundError, RefusedError
from broodsweep.outbreak import EventKind
from broodsweep.words import render

from .conftest import LEAD, TODAY

ROPY = {"caps_sunken": True, "coffee_brown": True, "larva_twisted": False}
KIT = Reading(
    test="lateral_flow_afb", lines=frozenset("CT"), read_after_min=3.0, lot="T-31", done_on=TODAY, sample="1"
)


def look(apiary: str | None = "N", **more: object) -> Look:
    return Look(looked_on=TODAY, apiary=apiary, **more)  # type: ignore[arg-type]


def keep(desk: Desk, given: Look) -> int:
    return keep_look(desk, LEAD, given, write=render).number


def test_a_look_is_kept_as_it_was_entered_and_weighed(desk: Desk) -> None:
    given = look(
        signs=ROPY,
        tests=(KIT,),
        season=Season.SPRING,
        observer="untrained",
        bought_in=True,
        uses_hidden=False,
    )
    kept = keep_look(desk, LEAD, given, write=render)
    assert kept.look == given, "enough to take it up again"
    assert (kept.who, kept.looked_on, kept.state) == ("lead", TODAY, State.CONFIRMED)
    assert kept.conditions[0][0] == "AFB"
    assert "sunken caps" in kept.text
    assert "Not looked at" in kept.text
    assert kept.suspects is Disease.AFB
    entry = desk.store.journal()[-1]
    assert (entry.who, entry.what, entry.key) == ("lead", "keep_look", f"{LOOK}1")


def test_looks_of_an_apiary_come_newest_first_and_others_do_not(desk: Desk) -> None:
    first = keep(desk, look(signs={"patchy": False}))
    second = keep(desk, look(signs={"patchy": True}))
    old = keep(desk, Look(looked_on=date(2026, 5, 1), apiary="N", signs={"mummies": True}))
    keep(desk, look("F", signs={"patchy": True}))
    assert [row.number for row in looks_at(desk, "N")] == [second, first, old]
    assert looks_at(desk, "Z") == ()


def test_a_look_without_suspicion_offers_no_case(desk: Desk) -> None:
    kept = keep_look(desk, LEAD, look(signs={"caps_sunken": False, "mummies": True}), write=render)
    assert kept.state is State.LOOK_FURTHER
    assert kept.suspects is None


def test_a_case_opened_on_a_look_says_so_at_the_look(desk: Desk) -> None:
    number = keep(desk, look(signs=ROPY, tests=(KIT,)))
    assert kept_look(desk, number).outbreak is None
    opened = attach(
        desk,
        LEAD,
        kept_look(desk, number).look,
        disease=Disease.AFB,
        kind=EventKind.SUSPECTED,
        write=render,
        kept_look=number,
    )
    assert looks_at(desk, "N")[0].outbreak == opened.outbreak


def test_a_kit_counts_once_whether_at_the_look_or_in_the_case_opened_on_it(desk: Desk) -> None:
    def left() -> int | None:
        return next(kit.left for kit in kits(desk, TODAY) if kit.lot.lot == "T-31")

    before = left()
    assert before is not None
    number = keep(desk, look(signs=ROPY, tests=(KIT,)))
    assert left() == before - 1
    attach(
        desk,
        LEAD,
        kept_look(desk, number).look,
        disease=Disease.AFB,
        kind=EventKind.SUSPECTED,
        write=render,
        kept_look=number,
    )
    assert left() == before - 1


def test_looks_go_with_an_apiary_that_turns_out_to_be_another(desk: Desk) -> None:
    number = keep(desk, look("E", signs=ROPY))
    merge(desk, LEAD, "apiary", "N", "E")
    assert [row.number for row in looks_at(desk, "N")] == [number]
    assert kept_look(desk, number).look.apiary == "N"


@pytest.mark.parametrize(
    ("given", "key"), [(look(None, signs=ROPY), "weigh.needs_apiary"), (look(), "weigh.needs_look")]
)
def test_a_look_needs_a_place_and_something_seen(desk: Desk, given: Look, key: str) -> None:
    with pytest.raises(RefusedError) as refused:
        keep(desk, given)
    assert refused.value.message.key == key


def test_a_look_that_is_not_there_is_said(desk: Desk) -> None:
    with pytest.raises(NotFoundError, match="number 7"):
        kept_look(desk, 7)
