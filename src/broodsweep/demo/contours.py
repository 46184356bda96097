"""Level lines and level regions of a raster, by marching squares."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from broodsweep.units import BoolArray, FloatArray

_PAIRS: dict[int, tuple[tuple[int, int], ...]] = {
    1: ((3, 0),), 2: ((0, 1),), 3: ((3, 1),), 4: ((1, 2),), 5: ((3, 2), (0, 1)), 6: ((0, 2),), 7: ((3, 2),),
    8: ((2, 3),), 9: ((2, 0),), 10: ((0, 3), (1, 2)), 11: ((2, 1),), 12: ((1, 3),), 13: ((1, 0),), 14: ((0, 3),),
}  # fmt: skip
"""Sides (0 south, 1 east, 2 north, 3 west) joined in each of the marching-squares cases."""


def level_segments(
    field: FloatArray, level: float, eastings_m: FloatArray, northings_m: FloatArray
) -> FloatArray:
    """Return the pieces of the level line, shape (n, 2, 2): two ends with easting and northing. [m]

    Ends that meet are equal to the last bit, because each is computed once for its side of the raster.
    """
    values = np.asarray(field, dtype=float) - level
    values = np.where(values == 0.0, 1e-12, values)
    above: BoolArray = values > 0
    with np.errstate(divide="ignore", invalid="ignore"):
        along = values[:, :-1] / (values[:, :-1] - values[:, 1:])
        up = values[:-1] / (values[:-1] - values[1:])
    step_e, step_n = eastings_m[1] - eastings_m[0], northings_m[1] - northings_m[0]
    flat = np.stack(np.broadcast_arrays(eastings_m[:-1] + along * step_e, northings_m[:, None]), axis=-1)
    steep = np.stack(np.broadcast_arrays(eastings_m, northings_m[:-1, None] + up * step_n), axis=-1)
    sides = (flat[:-1], steep[:, 1:], flat[1:], steep[:, :-1])
    case = above[:-1, :-1] * 1 + above[:-1, 1:] * 2 + above[1:, 1:] * 4 + above[1:, :-1] * 8
    pieces = []
    for number, pairs in _PAIRS.items():
        here = case == number
        for start, stop in pairs:
            pieces.append(np.stack([sides[start][here], sides[stop][here]], axis=1))
    return np.concatenate(pieces)


def level_lines(
    field: FloatArray, level: float, eastings_m: FloatArray, northings_m: FloatArray
) -> BaseGeometry:
    """Return the level line as long lines."""
    segments = level_segments(field, level, eastings_m, northings_m)
    return shapely.line_merge(shapely.multilinestrings(shapely.linestrings(segments)))


def region(field: FloatArray, level: float, eastings_m: FloatArray, northings_m: FloatArray) -> BaseGeometry:
    """Return where the field lies above the level; the edge of the raster counts as below."""
    inner = np.full(field.shape, level - 1.0)
    inner[1:-1, 1:-1] = field[1:-1, 1:-1]
    segments = level_segments(inner, level, eastings_m, northings_m)
    faces = shapely.get_parts(shapely.polygonize(list(shapely.linestrings(segments))))
    inside = shapely.get_coordinates(shapely.point_on_surface(faces))
    columns = np.clip(np.rint((inside[:, 0] - eastings_m[0]) / (eastings_m[1] - eastings_m[0])), 0, None)
    rows = np.clip(np.rint((inside[:, 1] - northings_m[0]) / (northings_m[1] - northings_m[0])), 0, None)
    keep = inner[rows.astype(int), columns.astype(int)] > level
    return shapely.union_all(faces[keep])
