"""Writes the island to a folder: tables, map, roads, outbreaks, and the truth beside them."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from broodsweep.demo.island import Island
from broodsweep.demo.osm import osm_xml, write_pbf
from broodsweep.demo.truth import APIARY_COLUMNS, INFECTION_COLUMNS
from broodsweep.errors import TroubleError
from broodsweep.geo import Place
from broodsweep.outbreak import Outbreak
from broodsweep.register import Ground, Row

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "keepers": ("keeper", "name", "phone", "email", "address", "registered_on"),
    "apiaries": ("apiary", "keeper", "place", "longitude", "latitude", "precision_m", "colonies", "kept_since", "left_on", "notes"),
    "moves": ("moved_on", "from_apiary", "to_apiary", "goods", "quantity"),
    "visits": (
        "visit", "apiary", "visited_on", "inspector", "purpose", "colonies_present", "colonies_inspected", "colonies_suspect",
        "colonies_confirmed", "disease",
    ),
    "removals": ("apiary", "removed_on", "disease", "colonies", "how"),
    "inspectors": ("inspector", "name", "home", "works", "day_start", "day_end"),
    "lots": ("lot", "kit", "expires_on", "count"),
}  # fmt: skip
"""The columns of the tables, as the design names them."""
_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def write_island(island: Island, folder: Path) -> None:
    """Write every file of the island; files of the same names are replaced.

    Raises
    ------
    TroubleError
        If the folder cannot be written.
    """
    try:
        write_ground(island.ground, folder / "ground")
        _write_table(folder / "truth" / "apiaries.csv", APIARY_COLUMNS, island.true_apiaries)
        _write_table(folder / "truth" / "infections.csv", INFECTION_COLUMNS, island.true_infections)
        for name, layer in island.basemap.items():
            _write(
                folder / "basemap" / f"{name}.geojson",
                json.dumps(layer, ensure_ascii=False, separators=(",", ":")),
            )
        _write(folder / "roads.osm", osm_xml(island.osm_nodes, island.osm_ways))
        write_pbf(folder / "roads.osm.pbf", island.osm_nodes, island.osm_ways)
        plain = [outbreak_as_plain(outbreak) for outbreak in island.outbreaks]
        _write(folder / "outbreaks.json", json.dumps(plain, ensure_ascii=False, indent=1) + "\n")
        about = {"island": island.name, "seed": island.seed, "demo_day": island.demo_on.isoformat()}
        _write(folder / "island.json", json.dumps(about, indent=1) + "\n")
    except OSError as error:
        raise TroubleError("demo.cannot_write", folder=str(folder), reason=error.strerror or "") from error


def write_ground(ground: Ground, folder: Path) -> None:
    """Write the seven tables as CSV."""
    for name, columns in COLUMNS.items():
        _write_table(folder / f"{name}.csv", columns, (_cells(row, columns) for row in getattr(ground, name)))


def outbreak_as_plain(outbreak: Outbreak) -> dict[str, Any]:
    """Return an outbreak with its cases and events as plain data for JSON: days and instants in ISO 8601."""
    plain = _plain(outbreak)
    if not isinstance(plain, dict):
        raise TypeError(f"Expected an outbreak, got {type(outbreak).__name__}.")
    return plain


def _plain(value: Any) -> Any:
    if isinstance(value, (datetime, date)):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, (tuple, list)):
        return [_plain(inner) for inner in value]
    if hasattr(value, "__dataclass_fields__"):
        return {name.name: _plain(getattr(value, name.name)) for name in fields(value)}
    return str(value) if isinstance(value, str) else value


def _cells(row: Row, columns: Sequence[str]) -> dict[str, str]:
    """Return column → text. A place is written in its own notation, or as bare degrees where it has no text."""
    place = getattr(row, "place", None)
    return {name: _text(_degrees(place, name) if name in _SPOT else getattr(row, name)) for name in columns}


_SPOT = ("longitude", "latitude", "precision_m")


def _degrees(place: Place | None, name: str) -> float | None:
    return None if place is None or place.text else float(getattr(place, name))


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, Place):
        return value.text
    if isinstance(value, frozenset):
        return " ".join(_WEEKDAYS[day - 1] for day in sorted(value))
    if isinstance(value, time):
        return value.isoformat("minutes")
    if isinstance(value, date):
        return value.isoformat()
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _write_table(path: Path, columns: Sequence[str], rows: Iterable[Mapping[str, str]]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8", newline="\n")
