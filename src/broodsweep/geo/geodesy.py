"""Geodesics on the WGS84 ellipsoid, and points of its surface in earth-centred coordinates.

Exact geodesics are pyproj's (Karney 2013). For many pairs nearer than ``CHORD_LIMIT`` the straight chord
through the earth, lengthened by a series in chord over radius of curvature, agrees with them to 0.1 mm
and costs a few array operations.

References
----------
Karney 2013, Algorithms for geodesics, J Geod 87:43-55, doi 10.1007/s00190-012-0578-z.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from pyproj import Geod

from broodsweep.geo.constants import CHORD_LIMIT, WGS84_INVERSE_FLATTENING, WGS84_SEMI_MAJOR_AXIS
from broodsweep.geo.place import Place
from broodsweep.units import FloatArray

A_M = WGS84_SEMI_MAJOR_AXIS.value
_F = 1.0 / WGS84_INVERSE_FLATTENING.value
E2 = _F * (2.0 - _F)
GEOD = Geod(a=A_M, rf=WGS84_INVERSE_FLATTENING.value)


def distance_m(
    from_longitude: Any, from_latitude: Any, to_longitude: Any, to_latitude: Any, *, geod: Geod = GEOD
) -> Any:
    """Return the geodesic distance, for numbers or arrays of one shape. [m]

    Parameters
    ----------
    from_longitude, from_latitude, to_longitude, to_latitude
        Ends of the lines. [degree]
    geod
        Another ellipsoid than WGS84.
    """
    return geod.inv(from_longitude, from_latitude, to_longitude, to_latitude)[2]


def bearing(
    from_longitude: Any, from_latitude: Any, to_longitude: Any, to_latitude: Any, *, geod: Geod = GEOD
) -> Any:
    """Return the azimuth at the start of the geodesic, 0 to 360 clockwise from north. [degree]"""
    return np.mod(geod.inv(from_longitude, from_latitude, to_longitude, to_latitude)[0], 360.0)


def travel(
    longitude: Any, latitude: Any, bearing_degree: Any, along_m: Any, *, geod: Geod = GEOD
) -> tuple[Any, Any, Any]:
    """Return longitude, latitude and the onward azimuth (0 to 360) after a geodesic of that length. [degree]"""
    to_longitude, to_latitude, back = geod.fwd(longitude, latitude, bearing_degree, along_m)
    return to_longitude, to_latitude, np.mod(np.asarray(back) + 180.0, 360.0)


def distance_between(a: Place, b: Place) -> float:
    """Return the geodesic distance between the centres of two places. [m]"""
    return float(distance_m(a.longitude, a.latitude, b.longitude, b.latitude))


def earth_centred(longitude: Any, latitude: Any) -> FloatArray:
    """Return points of the ellipsoid in earth-centred coordinates, shape (..., 3). [m]"""
    lam, phi = np.radians(longitude), np.radians(latitude)
    sin = np.sin(phi)
    normal = A_M / np.sqrt(1.0 - E2 * sin * sin)
    flat = normal * np.cos(phi)
    return np.stack([flat * np.cos(lam), flat * np.sin(lam), normal * (1.0 - E2) * sin], axis=-1)


def to_longitude_latitude(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return longitude and latitude of earth-centred points on (or within metres of) the ellipsoid. [degree]"""
    flat = np.hypot(points[..., 0], points[..., 1])
    longitude = np.degrees(np.arctan2(points[..., 1], points[..., 0]))
    return longitude, np.degrees(np.arctan2(points[..., 2], flat * (1.0 - E2)))


def geodesic_of_chord(a: FloatArray, b: FloatArray) -> FloatArray:
    """Return the geodesic distance between earth-centred points of the ellipsoid, shapes (..., 3). [m]

    Up to ``CHORD_LIMIT`` by the arc over the chord with the radius of curvature of the normal section
    half-way; beyond by ``GEOD``.
    """
    a, b = np.broadcast_arrays(a, b)
    delta = b - a
    squared = _dot(delta, delta)
    chord = np.sqrt(squared)
    curvature = _curvature(a + b, delta, squared)
    x = squared * curvature * curvature
    length = chord * (1.0 + x / 24.0 + 3.0 * x * x / 640.0)
    far = chord > CHORD_LIMIT.value
    if np.any(far):
        length = np.array(length, ndmin=1)
        rows = np.atleast_1d(far)
        from_a, from_b = np.atleast_2d(a)[rows], np.atleast_2d(b)[rows]
        length[rows] = distance_m(*to_longitude_latitude(from_a), *to_longitude_latitude(from_b))
        length = length.reshape(chord.shape)
    return np.asarray(length)


def _curvature(middle: FloatArray, delta: FloatArray, squared: FloatArray) -> FloatArray:
    """Curvature of the normal section along ``delta`` at the direction ``middle`` (Euler). [1/m]"""
    scale = 1.0 / np.array([1.0, 1.0, 1.0 - E2])  # gradient of the ellipsoid x²+y²+z²/(1-e²) = a²
    flattened = middle * scale
    # |gradient| where the direction ``middle`` meets the ellipsoid
    size = A_M * np.sqrt(_dot(flattened, flattened) / _dot(middle, flattened))
    bent = squared + (scale[2] - 1.0) * delta[..., 2] ** 2
    safe = np.where(squared > 0.0, squared, 1.0)
    return np.where(squared > 0.0, bent / (safe * size), 0.0)


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    """Scalar product in space; plain sums, as einsum is slow over so short an axis."""
    return np.asarray(a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1] + a[..., 2] * b[..., 2])
