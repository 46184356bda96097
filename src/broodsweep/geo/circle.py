"""The outline of a ring, for drawing it."""

from __future__ import annotations

import numpy as np

from broodsweep.geo.geodesy import travel
from broodsweep.geo.place import Place

CORNERS = 180
"""Corners of the outline (project choice): at 5 km the chord lies 0.8 m inside the circle."""


def circle(centre: Place, radius_m: float) -> list[list[float]]:
    """Return the geodesic circle round the middle of a place as a closed ring of [longitude, latitude].

    Corners run counter-clockwise and the last repeats the first, as RFC 7946 (section 3.1.6) asks.

    Raises
    ------
    ValueError
        If ``radius_m`` is not positive.
    """
    if not radius_m > 0:
        raise ValueError(f"Expected radius_m > 0, got {radius_m}.")
    bearings = np.linspace(360.0, 0.0, CORNERS + 1)[:-1]
    there = np.full(CORNERS, centre.longitude), np.full(CORNERS, centre.latitude)
    longitude, latitude, _ = travel(*there, bearings, np.full(CORNERS, radius_m))
    corners = [[round(float(x), 7), round(float(y), 7)] for x, y in zip(longitude, latitude, strict=True)]
    return [*corners, corners[0]]
