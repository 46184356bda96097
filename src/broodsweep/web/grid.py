"""The fine grid of the map sheet: lines of the grid in which the register's places are written."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np

from broodsweep.desk.snapshot import Snapshot
from broodsweep.geo import Place
from broodsweep.geo.datum import Datum, datum
from broodsweep.units import FloatArray

STEPS_M = (100.0, 500.0, 1_000.0, 5_000.0, 10_000.0, 50_000.0, 100_000.0)
MOST_LINES = 24
"""Lines to a side of the view: enough to read a reference by, few enough to stay fine."""
HEAVY = 10
POINTS = 9
WIDEST_DEGREE = 15.0
UTM_NORTH, UTM_SOUTH, ZONE_DEGREE, ZONES = 32600, 32700, 6.0, 60
METRES_IN_KM = 1000.0
SAMPLE = 500


@dataclass(frozen=True, kw_only=True)
class View:
    """The part of the map that is shown, in degrees."""

    west: float
    south: float
    east: float
    north: float

    def holds(self, place: Place) -> bool:
        """Say whether a place is in the view."""
        return self.west <= place.longitude <= self.east and self.south <= place.latitude <= self.north

    @property
    def is_drawable(self) -> bool:
        """Say whether a plane grid can stand for the view."""
        return 0 < self.east - self.west <= WIDEST_DEGREE and 0 < self.north - self.south <= WIDEST_DEGREE


def grid_of(snapshot: Snapshot, view: View) -> int:
    """Return the EPSG code of the grid that most places are written in, else the UTM zone of the view."""
    sample = snapshot.ground.apiaries[:SAMPLE]
    codes = Counter(row.place.epsg for row in sample if row.place.easting is not None)
    for code, _ in codes.most_common(1):
        west, south, east, north = datum(code).bounds
        if west <= view.east and view.west <= east and south <= view.north and view.south <= north:
            return code
    longitude, latitude = (view.west + view.east) / 2, (view.south + view.north) / 2
    zone = int((longitude + 180.0) // ZONE_DEGREE) % ZONES + 1
    return (UTM_NORTH if latitude >= 0 else UTM_SOUTH) + zone


def grid_lines(snapshot: Snapshot, view: View) -> dict[str, Any]:
    """Return the lines of the grid in a view as GeoJSON, each with its figure in kilometres."""
    features: list[dict[str, Any]] = []
    if view.is_drawable:
        grid = datum(grid_of(snapshot, view))
        x, y = _extent(grid, view)
        if all(math.isfinite(value) for value in (*x, *y)):
            step = next(
                (step for step in STEPS_M if max(x[1] - x[0], y[1] - y[0]) / step <= MOST_LINES), STEPS_M[-1]
            )
            features = [
                *(_line(grid, step, at, y, is_easting=True) for at in _marks(x, step)),
                *(_line(grid, step, at, x, is_easting=False) for at in _marks(y, step)),
            ]
    return {"type": "FeatureCollection", "features": features}


def _extent(grid: Datum, view: View) -> tuple[tuple[float, float], tuple[float, float]]:
    """Smallest and largest easting and northing along the edge of the view. [m]"""
    along = np.linspace(0.0, 1.0, POINTS)
    longitude = view.west + (view.east - view.west) * np.concatenate([along, along, 0 * along, 0 * along + 1])
    latitude = view.south + (view.north - view.south) * np.concatenate(
        [0 * along, 0 * along + 1, along, along]
    )
    x, y = grid.from_wgs84(longitude, latitude)
    return (float(np.min(x)), float(np.max(x))), (float(np.min(y)), float(np.max(y)))


def _marks(extent: tuple[float, float], step: float) -> FloatArray:
    return np.asarray(
        step * np.arange(math.ceil(extent[0] / step), math.floor(extent[1] / step) + 1), dtype=np.float64
    )


def _line(
    grid: Datum, step: float, at: float, across: tuple[float, float], *, is_easting: bool
) -> dict[str, Any]:
    along = np.linspace(across[0], across[1], POINTS)
    fixed = np.full(POINTS, at)
    longitude, latitude = grid.to_wgs84(fixed, along) if is_easting else grid.to_wgs84(along, fixed)
    points = [[round(float(x), 6), round(float(y), 6)] for x, y in zip(longitude, latitude, strict=True)]
    return {
        "type": "Feature",
        "properties": {
            "figure": f"{at / METRES_IN_KM:g}",
            "heavy": round(at / step) % HEAVY == 0,
        },
        "geometry": {"type": "LineString", "coordinates": points},
    }
