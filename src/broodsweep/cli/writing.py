"""What `export` can write, and in which formats."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from broodsweep.cli.speech import LOCALE, plain, tell
from broodsweep.desk.context import Desk
from broodsweep.desk.overview import dues_of
from broodsweep.desk.sweeping import ring_outlines, rings, sweep_list
from broodsweep.errors import BroodsweepError
from broodsweep.papers import calendar_of
from broodsweep.tables import (
    replacing,
    write_features,
    write_geojson,
    write_geopackage,
    write_rows_csv,
    write_rows_xlsx,
    write_tables,
    write_xlsx,
)

FOLDER = ""
"""Ending of a folder of CSV files."""


def write_export(desk: Desk, what: str, target: Path, *, outbreak: str | None, public: bool) -> list[Path]:
    """Write what was asked for and return the files.

    Raises
    ------
    BroodsweepError
        If there is no such export, not in that format, or it is not said of which outbreak.
    TroubleError
        If a file cannot be written.
    """
    if what not in WRITERS:
        raise BroodsweepError("cli.export.unknown", what=what, known=", ".join(WRITERS))
    return WRITERS[what](desk, target, outbreak, public)


def _choose(what: str, target: Path, formats: Mapping[str, Callable[[Path], Any]]) -> list[Path]:
    ending = target.suffix.lower()
    if ending not in formats:
        known = ", ".join(name or "…/" for name in formats)
        raise BroodsweepError("cli.export.format", what=what, ending=ending or str(target), known=known)
    written = formats[ending](target)
    return list(written) if isinstance(written, tuple) else [target]


def _tables(desk: Desk, target: Path, _: str | None, public: bool) -> list[Path]:
    from broodsweep.register import coarsen

    ground = desk.snapshot().ground
    ground = coarsen(ground) if public else ground
    return _choose(
        "tables",
        target,
        {
            FOLDER: lambda path: write_tables(ground, path),
            ".xlsx": lambda path: write_xlsx(ground, path),
            ".gpkg": lambda path: write_geopackage(ground, path),
            ".geojson": lambda path: write_geojson(ground, path),
        },
    )


def _sweep(desk: Desk, target: Path, outbreak: str | None, _: bool) -> list[Path]:
    listed = sweep_list(desk, _outbreak(desk, outbreak), desk.today())
    rows = [
        {
            "rank": stop.rank,
            "apiary": stop.apiary.apiary,
            "keeper": stop.keeper_name,
            "phone": stop.phone,
            "place": stop.apiary.place,
            "colonies": stop.apiary.colonies,
            "score": round(stop.score, 1),
            "answers": list(stop.ring.answers) if stop.ring else None,
            "nearest_m": round(stop.ring.nearest_m) if stop.ring else None,
            "seen_on": stop.seen_on,
            "reasons": [tell(reason) for reason in stop.reasons],
        }
        for stop in listed.stops
    ]
    return _choose("sweep", target, _row_formats(rows))


def _due(desk: Desk, target: Path, _: str | None, __: bool) -> list[Path]:
    rows = [plain(row.as_record()) for row in dues_of(desk, desk.today())]
    return _choose("due", target, {".csv": _csv(rows), ".xlsx": _xlsx(rows), ".ics": _calendar(desk)})


def _rings(desk: Desk, target: Path, outbreak: str | None, _: bool) -> list[Path]:
    name = _outbreak(desk, outbreak)
    rows = [plain(row) for row in rings(desk, name, desk.today())]
    outlines = ring_outlines(desk, name, desk.today())
    return _choose(
        "rings",
        target,
        {".csv": _csv(rows), ".xlsx": _xlsx(rows), ".geojson": _whole(json.dumps(outlines).encode())},
    )


def _row_formats(rows: list[dict[str, Any]]) -> dict[str, Callable[[Path], Any]]:
    return {".csv": _csv(rows), ".xlsx": _xlsx(rows), ".geojson": lambda path: write_features(rows, path)}


def _csv(rows: list[dict[str, Any]]) -> Callable[[Path], None]:
    return lambda path: write_rows_csv(rows, path)


def _xlsx(rows: list[dict[str, Any]]) -> Callable[[Path], None]:
    return lambda path: write_rows_xlsx(rows, path)


def _calendar(desk: Desk) -> Callable[[Path], None]:
    return _whole(calendar_of(dues_of(desk, desk.today()), stamp_at=desk.now(), locale=LOCALE))


def _whole(content: bytes) -> Callable[[Path], None]:
    def write(path: Path) -> None:
        with replacing(path) as draft:
            draft.write_bytes(content)

    return write


def _outbreak(desk: Desk, named: str | None) -> str:
    known = [row.outbreak for row in desk.snapshot().outbreaks if not row.closed_on]
    if named:
        return desk.snapshot().outbreak(named).outbreak
    if len(known) == 1:
        return known[0]
    raise BroodsweepError("cli.export.which", known=", ".join(known) or "–")


WRITERS: dict[str, Callable[[Desk, Path, str | None, bool], list[Path]]] = {
    "tables": _tables,
    "sweep": _sweep,
    "due": _due,
    "rings": _rings,
    "calendar": lambda desk, target, _, __: _choose("calendar", target, {".ics": _calendar(desk)}),
}
