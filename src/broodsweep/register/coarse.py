"""A ground fit for the public: no keepers, no names, every place in a large square."""

from __future__ import annotations

import math
from dataclasses import replace

from broodsweep.geo import Place
from broodsweep.register.constants import PUBLIC_SQUARE_M
from broodsweep.register.model import Apiary, Ground
from broodsweep.register.spots import METRES_A_DEGREE


def coarsen(ground: Ground, square_m: float = PUBLIC_SQUARE_M.value) -> Ground:
    """Return what may be shown to anyone: apiaries by square, with moves, visits and removals.

    Keepers, inspectors, lots, remarks, purposes and extra columns are left out. Apiaries and visits are
    numbered anew in order of square and of day, so that no number leads back to the register.

    Parameters
    ----------
    ground
        The register.
    square_m
        Side of the squares, > 0. [m]

    Raises
    ------
    ValueError
        If ``square_m`` is not positive.
    """
    if not square_m > 0:
        raise ValueError(f"Expected square_m > 0, got {square_m}.")
    coarse = sorted(
        ((_square(row.place, square_m), row) for row in ground.apiaries),
        key=lambda pair: (pair[0].latitude, pair[0].longitude, pair[1].colonies, str(pair[1].kept_since)),
    )
    number = {row.apiary: f"P{n:06d}" for n, (_, row) in enumerate(coarse, 1)}
    apiaries = tuple(
        Apiary(
            apiary=number[row.apiary],
            place=place,
            colonies=row.colonies,
            kept_since=row.kept_since,
            left_on=row.left_on,
        )
        for place, row in coarse
    )
    moves = tuple(
        replace(
            row,
            from_apiary=number.get(row.from_apiary or ""),
            to_apiary=number.get(row.to_apiary or ""),
            extra=(),
        )
        for row in ground.moves
    )
    seen = sorted(
        (row for row in ground.visits if row.apiary in number),
        key=lambda row: (row.visited_on, number[row.apiary], row.visit),
    )
    visits = tuple(
        replace(row, visit=f"P{n:06d}", apiary=number[row.apiary], inspector=None, purpose=None, extra=())
        for n, row in enumerate(seen, 1)
    )
    removals = tuple(
        replace(row, apiary=number[row.apiary], extra=()) for row in ground.removals if row.apiary in number
    )
    kept = tuple(row for row in moves if row.from_apiary != row.to_apiary)
    return Ground(apiaries=apiaries, moves=kept, visits=visits, removals=removals)


def _square(place: Place, square_m: float) -> Place:
    """Return the square that holds the centre of the place: bands of latitude, cut into equal widths."""
    step = square_m / METRES_A_DEGREE
    latitude = min(90.0, (math.floor(place.latitude / step) + 0.5) * step)
    width = min(360.0, step / max(1e-9, math.cos(math.radians(latitude))))
    longitude = (math.floor(place.longitude / width) + 0.5) * width
    longitude = (longitude + 180) % 360 - 180
    return Place(
        longitude=round(longitude, 6),
        latitude=round(latitude, 6),
        precision_m=max(square_m, place.precision_m),
    )
