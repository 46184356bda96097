"""A small invented district behind the web application, in memory."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from broodsweep.constants import Disease, Goods
from broodsweep.desk import outbreaks
from broodsweep.desk.context import Desk
from broodsweep.desk.ports import Author
from broodsweep.geo import parse_place
from broodsweep.outbreak import EventKind
from broodsweep.register import TABLES, Apiary, Ground, Keeper, Lot, Move, Visit
from broodsweep.rulebook import load_books
from broodsweep.store import MemoryStore
from broodsweep.web import create_app

with warnings.catch_warnings():
    # Starlette's client asks for another HTTP library than the one that is locked here.
    warnings.simplefilter("ignore")
    from fastapi.testclient import TestClient

TODAY = date(2026, 7, 8)
LEAD = Author(who="Ottar Brask", device="test")
HOST = "http://127.0.0.1:8741"


def district() -> Ground:
    """C has the disease; N lies 1 km off, E straddles the 3 km line, Z 40 km off; K2 and K3 look alike."""
    return Ground(
        keepers=(
            Keeper(keeper="K1", name="Ottar Brask", phone="01632 960001"),
            Keeper(keeper="K2", name="Una Selvik", phone="01632 960002"),
            Keeper(keeper="K3", name="Una Selvick", phone="01632 960002"),
        ),
        apiaries=(
            Apiary(apiary="C", place=parse_place("OV 50000 50000"), colonies=5, keeper="K1"),
            Apiary(
                apiary="N", place=parse_place("OV 50000 51000"), colonies=9, keeper="K2", notes="Black gate"
            ),
            Apiary(apiary="E", place=parse_place("OV 529 499"), colonies=4, keeper="K3"),
            Apiary(apiary="Z/1", place=parse_place("OV 90000 50000"), colonies=2, keeper="K1"),
        ),
        moves=(
            Move(moved_on=date(2026, 5, 3), goods=Goods.NUCLEI, from_apiary="C", to_apiary="Z/1", quantity=2),
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
                apiary="E",
                visited_on=date(2026, 7, 6),
                colonies_inspected=4,
                colonies_confirmed=0,
                colonies_suspect=1,
                disease=Disease.EFB,
            ),
        ),
        lots=(Lot(lot="LOT-7", kit="AFB field kit", expires_on=date(2026, 8, 1), count=12),),
    )


def make_desk(ground: Ground | None) -> Desk:
    """Return a desk on a ground, with an outbreak opened at C when there is one."""
    instant = datetime(2026, 7, 8, 9, 30, tzinfo=UTC)
    store = MemoryStore(now=lambda: instant)
    desk = Desk(store=store, books=load_books(None), now=lambda: instant, as_of=TODAY)
    if ground is None:
        return desk
    with store.work(LEAD, "load") as work:
        for table in TABLES:
            work.save(table.name, getattr(ground, table.name))
        work.set("who", LEAD.who)
        work.set("title", "Skarnsey district")
    outbreaks.open_outbreak(
        desk,
        LEAD,
        disease=Disease.AFB,
        apiary="C",
        found_on=date(2026, 7, 1),
        kind=EventKind.CONFIRMED,
        evidence="Sample 14",
        detail={"by": "laboratory"},
    )
    return desk


@pytest.fixture
def desk() -> Desk:
    return make_desk(district())


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


@pytest.fixture
def client(desk: Desk, home: Path) -> Iterator[TestClient]:
    with TestClient(create_app(desk, home=home), base_url=HOST) as made:
        yield made


@pytest.fixture
def empty_client(home: Path) -> Iterator[TestClient]:
    with TestClient(create_app(make_desk(None), home=home), base_url=HOST) as made:
        yield made
