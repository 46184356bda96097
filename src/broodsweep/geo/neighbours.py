"""Who lies within so many metres: a search tree over points in earth-centred coordinates."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from broodsweep.geo.geodesy import earth_centred, geodesic_of_chord
from broodsweep.units import FloatArray, IntArray

if TYPE_CHECKING:
    from scipy.spatial import cKDTree


class Neighbours:
    """Points that can be asked who is near, in geodesic metres.

    The straight chord through the earth is never longer than the geodesic, so a ball in earth-centred
    coordinates misses nobody; the few beyond are then sorted out by the geodesic.

    Parameters
    ----------
    longitude, latitude
        The points, shape (n,). [degree]
    """

    def __init__(self, longitude: FloatArray, latitude: FloatArray) -> None:
        self.points = earth_centred(np.atleast_1d(longitude), np.atleast_1d(latitude))
        self._tree: cKDTree | None = None

    def __len__(self) -> int:
        return len(self.points)

    @property
    def tree(self) -> cKDTree:
        """The tree, planted when first asked for (scipy is slow to import)."""
        if self._tree is None:
            from scipy.spatial import cKDTree

            self._tree = cKDTree(self.points)
        return self._tree

    def ball(self, centre: FloatArray, reach_m: float) -> IntArray:
        """Return the points within a straight distance of an earth-centred point, in no order."""
        if not len(self):
            return np.empty(0, dtype=np.int64)
        return np.asarray(self.tree.query_ball_point(centre, reach_m), dtype=np.int64)

    def within(self, longitude: float, latitude: float, radius_m: float) -> tuple[IntArray, FloatArray]:
        """Return the points within a radius, nearest first, and how far they are. [m]

        Raises
        ------
        ValueError
            If ``radius_m`` is negative or is not a number.
        """
        _require_radius(radius_m)
        centre = earth_centred(longitude, latitude)
        index = self.ball(centre, radius_m)
        distance_m = geodesic_of_chord(centre, self.points[index])
        index, distance_m = index[distance_m <= radius_m], distance_m[distance_m <= radius_m]
        order = np.lexsort((index, distance_m))
        return index[order], distance_m[order]

    def nearest(self, longitude: float, latitude: float, count: int = 1) -> tuple[IntArray, FloatArray]:
        """Return the nearest points, nearest first, fewer when there are fewer, and how far they are. [m]"""
        if not len(self) or count < 1:
            return np.empty(0, dtype=np.int64), np.empty(0)
        centre = earth_centred(longitude, latitude)
        found = np.atleast_1d(self.tree.query(centre, k=min(count, len(self)))[1]).astype(np.int64)
        distance_m = geodesic_of_chord(centre, self.points[found])
        order = np.lexsort((found, distance_m))
        return found[order], distance_m[order]

    def pairs(self, radius_m: float) -> tuple[IntArray, IntArray, FloatArray]:
        """Return each pair of points within a radius once: first, second (first < second), distance. [m]

        Raises
        ------
        ValueError
            If ``radius_m`` is negative or is not a number.
        """
        _require_radius(radius_m)
        if not len(self):
            return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64), np.empty(0)
        found = self.tree.query_pairs(radius_m, output_type="ndarray").astype(np.int64)
        distance_m = geodesic_of_chord(self.points[found[:, 0]], self.points[found[:, 1]])
        found, distance_m = found[distance_m <= radius_m], distance_m[distance_m <= radius_m]
        order = np.lexsort((found[:, 1], found[:, 0]))
        return found[order, 0], found[order, 1], distance_m[order]


def _require_radius(radius_m: float) -> None:
    if not radius_m >= 0:
        raise ValueError(f"Expected radius_m >= 0, got {radius_m}.")
