"""The square of a place on the ellipsoid: its corners, and a patch that any point of it is read from.

A patch is the biquadratic surface through 3 x 3 points of the square in earth-centred coordinates. It
leaves the true surface by less than a millimetre for squares up to 10 km.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from broodsweep.geo.datum import datum, grid_to_wgs84
from broodsweep.geo.geodesy import A_M, E2, earth_centred
from broodsweep.geo.place import Place
from broodsweep.units import FloatArray, IntArray

_STEPS = np.array([-1.0, 0.0, 1.0])
_LAGRANGE = np.array([[0.0, 1.0, 0.0], [-0.5, 0.0, 0.5], [0.5, -1.0, 0.5]])
"""Values at -1, 0, 1 to the coefficients of 1, s, s²."""
_POLE_DEGREE = 90.0


def corners(place: Place) -> tuple[tuple[float, float], ...]:
    """Return (longitude, latitude) of the corners: south-west, south-east, north-east, north-west. [degree]

    "South-west" is by the axes of the grid.
    """
    longitude, latitude = _nodes([place])
    order = ((0, 0), (2, 0), (2, 2), (0, 2))
    return tuple((float(longitude[0][i]), float(latitude[0][i])) for i in order)


def patches(places: Sequence[Place]) -> FloatArray:
    """Return the patches of some places, shape (n, 3, 3, 3): power of s, power of t, x y z. [m]

    s runs from -1 to 1 along the easting (or the parallel), t along the northing (or the meridian).
    """
    longitude, latitude = _nodes(places)
    nodes = earth_centred(longitude, latitude)
    return np.asarray(np.einsum("ia,jb,nabk->nijk", _LAGRANGE, _LAGRANGE, nodes, optimize=True))


def _nodes(places: Sequence[Place]) -> tuple[FloatArray, FloatArray]:
    longitude = np.array([place.longitude for place in places], dtype=np.float64)
    latitude = np.array([place.latitude for place in places], dtype=np.float64)
    side_m = np.array([place.precision_m for place in places], dtype=np.float64)
    codes = np.array([place.epsg if place.is_on_grid else 0 for place in places], dtype=np.int64)
    easting = np.array([place.easting or 0.0 for place in places], dtype=np.float64)
    northing = np.array([place.northing or 0.0 for place in places], dtype=np.float64)
    return square_nodes(longitude, latitude, side_m, codes, easting, northing)


def square_nodes(
    longitude: FloatArray,
    latitude: FloatArray,
    side_m: FloatArray,
    codes: IntArray,
    easting: FloatArray,
    northing: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Return longitude and latitude of 3 x 3 points of each square, shapes (n, 3, 3). [degree]

    ``codes`` is the EPSG code of the plane grid, 0 where the sides lie along meridian and parallel.
    """
    longitudes = np.empty((len(longitude), 3, 3))
    latitudes = np.empty_like(longitudes)
    s, t = (axis[None] for axis in np.meshgrid(_STEPS, _STEPS, indexing="ij"))
    for code in np.unique(codes):
        rows = np.nonzero(codes == code)[0]
        half = side_m[rows, None, None] / 2.0
        if code == 0:
            phi = np.radians(latitude[rows, None, None])
            along, across = degrees_per_metre(phi)
            latitudes[rows] = np.clip(
                latitude[rows, None, None] + t * half * along, -_POLE_DEGREE, _POLE_DEGREE
            )
            longitudes[rows] = longitude[rows, None, None] + s * half * across
        else:
            half = half / datum(int(code)).unit_m
            longitudes[rows], latitudes[rows] = grid_to_wgs84(
                int(code), easting[rows, None, None] + s * half, northing[rows, None, None] + t * half
            )
    return longitudes, latitudes


def degrees_per_metre(phi: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return degrees of latitude and of longitude to a metre at the latitude ``phi`` [radian]."""
    w = 1.0 - E2 * np.sin(phi) ** 2
    meridian_m = A_M * (1.0 - E2) / w**1.5
    parallel_m = np.maximum(A_M / np.sqrt(w) * np.cos(phi), 1.0)  # at a pole a degree has no length
    return np.degrees(1.0 / meridian_m), np.degrees(1.0 / parallel_m)


def points_of(patch: FloatArray, s: FloatArray, t: FloatArray) -> FloatArray:
    """Return the points (s, t) of patches, shape (..., 3). [m]"""
    s, t = s[..., None], t[..., None]
    rows = patch[..., 0, :] + t[..., None] * (patch[..., 1, :] + t[..., None] * patch[..., 2, :])
    return np.asarray(rows[..., 0, :] + s * (rows[..., 1, :] + s * rows[..., 2, :]))


def tangents_of(patch: FloatArray, s: FloatArray, t: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the derivatives of the patches by s and by t at (s, t), shapes (..., 3). [m]"""
    one, zero = np.ones_like(s), np.zeros_like(s)
    by_s = _blend(patch, (zero, one, 2.0 * s), (one, t, t * t))
    by_t = _blend(patch, (one, s, s * s), (zero, one, 2.0 * t))
    return by_s, by_t


def _blend(patch: FloatArray, of_s: Sequence[FloatArray], of_t: Sequence[FloatArray]) -> FloatArray:
    weights_s, weights_t = np.stack(of_s, axis=-1), np.stack(of_t, axis=-1)
    return np.asarray(np.einsum("...ijk,...i,...j->...k", patch, weights_s, weights_t))
