"""Writes places for maps: GeoPackage and GeoJSON (RFC 7946)."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from broodsweep.errors import TroubleError
from broodsweep.geo import Place
from broodsweep.register import COLUMNS, PLACE_COLUMN, TABLES, Ground, Row
from broodsweep.tables.atomic import replacing
from broodsweep.tables.geofiles import NAME_MEMBER
from broodsweep.tables.write_text import lines_of
from broodsweep.tables.written import Cell, as_text, plain

_PROBE_BYTES = 262_144
_COORDINATES = ("longitude", "latitude")


def write_geojson(ground: Ground, path: Path, table: str = "apiaries") -> None:
    """Write a table with places as a FeatureCollection of points; reading the file gives the same rows.

    Raises
    ------
    ValueError
        If the table has no places.
    TroubleError
        If the file cannot be written.
    """
    if table not in PLACE_COLUMN:
        raise ValueError(f"Expected a table of {', '.join(PLACE_COLUMN)}, got {table!r}.")
    rows = getattr(ground, table)
    header, lines = lines_of(table, rows)
    places = [getattr(row, PLACE_COLUMN[table]) for row in rows]
    _write_features(path, header, list(lines), places, name=table)


def write_features(rows: Sequence[Mapping[str, object]], path: Path) -> None:
    """Write rows of any kind as GeoJSON; the first `Place` in a row is its point, a row without has none.

    Raises
    ------
    TroubleError
        If the file cannot be written.
    """
    places = [next((v for v in row.values() if isinstance(v, Place)), None) for row in rows]
    header, lines = plain(rows)
    _write_features(path, header, lines, places)


def _write_features(
    path: Path,
    header: Sequence[str],
    lines: Sequence[Sequence[Cell]],
    places: Sequence[Place | None],
    *,
    name: str | None = None,
) -> None:
    stated = f'"{NAME_MEMBER}": {json.dumps(name)}, ' if name else ""
    with replacing(path) as draft, draft.open("w", encoding="utf-8") as file:
        file.write(f'{{"type": "FeatureCollection", {stated}"features": [')
        for number, (line, place) in enumerate(zip(lines, places, strict=True)):
            properties = {
                name: as_text(cell) if isinstance(cell, date) else cell
                for name, cell in zip(header, line, strict=True)
                if name not in _COORDINATES
            }
            geometry = place and {"type": "Point", "coordinates": [place.longitude, place.latitude]}
            feature = {"type": "Feature", "geometry": geometry, "properties": properties}
            file.write(",\n" if number else "\n")
            file.write(json.dumps(feature, ensure_ascii=False, allow_nan=False))
        file.write("\n]}\n")


def write_geopackage(ground: Ground, path: Path) -> None:
    """Write every table that has rows as a layer; apiaries and inspectors are points in WGS84.

    Reading the file gives the same ground.

    Raises
    ------
    TroubleError
        If the file cannot be written.
    """
    with replacing(path) as draft:
        draft.unlink()
        tables = [table.name for table in TABLES if getattr(ground, table.name)] or ["apiaries"]
        try:
            for table in tables:
                _write_layer(draft, table, getattr(ground, table))
        except RuntimeError as error:  # every error of pyogrio is one; the libraries below do not say why
            _probe(draft)
            raise TroubleError("tables.cannot_write", path=str(path), why=str(error)) from error


def _probe(draft: Path) -> None:
    """Raise what the machine says when as much again and a little more is written beside the draft."""
    size = draft.stat().st_size if draft.exists() else 0
    probe = draft.with_suffix(".probe")
    try:
        probe.write_bytes(bytes(size + _PROBE_BYTES))
    finally:
        probe.unlink(missing_ok=True)


def _write_layer(path: Path, table: str, rows: Sequence[Row]) -> None:
    import pyogrio.raw
    import shapely

    header, lines = lines_of(table, rows)
    columns = list(zip(*lines, strict=True)) or [() for _ in header]
    kept = [n for n, name in enumerate(header) if name not in _COORDINATES or table not in PLACE_COLUMN]
    fields = [_field(table, header[n], columns[n]) for n in kept]
    points = None
    if table in PLACE_COLUMN:
        places = [getattr(row, PLACE_COLUMN[table]) for row in rows]
        spots = np.array([(p.longitude, p.latitude) for p in places], dtype=float).reshape(-1, 2)
        points = shapely.to_wkb(shapely.points(spots))
    pyogrio.raw.write(
        str(path),
        points,
        [values for values, _ in fields],
        [header[n] for n in kept],
        field_mask=[mask for _, mask in fields],
        layer=table,
        driver="GPKG",
        geometry_type="Point" if points is not None else None,
        crs="EPSG:4326" if points is not None else None,
        append=False,
    )


def _field(table: str, name: str, cells: Sequence[Cell]) -> tuple[Any, Any]:
    """Return a column for the layer with its mask of nothings: days, whole numbers, numbers, else text."""
    mask = np.array([cell is None for cell in cells], dtype=bool)
    if name.endswith("_on") or name == "kept_since":
        return np.array([cell if cell is not None else "NaT" for cell in cells], dtype="M8[D]"), None
    if name in _NUMBERS[table]:
        is_whole = name.startswith("colonies") or name == "count"
        values = np.array(
            [cell if cell is not None else 0 for cell in cells], dtype=np.int64 if is_whole else float
        )
        return values, mask
    return np.array([None if cell is None else as_text(cell) for cell in cells], dtype=object), None


_NUMBERS = {
    table: frozenset(
        column.name
        for column in columns
        if column.name.startswith("colonies") or column.name in ("count", "quantity", "precision_m")
    )
    for table, columns in COLUMNS.items()
}
