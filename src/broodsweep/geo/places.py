"""Many places as arrays, built once and asked often."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from broodsweep.geo.constants import (
    BRITISH_GRID_EPSG,
    FINE_SIDE,
    IRISH_GRID_EPSG,
    IRISH_TRANSVERSE_MERCATOR_EPSG,
    UTM_NORTH_EPSG,
    UTM_SOUTH_EPSG,
)
from broodsweep.geo.datum import datum
from broodsweep.geo.geodesy import earth_centred
from broodsweep.geo.neighbours import Neighbours
from broodsweep.geo.place import Place
from broodsweep.geo.squares import patches
from broodsweep.units import BoolArray, FloatArray, IntArray

_TRUE_TO_SCALE = frozenset(
    {0, BRITISH_GRID_EPSG, IRISH_GRID_EPSG, IRISH_TRANSVERSE_MERCATOR_EPSG}
    | {base + zone for base in (UTM_NORTH_EPSG, UTM_SOUTH_EPSG) for zone in range(1, 61)}
)
"""Grids whose metre is a metre within 1 %; 0 is longitude and latitude."""
_HALF_DIAGONAL = 1.01 * np.sqrt(0.5)
_ARC_OVER_CHORD = 1.001
"""More than the arc is longer than the chord in any square that is a place."""


class Places:
    """Places as arrays with a search tree; the order is that of the list.

    Squares are worked out when a ring first comes near them, and kept. Several threads may ask at once.

    Parameters
    ----------
    places
        Any number of places.
    """

    def __init__(self, places: Sequence[Place]) -> None:
        self._places = tuple(places)
        count = len(self._places)
        numbers = np.array(
            [(p.longitude, p.latitude, p.precision_m, p.datum_accuracy_m) for p in self._places],
            dtype=np.float64,
        ).reshape(count, 4)
        self.longitude, self.latitude, self.precision_m, self.datum_accuracy_m = numbers.T.copy()
        names = [place.datum_shift for place in self._places]
        self._shift_number = {name: number for number, name in enumerate(sorted(set(names)))}
        self._shift = np.array([self._shift_number[name] for name in names], dtype=np.int64)
        self.half_diagonal_m = self.precision_m * _HALF_DIAGONAL
        self._patch = np.empty((count, 3, 3, 3))
        self._has_patch = np.zeros(count, dtype=np.bool_)
        self._measure_odd_grids()
        self.reach_m = self.half_diagonal_m + self.datum_accuracy_m
        self.coarse = np.nonzero(self.reach_m > FINE_SIDE.value)[0]
        self._fine = np.nonzero(self.reach_m <= FINE_SIDE.value)[0]
        self._fine_reach_m = float(self.reach_m[self._fine].max(initial=0.0))
        self.neighbours = Neighbours(self.longitude, self.latitude)
        self._near = Neighbours(self.longitude[self._fine], self.latitude[self._fine])

    def __len__(self) -> int:
        return len(self._places)

    def __getitem__(self, index: int) -> Place:
        return self._places[index]

    def __iter__(self) -> Iterator[Place]:
        return iter(self._places)

    def _measure_odd_grids(self) -> None:
        codes = np.array([p.epsg if p.is_on_grid else 0 for p in self._places], dtype=np.int64)
        odd = np.nonzero(~np.isin(codes, list(_TRUE_TO_SCALE)))[0]
        if not len(odd):
            return
        signs = np.array([-1.0, 1.0])
        patch = self.patches(odd)
        corner = sum(
            patch[:, i, j, None, None] * (signs[:, None] ** i * signs**j)[..., None]
            for i in range(3)
            for j in range(3)
        )
        away = np.linalg.norm(corner - patch[:, 0, 0, None, None], axis=-1).max(axis=(1, 2))
        self.half_diagonal_m[odd] = _ARC_OVER_CHORD * away

    def prepare(self) -> None:
        """Work out every square and plant the tree now, so that the first ring is as fast as the next."""
        self.patches(np.arange(len(self)))
        if len(self._near):
            self._near.tree  # noqa: B018
        for code in {p.epsg for p in self._places if p.is_on_grid}:
            datum(code)

    def patches(self, index: IntArray) -> FloatArray:
        """Return the patches of some of the places, shape (n, 3, 3, 3). [m]"""
        missing = index[~self._has_patch[index]]
        if len(missing):
            self._patch[missing] = patches([self._places[i] for i in missing])
            self._has_patch[missing] = True
        return self._patch[index]

    def near(self, centre: Place, reach_m: float) -> IntArray:
        """Return every place that may have a point within ``reach_m`` of the square of ``centre``, in order."""
        point = earth_centred(centre.longitude, centre.latitude)
        index = self._fine[self._near.ball(point, reach_m + self._fine_reach_m)]
        if len(self.coarse):
            apart = np.linalg.norm(self.neighbours.points[self.coarse] - point, axis=1)
            index = np.concatenate([index, self.coarse[apart <= reach_m + self.reach_m[self.coarse]]])
        return np.sort(index)

    def datum_slack_m(self, centre: Place, index: IntArray) -> FloatArray:
        """Return what the datum shifts add to the bounds between ``centre`` and some places. [m]"""
        same: BoolArray = self._shift[index] == self._shift_number.get(centre.datum_shift, -1)
        return np.where(same, 0.0, self.datum_accuracy_m[index] + centre.datum_accuracy_m)
