"""The record as it stands: read anew when it moved, and only what moved."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

from tests.desk.conftest import LEAD, small_ground

from broodsweep.constants import Disease
from broodsweep.desk import duplicates, outbreaks
from broodsweep.desk.apiaries import record_visit
from broodsweep.desk.context import Desk
from broodsweep.outbreak import EventKind
from broodsweep.register import TABLES, Keeper, Visit
from broodsweep.rulebook import load_books
from broodsweep.store import open_store


def test_a_visit_leaves_the_indexes_of_the_apiaries_as_they_are(tmp_path: Path) -> None:
    def clock() -> datetime:
        return datetime(2026, 7, 8, 9, tzinfo=UTC)

    with open_store(tmp_path / "s.sqlite", now=clock) as store:
        with store.work(LEAD, "load") as work:
            for table in TABLES:
                work.save(table.name, getattr(small_ground(), table.name))
            work.save("keepers", [Keeper(keeper="K3", name="Ottar Brask", phone="01000 000001")])
        desk = Desk(store=store, books=load_books(), now=clock)
        before = desk.snapshot()
        assert [(row.kind, row.first, row.second) for row in before.duplicates] == [("keeper", "K1", "K3")]
        assert len(before.places) == len(before.ground.apiaries)
        visit = Visit(
            visit="V9", apiary="N", visited_on=date(2026, 7, 8), colonies_inspected=1, colonies_confirmed=0
        )
        record_visit(desk, LEAD, visit)
        after = desk.snapshot()
        assert after is not before
        assert after.places is before.places
        assert after.duplicates is before.duplicates
        assert after.last_visit("N") == visit
        outbreaks.open_outbreak(
            desk, LEAD, disease=Disease.AFB, apiary="C", found_on=date(2026, 7, 8), kind=EventKind.SUSPECTED
        )
        assert set(desk.snapshot().marks) == {"C"}
        assert desk.snapshot().visits is after.visits
        duplicates.dismiss(desk, LEAD, "keeper", "K1", "K3")
        assert desk.snapshot().duplicates == ()
        with store.work(LEAD, "remove") as work:
            work.remove("apiaries", ["L"])
        assert len(desk.snapshot().places) == len(before.places) - 1
