"""Who is near whom: rows of neighbours within the cut, from a grid of cells, and the plane they lie in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from broodsweep.units import AnyArray, FloatArray, IntArray


@dataclass(frozen=True, kw_only=True)
class Rows:
    """Neighbours node by node: those of node j are ``node[start[j]:start[j + 1]]``."""

    start: IntArray
    node: AnyArray
    distance_m: AnyArray


def rows_within(east_m: FloatArray, north_m: FloatArray, precision_m: FloatArray, cut_m: float) -> Rows:
    """Return every node's neighbours within the cut, imprecision of both places included. Symmetric.

    Parameters
    ----------
    east_m, north_m, precision_m
        Places and the side of the square in which each lies, shape (nodes,). [m]
    cut_m
        Greatest distance. [m]
    """
    from broodsweep.spread.cells import count_row, fill_rows

    n = len(east_m)
    if n == 0:
        return Rows(start=np.zeros(1, dtype=np.int64), node=np.zeros(0, np.int32), distance_m=np.zeros(0))
    side = cut_m / 4.0
    col = ((east_m - east_m.min()) / side).astype(np.int64)
    row = ((north_m - north_m.min()) / side).astype(np.int64)
    wide, high = int(col.max()) + 1, int(row.max()) + 1
    while wide * high > 4 * n + 1024:  # a few far places must not make a grid of empty cells
        side *= 2.0
        col = ((east_m - east_m.min()) / side).astype(np.int64)
        row = ((north_m - north_m.min()) / side).astype(np.int64)
        wide, high = int(col.max()) + 1, int(row.max()) + 1
    cell = row * wide + col
    order = np.argsort(cell, kind="stable")
    first = np.zeros(wide * high + 1, dtype=np.int64)
    np.cumsum(np.bincount(cell, minlength=wide * high), out=first[1:])
    reach = int(np.ceil(cut_m / side))
    grid = (col[order], row[order], first, wide, high, reach)
    points = (east_m[order], north_m[order], precision_m[order] ** 2 / 6.0, cut_m)
    counts = count_row(*grid, *points)
    in_order = np.zeros(n + 1, dtype=np.int64)
    by_node = np.empty(n, dtype=np.int64)
    by_node[order] = counts
    np.cumsum(by_node, out=in_order[1:])
    node = np.empty(in_order[-1], dtype=np.int32)
    distance_m = np.empty(in_order[-1])
    fill_rows(*grid, *points, order.astype(np.int64), in_order, node, distance_m)
    return Rows(start=in_order, node=node, distance_m=distance_m)


@dataclass(frozen=True, kw_only=True)
class Plane:
    """An azimuthal equidistant plane round the middle of some places, in metres.

    Distances from the middle are exact; at a distance r from it a length across is off by about r² / (6 R²), which
    is 0.004 % at 100 km: far below every place's precision.
    """

    longitude: float
    latitude: float

    @classmethod
    def round(cls, longitude: FloatArray, latitude: FloatArray) -> Plane:
        """Return the plane round the middle of places; round nothing in particular when there are none."""
        if len(longitude) == 0:
            return cls(longitude=0.0, latitude=0.0)
        angle = np.radians(longitude)
        middle = float(np.degrees(np.arctan2(np.sin(angle).mean(), np.cos(angle).mean())))
        return cls(longitude=middle, latitude=float(np.median(latitude)))

    def _transformer(self, inverse: bool) -> Any:
        from pyproj import Transformer

        ends = (
            "EPSG:4326",
            f"+proj=aeqd +lat_0={self.latitude!r} +lon_0={self.longitude!r} +datum=WGS84 +units=m",
        )
        return Transformer.from_crs(*(ends[::-1] if inverse else ends), always_xy=True)

    def to(self, longitude: FloatArray, latitude: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return places on the plane. [m]"""
        if len(longitude) == 0:
            return np.zeros(0), np.zeros(0)
        east, north = self._transformer(False).transform(longitude, latitude)
        return np.asarray(east, float), np.asarray(north, float)

    def back(self, east_m: float, north_m: float) -> tuple[float, float]:
        """Return longitude and latitude of a point of the plane. [degree]"""
        longitude, latitude = self._transformer(True).transform(east_m, north_m)
        return float(longitude), float(latitude)
