"""Run as a program by the tests: commits numbered works and tells each number once it is acknowledged."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

from broodsweep.desk.ports import Author
from broodsweep.geo import Place
from broodsweep.register import Apiary, Keeper, Visit
from broodsweep.store import open_store


def main(path: Path, count: int, tell: Callable[[int], object]) -> None:
    """Commit works of three rows each, until killed or done."""
    place = Place(longitude=1.5, latitude=54.0, precision_m=100.0)
    with open_store(path, now=lambda: datetime.now(UTC)) as store:
        start = len(store.ground().keepers)
        for number in range(start, start + count):
            visit = Visit(
                visit=f"V{number}",
                apiary=f"A{number}",
                visited_on=date(2026, 5, 4),
                colonies_inspected=1,
                colonies_confirmed=0,
            )
            with store.work(Author(who="x"), f"work {number}") as work:
                work.save("keepers", [Keeper(keeper=f"K{number}")])
                work.save("apiaries", [Apiary(apiary=f"A{number}", place=place, colonies=1)])
                work.save("visits", [visit])
                work.set("newest", number)
            tell(number)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), lambda number: print(number, flush=True))
elif given := globals().get("GIVEN"):  # run by test_killing.py within a process made for it
    main(given[0], given[1], given[2].send)
