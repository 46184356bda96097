"""The smallest and the largest geodesic distance between two places that are squares.

Two squares are laid into the plane of their connecting line, where the nearest pair of points is a corner
against a point of the other square, and the farthest pair is two corners. The distance between the points
so found is then measured on the ellipsoid: a small error of where they are changes it in second order only.
Squares wider than ``FINE_SIDE``, whose sides are visibly curved, are worked on their patches instead.

The accuracy of a datum shift is added on both ends, unless both places went through the same shift: its
error is then common to both and moves them together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from broodsweep.geo.constants import FINE_SIDE
from broodsweep.geo.geodesy import geodesic_of_chord
from broodsweep.geo.place import Place
from broodsweep.geo.squares import patches, points_of, tangents_of
from broodsweep.units import BoolArray, FloatArray

_CORNERS = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
_TINY = 1e-12
_SWEEPS = 5
_SAME = 1e-9


def distance_bounds(a: Place, b: Place) -> tuple[float, float]:
    """Return the smallest and the largest distance that two places can be apart. [m]

    Exact to about a millimetre for squares up to 10 km and distances up to 1,000 km, the accuracy of a
    datum shift added as said above. Overlapping squares may be 0 m apart.
    """
    both = patches([a, b])
    nearest, farthest = patch_bounds(both[:1], both[1:], max(a.precision_m, b.precision_m))
    slack_m = datum_slack_m(a, b)
    return max(0.0, float(nearest[0]) - slack_m), float(farthest[0]) + slack_m


def datum_slack_m(a: Place, b: Place) -> float:
    """Return what the datum shifts of two places add to the bounds: nothing when it is the same shift. [m]"""
    return 0.0 if a.datum_shift == b.datum_shift else a.datum_accuracy_m + b.datum_accuracy_m


def patch_bounds(a: FloatArray, b: FloatArray, widest_m: float) -> tuple[FloatArray, FloatArray]:
    """Return the smallest and the largest distances of pairs of patches, shapes (n,). [m]

    Parameters
    ----------
    a
        One patch or as many as ``b``, shape (1 or n, 3, 3, 3). [m]
    b
        Patches, shape (n, 3, 3, 3). [m]
    widest_m
        Side of the widest square among them. [m]
    """
    plane = _lay_flat(a, b)
    to_b, to_a = _flat_pairs(plane)
    if widest_m > FINE_SIDE.value:
        nearest = _nearest_on_patches(a, b)
    else:
        nearest = _nearest_flat(a, b, plane, to_b, to_a)
    nearest = np.where(_overlaps(plane), 0.0, nearest)
    return nearest, _farthest(a, b, plane)


@dataclass(frozen=True, kw_only=True)
class _Plane:
    """Pairs of squares in the plane of their connecting line: first axis along it, second across.

    ``a`` and ``b`` are half-sides, shape (n, side, axis). ``apart`` is the distance of the centres, shape (n,).
    """

    a: FloatArray
    b: FloatArray
    apart: FloatArray


def _lay_flat(a: FloatArray, b: FloatArray) -> _Plane:
    centre_a, centre_b = a[:, 0, 0], b[:, 0, 0]
    line = centre_b - centre_a
    apart = np.sqrt(np.einsum("nk,nk->n", line, line))
    side = a[:, 1, 0] / np.maximum(np.linalg.norm(a[:, 1, 0], axis=-1, keepdims=True), _TINY)
    along = np.where(apart[:, None] > _SAME, line / np.maximum(apart, _TINY)[:, None], side)
    across = np.cross(centre_a + centre_b, along)
    across /= np.maximum(np.linalg.norm(across, axis=-1, keepdims=True), _TINY)
    axes = np.stack([along, across], axis=1)
    sides_a = np.stack([a[:, 1, 0], a[:, 0, 1]], axis=1)
    sides_b = np.stack([b[:, 1, 0], b[:, 0, 1]], axis=1)
    return _Plane(
        a=np.einsum("nsk,nak->nsa", np.broadcast_to(sides_a, sides_b.shape), axes),
        b=np.einsum("nsk,nak->nsa", sides_b, axes),
        apart=apart,
    )


def _foot(points: FloatArray, sides: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return where in squares (half-sides, centre 0) the points are nearest, (n, 4, 2), and how far squared."""
    first, second = sides[:, None, 0], sides[:, None, 1]
    size_first = np.maximum(_dot(first, first), _TINY)
    size_second = np.maximum(_dot(second, second), _TINY)
    skew = _dot(first, second)
    on_first, on_second = _dot(points, first), _dot(points, second)
    t = np.zeros_like(on_first)
    for _ in range(2):  # the axes of a grid are at right angles but for a degree or so: twice is enough
        s = np.clip((on_first - t * skew) / size_first, -1.0, 1.0)
        t = np.clip((on_second - s * skew) / size_second, -1.0, 1.0)
    gap = points - s[..., None] * first - t[..., None] * second
    return np.stack([s, t], axis=-1), _dot(gap, gap)


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    """Scalar product in the plane; plain sums, as einsum is slow over so short an axis."""
    return np.asarray(a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1])


_Feet = tuple[FloatArray, FloatArray]


def _flat_pairs(plane: _Plane) -> tuple[_Feet, _Feet]:
    """Corners of a against b, and corners of b against a."""
    offset = np.zeros((len(plane.apart), 1, 2))
    offset[:, 0, 0] = plane.apart
    return _foot(_CORNERS @ plane.a - offset, plane.b), _foot(_CORNERS @ plane.b + offset, plane.a)


def _nearest_flat(a: FloatArray, b: FloatArray, plane: _Plane, to_b: _Feet, to_a: _Feet) -> FloatArray:
    rows = np.arange(len(plane.apart))
    corner = np.argmin(np.concatenate([to_b[1], to_a[1]], axis=1), axis=1)
    from_a = (corner < len(_CORNERS))[:, None]
    which = corner % len(_CORNERS)
    at_a = np.where(from_a, _CORNERS[which], to_a[0][rows, which])
    at_b = np.where(from_a, to_b[0][rows, which], _CORNERS[which])
    return geodesic_of_chord(points_of(a, at_a[:, 0], at_a[:, 1]), points_of(b, at_b[:, 0], at_b[:, 1]))


def _farthest(a: FloatArray, b: FloatArray, plane: _Plane) -> FloatArray:
    corners_a, corners_b = _CORNERS @ plane.a, _CORNERS @ plane.b
    along = plane.apart[:, None, None] + corners_b[:, None, :, 0] - corners_a[:, :, None, 0]
    across = corners_b[:, None, :, 1] - corners_a[:, :, None, 1]
    pair = np.argmax((along * along + across * across).reshape(len(along), -1), axis=1)
    at_a, at_b = _CORNERS[pair // len(_CORNERS)], _CORNERS[pair % len(_CORNERS)]
    return geodesic_of_chord(points_of(a, at_a[:, 0], at_a[:, 1]), points_of(b, at_b[:, 0], at_b[:, 1]))


def _overlaps(plane: _Plane) -> BoolArray:
    """Say which squares overlap: no direction across a side parts them."""
    reach = np.abs(plane.a).sum(axis=(1, 2)) + np.abs(plane.b).sum(axis=(1, 2))
    found: BoolArray = plane.apart < reach
    rows = np.nonzero(found)[0]
    if not len(rows):
        return found
    sides = np.concatenate([plane.a[rows], plane.b[rows]], axis=1)
    normals = np.stack([-sides[..., 1], sides[..., 0]], axis=-1)
    extent = np.abs(np.einsum("nda,nsa->nds", normals, sides)).sum(axis=2)
    between = np.abs(normals[..., 0]) * plane.apart[rows, None]
    found[rows] = np.all(between < extent, axis=1)
    return found


def _nearest_on_patches(a: FloatArray, b: FloatArray) -> FloatArray:
    """Nearest distance of wide squares: corners first, then along the facing sides between the best two."""
    a = np.broadcast_to(a, b.shape)
    rows = np.arange(len(b))
    corners = np.broadcast_to(_CORNERS, (len(b), *_CORNERS.shape))
    at_a, at_b = corners, _foot_on_patches(_at(a, corners), b)
    back_b, back_a = corners, _foot_on_patches(_at(b, corners), a)
    at_a, at_b = np.concatenate([at_a, back_a], axis=1), np.concatenate([at_b, back_b], axis=1)
    gaps = geodesic_of_chord(_at(a, at_a), _at(b, at_b))
    first = np.argmin(gaps, axis=1)
    one_a, one_b = at_a[rows, first], at_b[rows, first]
    moved = np.abs(at_a - one_a[:, None]).sum(axis=2) + np.abs(at_b - one_b[:, None]).sum(axis=2)
    second = np.argmin(np.where(moved < _SAME, np.inf, gaps), axis=1)
    two_a = at_a[rows, second]
    start, end = gaps[rows, first], gaps[rows, second]
    middle = _gap_from(a, b, (one_a + two_a) / 2.0)
    slope, bend = -3.0 * start + 4.0 * middle - end, 2.0 * (start - 2.0 * middle + end)
    share = np.clip(np.where(bend > _TINY, -slope / np.maximum(2.0 * bend, _TINY), 0.0), 0.0, 1.0)
    lowest = _gap_from(a, b, one_a + share[:, None] * (two_a - one_a))
    return np.asarray(np.min([start, middle, lowest], axis=0))


def _at(patch: FloatArray, st: FloatArray) -> FloatArray:
    return points_of(patch[:, None], st[..., 0], st[..., 1])


def _gap_from(a: FloatArray, b: FloatArray, at_a: FloatArray) -> FloatArray:
    points = _at(a, at_a[:, None])
    return np.asarray(geodesic_of_chord(points, _at(b, _foot_on_patches(points, b)))[:, 0])


def _foot_on_patches(points: FloatArray, patch: FloatArray) -> FloatArray:
    """Return where on its patch each point is nearest, shape (n, p, 2), by turns along both sides."""
    s, t = np.zeros(points.shape[:-1]), np.zeros(points.shape[:-1])
    patch = patch[:, None]
    for _ in range(_SWEEPS):
        by_s, _by_t = tangents_of(patch, s, t)
        s = np.clip(s + _step(points - points_of(patch, s, t), by_s), -1.0, 1.0)
        _by_s, by_t = tangents_of(patch, s, t)
        t = np.clip(t + _step(points - points_of(patch, s, t), by_t), -1.0, 1.0)
    return np.stack([s, t], axis=-1)


def _step(gap: FloatArray, side: FloatArray) -> FloatArray:
    size = np.maximum(np.einsum("...k,...k->...", side, side), _TINY)
    return np.asarray(np.einsum("...k,...k->...", gap, side) / size)
