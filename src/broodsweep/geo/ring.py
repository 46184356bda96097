"""Who is in a ring round a case, who is out, and who cannot be told."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

import numpy as np

from broodsweep.geo.bounds import patch_bounds
from broodsweep.geo.constants import FINE_SIDE
from broodsweep.geo.geodesy import geodesic_of_chord
from broodsweep.geo.place import Place
from broodsweep.geo.places import Places
from broodsweep.geo.squares import patches
from broodsweep.units import AnyArray, FloatArray, IntArray

_MARGIN = 1.02
"""Widens the first, rough search; what it finds is measured."""


class Answer(StrEnum):
    """How a place lies to a ring.

    ``in``: the farthest the two places can be apart is within the radius, the radius included.
    ``out``: the nearest they can be apart is beyond it. ``cannot_tell``: anything else; it is swept.
    """

    IN = "in"
    OUT = "out"
    CANNOT_TELL = "cannot_tell"


_ANSWERS = (Answer.OUT, Answer.IN, Answer.CANNOT_TELL)
_OUT, _IN, _CANNOT_TELL = range(3)


@dataclass(frozen=True, kw_only=True, eq=False)
class Ring:
    """How each of many places lies to the rings round one centre.

    Parameters
    ----------
    centre
        The case.
    radii_m
        The radii, in the order asked, r of them. [m]
    index
        The places that may lie within the largest radius (or ``within_m``), in order; all others are out.
    codes
        Per place and radius 0 out, 1 in, 2 cannot tell; shape (n, r).
    """

    centre: Place
    radii_m: tuple[float, ...]
    index: IntArray
    codes: AnyArray
    places: Places = field(repr=False)

    @cached_property
    def bounds_m(self) -> tuple[FloatArray, FloatArray]:
        """Smallest and largest possible distance to each place, shapes (n,); NaN outside ``index``. [m]

        Worked out when first asked for: the answers need the exact bounds near the lines only.
        """
        nearest_m, farthest_m = np.full((2, len(self.codes)), np.nan)
        nearest_m[self.index], farthest_m[self.index] = _measure(self.centre, self.places, self.index)
        return nearest_m, farthest_m

    @property
    def nearest_m(self) -> FloatArray:
        """Smallest possible distance to each place, shape (n,); NaN outside ``index``. [m]"""
        return self.bounds_m[0]

    @property
    def farthest_m(self) -> FloatArray:
        """Largest possible distance to each place, shape (n,); NaN outside ``index``. [m]"""
        return self.bounds_m[1]

    @property
    def answers(self) -> AnyArray:
        """Answers as words, shape (n, r)."""
        return np.array([answer.value for answer in _ANSWERS])[self.codes]

    def answer(self, place: int) -> tuple[Answer, ...]:
        """Return the answers of one place, one a radius."""
        return tuple(_ANSWERS[code] for code in self.codes[place])

    def of(self, answer: Answer, radius: int = 0) -> IntArray:
        """Return the places with an answer for the radius of that number, in order."""
        return np.nonzero(self.codes[:, radius] == _ANSWERS.index(answer))[0]

    def to_sweep(self, radius: int = 0) -> IntArray:
        """Return the places that are in or cannot be told, in order."""
        return np.nonzero(self.codes[:, radius] != _OUT)[0]


def ring(centre: Place, places: Places, radii_m: Sequence[float], *, within_m: float | None = None) -> Ring:
    """Say of every place whether it is in, out, or cannot be told, for each radius round a centre.

    Parameters
    ----------
    centre
        The case, itself a square.
    places
        The places to ask.
    radii_m
        One or more radii, > 0. [m]
    within_m
        Measure the places that may lie within this distance, at least the largest radius; infinity measures
        all. By default the largest radius. [m]

    Raises
    ------
    ValueError
        If there is no radius, or one is not positive.
    """
    radii = tuple(float(radius) for radius in radii_m)
    if not radii or not all(radius > 0 for radius in radii):
        raise ValueError(f"Expected one or more radii_m > 0, got {list(radii_m)}.")
    reach_m = max(*radii, within_m or 0.0)
    index = _candidates(centre, places, reach_m)
    limits = np.array([*radii, reach_m])
    nearest, farthest = _bracket(centre, places, index)
    astride = np.any((nearest[:, None] <= limits) & (farthest[:, None] > limits), axis=1)
    nearest[astride], farthest[astride] = _measure(centre, places, index[astride])
    codes = np.zeros((len(places), len(radii)), dtype=np.int8)
    codes[index] = np.where(
        farthest[:, None] <= limits[:-1], _IN, np.where(nearest[:, None] > limits[:-1], _OUT, _CANNOT_TELL)
    )
    return Ring(centre=centre, radii_m=radii, index=index[nearest <= reach_m], codes=codes, places=places)


def _candidates(centre: Place, places: Places, reach_m: float) -> IntArray:
    if math.isinf(reach_m):
        return np.arange(len(places))
    return places.near(centre, reach_m + _MARGIN * centre.precision_with_datum_m)


def _bracket(centre: Place, places: Places, index: IntArray) -> tuple[FloatArray, FloatArray]:
    """Bounds that certainly hold the exact ones: the distance of the centres, less and more the half diagonals."""
    alone = Places([centre])
    apart_m = geodesic_of_chord(alone.neighbours.points[0], places.neighbours.points[index])
    slack_m = places.half_diagonal_m[index] + alone.half_diagonal_m[0] + places.datum_slack_m(centre, index)
    return np.maximum(apart_m - slack_m, 0.0), apart_m + slack_m


def _measure(centre: Place, places: Places, index: IntArray) -> tuple[FloatArray, FloatArray]:
    """Distance bounds to some places, the few wide squares apart from the many fine ones."""
    nearest, farthest = np.empty(len(index)), np.empty(len(index))
    own = patches([centre])
    wide = places.precision_m[index] > FINE_SIDE.value
    for rows in (np.nonzero(~wide)[0], np.nonzero(wide)[0]):
        if len(rows):
            some = index[rows]
            widest_m = max(centre.precision_m, float(places.precision_m[some].max()))
            nearest[rows], farthest[rows] = patch_bounds(own, places.patches(some), widest_m)
    slack_m = places.datum_slack_m(centre, index)
    return np.maximum(nearest - slack_m, 0.0), farthest + slack_m
