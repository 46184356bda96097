"""Loading 60,000 apiaries from CSV with every check, against the loop a user would write.

The loop is ``csv.DictReader`` with a number for the colonies, and for grid references the letters worked out by
hand and pyproj's ``Transformer`` row by row. It checks nothing, knows no precision and gives dictionaries: it
does less.
"""

from __future__ import annotations

import csv
import random
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pyproj

from broodsweep import tables

APIARIES = 60_000
GOAL = "under 10 s with full validation"
SQUARES = {"SK": (4, 3), "SP": (4, 2), "TL": (5, 2), "TF": (5, 3)}
"""Two letters → hundreds of kilometres east and north, from the letter square of the National Grid."""


def rows() -> Iterator[dict[str, str]]:
    """Yield one row for each notation."""
    with tempfile.TemporaryDirectory() as folder:
        for what, header, place, loop in (
            ("longitude and latitude", "longitude,latitude", _degrees, _loop_degrees),
            ("grid references", "place", _reference, _loop_references),
        ):
            path = Path(folder) / "apiaries.csv"
            _write(path, header, place)
            ours = _seconds(lambda path=path: _ours(path))
            other = _seconds(lambda path=path, loop=loop: loop(path))
            yield {
                "what": f"load {APIARIES:,} apiaries from CSV, {what}",
                "ours": f"{ours:.2f} s",
                "other": f"{other:.2f} s, no checks",
                "ratio": f"{other / ours:.1f}",
                "goal": GOAL,
            }


def _ours(path: Path) -> None:
    reading = tables.read_ground(path, today=date(2026, 11, 25))
    assert reading.is_sound
    assert len(reading.ground.apiaries) == APIARIES


def _seconds(work: Callable[[], object]) -> float:
    """Best of three."""
    best = float("inf")
    for _ in range(3):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def _write(path: Path, header: str, place: Callable[[random.Random], str]) -> None:
    rng = random.Random(20261125)
    with path.open("w", encoding="utf-8") as file:
        file.write(f"apiary,keeper,{header},colonies,kept_since,notes\n")
        for n in range(APIARIES):
            day = f"20{rng.randrange(10, 25)}-0{rng.randrange(1, 10)}-1{rng.randrange(10)}"
            file.write(f"A{n:05d},K{n % 20000},{place(rng)},{rng.randrange(1, 20)},{day},by the gate\n")


def _degrees(rng: random.Random) -> str:
    return f"{rng.uniform(-3, 1):.6f},{rng.uniform(51, 54):.6f}"


def _reference(rng: random.Random) -> str:
    return f"{rng.choice(list(SQUARES))} {rng.randrange(1000):03d} {rng.randrange(1000):03d}"


def _loop_degrees(path: Path) -> list[dict[str, object]]:
    transformer = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:27700", always_xy=True)
    found: list[dict[str, object]] = []
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            spot = transformer.transform(float(row["longitude"]), float(row["latitude"]))
            found.append({**row, "colonies": int(row["colonies"]), "spot": spot})
    return found


def _loop_references(path: Path) -> list[dict[str, object]]:
    transformer = pyproj.Transformer.from_crs("EPSG:27700", "EPSG:4326", always_xy=True)
    found: list[dict[str, object]] = []
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            letters, east, north = row["place"].split()
            column, line = SQUARES[letters]
            spot = transformer.transform(
                column * 100_000 + int(east) * 100 + 50, line * 100_000 + int(north) * 100 + 50
            )
            found.append({**row, "colonies": int(row["colonies"]), "spot": spot})
    return found
