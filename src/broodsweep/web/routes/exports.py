"""Tables and lists out, as files."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any, Literal

from fastapi import APIRouter, BackgroundTasks
from starlette.responses import FileResponse

from broodsweep.desk import sweeping
from broodsweep.desk.answers import SweepList, SweepStop
from broodsweep.web.context import ERRORS, Context, Here, Locale, OnDay
from broodsweep.web.downloads import bundled, sent
from broodsweep.words import render

router = APIRouter(prefix="/api", responses=ERRORS, tags=["export"])


def _folder(here: Context) -> Path:
    here.loads.folder.mkdir(parents=True, exist_ok=True)
    return Path(tempfile.mkdtemp(dir=here.loads.folder))


@router.get("/export/ground.{kind}", response_class=FileResponse)
def export_ground(
    kind: Literal["csv", "xlsx", "geojson", "gpkg"], here: Here, on: OnDay, later: BackgroundTasks
) -> FileResponse:
    """Give every table (CSV as a zip, XLSX, GeoPackage), or the apiaries alone (GeoJSON)."""
    from broodsweep import tables

    ground, folder = here.desk.snapshot().ground, _folder(here)
    name = f"ground-{on.isoformat()}"
    if kind == "csv":
        return bundled(tables.write_tables(ground, folder), folder, name, later)
    path = folder / f"ground.{kind}"
    write = {"xlsx": tables.write_xlsx, "geojson": tables.write_geojson, "gpkg": tables.write_geopackage}[
        kind
    ]
    write(ground, path)
    return sent(path, name, folder, later)


@router.get("/outbreaks/{outbreak}/sweep.{kind}", response_class=FileResponse)
def export_sweep(
    outbreak: str,
    kind: Literal["csv", "xlsx", "geojson"],
    here: Here,
    on: OnDay,
    locale: Locale,
    later: BackgroundTasks,
) -> FileResponse:
    """Give the sweep list as a file."""
    from broodsweep import tables

    found = sweeping.sweep_list(here.desk, outbreak, on)
    rows = [_row(stop, found, locale) for stop in found.stops]
    folder = _folder(here)
    path = folder / f"sweep.{kind}"
    writers = {
        "csv": tables.write_rows_csv,
        "xlsx": tables.write_rows_xlsx,
        "geojson": tables.write_features,
    }
    writers[kind](rows, path)
    return sent(path, f"sweep-{outbreak}-{on.isoformat()}", folder, later)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _row(stop: SweepStop, found: SweepList, locale: str) -> dict[str, Any]:
    """Return a stop as a row; without trust in the figures their ranges alone are written."""
    answers = stop.ring.answers if stop.ring else ()
    return {
        "rank": stop.rank,
        "apiary": stop.apiary.apiary,
        "keeper": stop.apiary.keeper,
        "name": stop.keeper_name,
        "phone": stop.phone,
        "place": stop.apiary.place.text or None,
        "at": stop.apiary.place,
        "colonies": stop.apiary.colonies,
        "score": round(stop.score, 4),
        "infected_probability": _rounded(stop.probability) if found.is_trusted else None,
        "low": _rounded(stop.low),
        "high": _rounded(stop.high),
        "reasons": "; ".join(render(reason, locale) for reason in stop.reasons),
        "nearest_m": round(stop.ring.nearest_m, 1) if stop.ring else None,
        "farthest_m": round(stop.ring.farthest_m, 1) if stop.ring else None,
        **{f"ring_{radius:g}_m": said for radius, said in zip(found.radii_m, answers, strict=False)},
        "last_visited_on": stop.last_visit.visited_on if stop.last_visit else None,
        "seen_on": stop.seen_on,
    }
