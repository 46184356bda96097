"""Whose round a phone takes along, and that where one was stays in the satchel."""

from __future__ import annotations

from datetime import date

from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.outbreaks import open_outbreak
from broodsweep.desk.ports import Author
from broodsweep.desk.satchel import inspector_of, satchel
from broodsweep.geo import parse_place
from broodsweep.outbreak import EventKind
from broodsweep.register import Inspector, Visit

DAY = date(2026, 7, 8)
WHO = "Una Selvik"


def with_inspectors(desk: Desk, *names: str) -> Desk:
    home = parse_place("OV 50000 50000")
    rows = [Inspector(inspector=f"I{n}", home=home, name=name) for n, name in enumerate(names, start=1)]
    with desk.store.work(Author(who="test"), "load") as work:
        work.save("inspectors", rows)
    return desk


def test_the_inspector_is_found_by_name_when_one_has_it(desk: Desk) -> None:
    kept = with_inspectors(desk, WHO, "Ottar Brask").snapshot()
    assert inspector_of(kept, WHO) == "I1"
    assert inspector_of(kept, "I2") == "I2"
    assert inspector_of(kept, "Somebody Else") is None
    assert inspector_of(with_inspectors(desk, WHO, WHO).snapshot(), WHO) is None


def test_where_one_was_today_stays_in_the_satchel(desk: Desk) -> None:
    with_inspectors(desk, WHO)
    open_outbreak(
        desk, Author(who="test"), disease=Disease.AFB, apiary="C", found_on=DAY, kind=EventKind.SUSPECTED
    )
    before = satchel(desk, None, DAY, who=WHO)
    stop = before.candidates[0].apiary
    visit = Visit(
        visit="V-today",
        apiary=stop,
        visited_on=DAY,
        colonies_inspected=4,
        colonies_confirmed=0,
        inspector="I1",
    )
    with desk.store.work(Author(who="test"), "visit") as work:
        work.save("visits", [visit])
    after = satchel(desk, None, DAY, who=WHO)
    assert stop not in [row.apiary for row in after.candidates]
    (kept,) = [row for row in after.apiaries if row.apiary.apiary == stop]
    assert kept.history, "as at a stop"
    assert {row.keeper for row in after.keepers} >= {kept.apiary.keeper}
