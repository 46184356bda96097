"""National Grid references inside the one square that holds Skarnsey, and the way to longitude and latitude."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from broodsweep.demo.constants import EPSG, SQUARE, SQUARE_EASTING_M, SQUARE_NORTHING_M
from broodsweep.geo import Place, parse_place
from broodsweep.geo.datum import datum
from broodsweep.units import FloatArray

_SQUARE_M = 100_000


def to_longitude_latitude(points_m: Any) -> FloatArray:
    """Return longitude and latitude (WGS84) for easting and northing, shape (…, 2) as given. [degree]"""
    points = np.asarray(points_m, dtype=float)
    longitude, latitude = datum(EPSG).to_wgs84(points[..., 0], points[..., 1])
    return np.stack([longitude, latitude], axis=-1)


def to_grid(points_degree: Any) -> FloatArray:
    """Return easting and northing for longitude and latitude, shape (…, 2) as given. [m]"""
    points = np.asarray(points_degree, dtype=float)
    easting, northing = datum(EPSG).from_wgs84(points[..., 0], points[..., 1])
    return np.stack([easting, northing], axis=-1)


def grid_place(spot_m: Sequence[float] | FloatArray, figures: int) -> Place:
    """Return the square of the National Grid that holds a spot, as a reference of that many figures.

    Raises
    ------
    ValueError
        If the spot is not in the square of the island, or the figures are not an even number from 2 to 10.
    """
    if figures not in (2, 4, 6, 8, 10):
        raise ValueError(f"Expected 2, 4, 6, 8 or 10 figures, got {figures}.")
    east, north = float(spot_m[0]) - SQUARE_EASTING_M, float(spot_m[1]) - SQUARE_NORTHING_M
    if not (0 <= east < _SQUARE_M and 0 <= north < _SQUARE_M):
        raise ValueError(f"Expected a spot in the square {SQUARE}, got {tuple(spot_m)}.")
    digits = figures // 2
    side = 10 ** (5 - digits)
    columns, rows = int(east // side), int(north // side)
    return parse_place(f"{SQUARE} {columns:0{digits}d} {rows:0{digits}d}")


def position_place(longitude: float, latitude: float, decimals: int) -> Place:
    """Return a place given in degrees with so many decimals, the hemispheres named."""
    return parse_place(f"{latitude:.{decimals}f} N, {longitude:.{decimals}f} E")
