"""Reads tables whose rows are features of a map: GeoPackage layers and GeoJSON (RFC 7946)."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any

import numpy as np

from broodsweep.tables.complaints import bad_file
from broodsweep.tables.raw import RawRow, RawTable
from broodsweep.words import Message, say

LONGITUDE, LATITUDE = "longitude", "latitude"
_WGS84 = frozenset({"EPSG:4326", "OGC:CRS84", "urn:ogc:def:crs:OGC:1.3:CRS84", "urn:ogc:def:crs:EPSG::4326"})
Transform = Callable[[float, float], tuple[float, float]]


def layer_names(path: Path) -> tuple[str, ...]:
    """Return the names of the layers of a GeoPackage.

    Raises
    ------
    BadFileError
        If the file is no GeoPackage.
    """
    import pyogrio

    try:
        return tuple(str(name) for name, _ in pyogrio.list_layers(path))
    except pyogrio.errors.DataSourceError as error:
        raise bad_file("tables.no_geopackage") from error


def open_layer(path: Path, layer: str) -> RawTable:
    """Return the table of a layer; a point in any reference system becomes longitude and latitude.

    Raises
    ------
    BadFileError
        If the file is no GeoPackage, or the layer has points and no reference system.
    """
    import pyogrio
    import pyogrio.raw

    try:
        meta, numbers, shapes, fields = pyogrio.raw.read(path, layer=layer, return_fids=True, force_2d=True)
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError) as error:
        raise bad_file("tables.no_geopackage") from error
    names = [str(name) for name in meta["fields"]]
    columns = [_as_cells(field) for field in fields]
    has_shapes = shapes is not None and meta["geometry_type"] not in (None, "None")
    kept = [
        n for n, name in enumerate(names) if not (has_shapes and name.casefold() in (LONGITUDE, LATITUDE))
    ]
    header = [names[n] for n in kept]
    points: list[Any] | None = None
    if has_shapes:
        points = _points(shapes, _transform(meta["crs"]))
        header += [LONGITUDE, LATITUDE]
    table = [columns[n] for n in kept]
    return _feature_table(header, [int(n) for n in numbers], table, points)


def _feature_table(
    header: list[str], numbers: list[int], columns: list[list[object]], points: list[Any] | None
) -> RawTable:
    at = [0]

    def rows() -> Iterator[RawRow]:
        for n, number in enumerate(numbers):
            at[0] = n + 1
            cells = [column[n] for column in columns]
            point = points[n] if points is not None else None
            if points is None:
                yield RawRow(number, cells)
            elif isinstance(point, tuple):
                yield RawRow(number, [*cells, *point])
            else:
                yield RawRow(number, [*cells, None, None], _no_point(str(point)))

    total = max(1, len(numbers))
    return RawTable(
        header=tuple(header),
        header_line=0,
        rows=rows(),
        done=lambda: at[0] / total,
        close=lambda: None,
        has_guards=False,
    )


def _no_point(kind: str) -> tuple[Message, Message]:
    return say("tables.no_point", kind=kind), say("tables.no_point_way_out")


def _as_cells(field: Any) -> list[object]:
    """Return a column of the layer as cells: None for nothing, days and instants as such."""
    if field.dtype.kind == "M":
        return (
            [None if np.isnat(cell) else cell.astype(object) for cell in field.astype("M8[us]")]
            if (field.dtype != np.dtype("M8[D]"))
            else [None if np.isnat(cell) else cell.astype(object) for cell in field]
        )
    if field.dtype.kind == "f":
        return [None if cell != cell else cell for cell in field.tolist()]
    return [
        cell if isinstance(cell, (str, int, date, datetime)) or cell is None else str(cell)
        for cell in field.tolist()
    ]


def _points(shapes: Any, transform: Transform | None) -> list[Any]:
    """Return (longitude, latitude) of each shape, (None, None) without one, the kind of it when no point."""
    import shapely

    found: list[Any] = []
    for shape in shapely.from_wkb(shapes):
        if shape is None or shape.is_empty:
            found.append((None, None))
            continue
        is_single = shape.geom_type == "MultiPoint" and len(shape.geoms) == 1
        point = shape.geoms[0] if is_single else shape
        if point.geom_type != "Point":
            found.append(point.geom_type)
            continue
        found.append(transform(point.x, point.y) if transform else (point.x, point.y))
    return found


def _transform(crs: str | None) -> Transform | None:
    """Return what turns a point of the reference system into longitude and latitude; None when it is so already."""
    if crs in _WGS84:
        return None
    if not crs:
        raise bad_file("tables.no_crs")
    import pyproj

    try:
        transformer = pyproj.Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    except pyproj.exceptions.ProjError as error:
        raise bad_file("tables.unknown_crs", crs=crs[:60]) from error

    def turn(x: float, y: float) -> tuple[float, float]:
        longitude, latitude = transformer.transform(x, y)
        return float(longitude), float(latitude)

    return turn


NAME_MEMBER = "name"
"""Foreign member (RFC 7946 section 6.1) in which map programs write the name of the layer, and we the table."""
_HEAD_BYTES = 4096
_NAMED = re.compile(rb'^\s*(?:\xef\xbb\xbf)?\s*\{[^{}\[\]]*?"name"\s*:\s*"([^"\\]*)"')


def stated_name(path: Path) -> str:
    """Return the name that a GeoJSON file gives itself before its features, empty when it gives none."""
    with path.open("rb") as file:
        found = _NAMED.match(file.read(_HEAD_BYTES))
    return found[1].decode("utf-8", "replace") if found else ""


def open_geojson(path: Path) -> RawTable:
    """Return the table of a GeoJSON file: the properties of each feature and its point.

    Raises
    ------
    BadFileError
        If the file is no GeoJSON.
    """
    features, transform = _features(path)
    names: dict[str, None] = {}
    for feature in features:
        names.update(dict.fromkeys(map(str, feature.get("properties") or {})))
    header = [name for name in names if name.casefold() not in (LONGITUDE, LATITUDE)]
    columns: list[list[object]] = [
        [_cell((f.get("properties") or {}).get(n)) for f in features] for n in header
    ]
    points = [_point(feature.get("geometry"), transform) for feature in features]
    if any(point != (None, None) for point in points):
        header += [LONGITUDE, LATITUDE]
        return _feature_table(header, list(range(1, len(features) + 1)), columns, points)
    return _feature_table(header, list(range(1, len(features) + 1)), columns, None)


def _features(path: Path) -> tuple[list[dict[str, Any]], Transform | None]:
    try:
        text = path.read_text(encoding="utf-8-sig")
        whole = json.loads(text)
    except UnicodeDecodeError:
        raise bad_file("tables.geojson_not_utf8") from None
    except json.JSONDecodeError as error:
        raise bad_file("tables.no_json", line=error.lineno) from None
    except RecursionError:
        raise bad_file("tables.no_geojson") from None
    kind = whole.get("type") if isinstance(whole, dict) else None
    features = (
        [whole] if kind == "Feature" else whole.get("features") if kind == "FeatureCollection" else None
    )
    if not isinstance(features, list):
        raise bad_file("tables.no_geojson")
    if not all(isinstance(f, dict) and isinstance(f.get("properties") or {}, dict) for f in features):
        raise bad_file("tables.no_geojson")
    if not features:
        raise bad_file("tables.empty_file")
    stated = (whole.get("crs") or {}) if isinstance(whole.get("crs") or {}, dict) else {}
    name = (stated.get("properties") or {}).get("name")
    return features, _transform(str(name)) if name else None


def _point(geometry: Any, transform: Transform | None) -> Any:
    if not geometry:
        return (None, None)
    if not isinstance(geometry, dict) or geometry.get("type") != "Point":
        return geometry.get("type") if isinstance(geometry, dict) else "?"
    pair = geometry.get("coordinates")
    if not pair:
        return (None, None)
    if not isinstance(pair, list) or len(pair) < len("xy") or not all(type(c) in (int, float) for c in pair):
        return "Point?"
    longitude, latitude = float(pair[0]), float(pair[1])
    return transform(longitude, latitude) if transform else (longitude, latitude)


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None or isinstance(value, (str, int, float)):
        return value
    return json.dumps(value, ensure_ascii=False)
