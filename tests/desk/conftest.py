"""A small invented district and a desk on it, in memory."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from broodsweep.constants import Disease, Goods
from broodsweep.desk.context import Desk
from broodsweep.desk.ports import Author
from broodsweep.geo import parse_place
from broodsweep.register import TABLES, Apiary, Ground, Keeper, Lot, Move, Visit
from broodsweep.rulebook import load_books
from broodsweep.store import MemoryStore

TODAY = date(2026, 7, 8)
LEAD = Author(who="lead", device="test")


def apiary(name: str, place: str, keeper: str | None = None, colonies: int = 5) -> Apiary:
    return Apiary(apiary=name, place=parse_place(place), colonies=colonies, keeper=keeper)


def small_ground() -> Ground:
    """C is the case; N lies 1 km off, E 2.96 to 3.1 km (its square straddles the line), F 4 km, Z 40 km."""
    return Ground(
        keepers=(
            Keeper(keeper="K1", name="Ottar Brask", phone="01000 000001"),
            Keeper(keeper="K2", name="Una Selvik"),
        ),
        apiaries=(
            apiary("C", "OV 50000 50000", "K1"),
            apiary("N", "OV 50000 51000", "K2", 9),
            apiary("E", "OV 529 499"),
            apiary("F", "OV 50000 54000"),
            apiary("Z", "OV 90000 50000", "K1"),
            apiary("M", "OV 80000 80000", "K2"),
            Apiary(apiary="L", place=parse_place("OV 50100 50100"), colonies=3, left_on=date(2025, 9, 1)),
        ),
        moves=(
            Move(moved_on=date(2026, 5, 3), goods=Goods.NUCLEI, from_apiary="C", to_apiary="M", quantity=2),
            Move(moved_on=date(2019, 5, 3), goods=Goods.COLONIES, from_apiary="C", to_apiary="F", quantity=1),
        ),
        visits=(
            Visit(
                visit="V1",
                apiary="N",
                visited_on=date(2026, 5, 27),
                colonies_inspected=4,
                colonies_confirmed=0,
                colonies_present=9,
            ),
            Visit(
                visit="V2",
                apiary="C",
                visited_on=date(2026, 7, 1),
                colonies_inspected=5,
                colonies_confirmed=0,
                colonies_suspect=1,
                disease=Disease.AFB,
            ),
        ),
        lots=(Lot(lot="T-31", kit="AFB lateral flow", expires_on=date(2026, 7, 30), count=10),),
    )


@pytest.fixture
def desk() -> Desk:
    """A desk that stands at the eighth of July 2026."""
    return make_desk(small_ground())


def make_desk(ground: Ground) -> Desk:
    """Return a desk on a ground, in memory."""
    store = MemoryStore(now=lambda: datetime(2026, 7, 8, 9, 30, tzinfo=UTC))
    with store.work(Author(who="setup"), "load") as work:
        for table in TABLES:
            work.save(table.name, getattr(ground, table.name))
    return Desk(
        store=store, books=load_books(), now=lambda: datetime(2026, 7, 8, 9, 30, tzinfo=UTC), as_of=TODAY
    )
