"""A clock that a test sets, rows to save, and a store on a fresh file."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from broodsweep.constants import Disease
from broodsweep.desk.ports import Author
from broodsweep.geo import Place
from broodsweep.outbreak import Case, Event, EventKind, Outbreak
from broodsweep.register import Apiary, Keeper
from broodsweep.store import SqliteStore, open_store

START = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
AUTHOR = Author(who="M. Ostley", device="desk-1")


@pytest.fixture
def author() -> Author:
    return AUTHOR


@pytest.fixture
def now() -> Callable[[], datetime]:
    return lambda: START


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "store.sqlite"


@pytest.fixture
def apiary() -> Callable[..., Apiary]:
    def make(name: str, colonies: int = 3) -> Apiary:
        place = Place(longitude=1.5, latitude=54.0, precision_m=100.0, text="TA 1 2")
        return Apiary(apiary=name, place=place, colonies=colonies)

    return make


@pytest.fixture
def fill(apiary: Callable[..., Apiary]) -> Callable[[SqliteStore], None]:
    """Put three apiaries, a keeper, an outbreak with two events and a setting in a store."""

    def filled(store: SqliteStore) -> None:
        events = tuple(
            Event(
                event=f"e{number}",
                apiary="A1",
                kind=kind,
                happened_on=date(2026, 5, 3),
                recorded_at=START,
                who="M. Ostley",
            )
            for number, kind in enumerate((EventKind.SUSPECTED, EventKind.CONFIRMED))
        )
        with store.work(AUTHOR, "fill") as work:
            work.save("keepers", [Keeper(keeper="K1", name="Ann Vell")])
            work.save("apiaries", [apiary(f"A{number}") for number in (1, 2, 3)])
            work.save_outbreak(
                Outbreak(
                    outbreak="AFB-2026-1",
                    disease=Disease.AFB,
                    rulebook="common-practice",
                    opened_on=date(2026, 5, 3),
                    cases=(Case(apiary="A1", events=events),),
                )
            )
            work.set("rulebook", "common-practice")

    return filled


@pytest.fixture
def store(
    path: Path, now: Callable[[], datetime], fill: Callable[[SqliteStore], None]
) -> Iterator[SqliteStore]:
    """A filled store."""
    with open_store(path, now=now) as opened:
        fill(opened)
        yield opened
