"""Pairs of apiaries whose squares come near each other, without comparing each with each."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from broodsweep.register.constants import COARSE_M, CROWD, MANY_PAIRS
from broodsweep.register.model import Apiary
from broodsweep.register.spots import EARTH_RADIUS_M, apart, half_diagonal_m
from broodsweep.units import FloatArray

Pairs = set[tuple[int, int]]


def pairs_within(apiaries: Sequence[Apiary], near_m: float) -> Pairs:
    """Return pairs (i < j) of apiaries in squares of at most 1 km that can lie within ``near_m``.

    Distances are chords through a sphere: over the few kilometres in question they differ from the
    geodesic by less than half a per cent. The nearest the two can be is the distance of the centres less
    half a diagonal of each. Where so many stand on one spot that there are more than two million pairs,
    none are returned: nearness says nothing there.
    """
    fine = [n for n, row in enumerate(apiaries) if row.place.precision_m <= COARSE_M.value]
    if len(fine) <= 1:
        return set()
    where = _on_sphere([apiaries[n] for n in fine])
    blur = np.array([half_diagonal_m(apiaries[n].place) for n in fine])
    tree = cKDTree(where)
    reach = near_m + 2 * float(blur.max())
    if tree.count_neighbors(tree, reach) > 2 * MANY_PAIRS.value + len(fine):
        reach = near_m
        if tree.count_neighbors(tree, reach) > 2 * MANY_PAIRS.value + len(fine):
            return set()
    pairs = tree.query_pairs(reach, output_type="ndarray")
    if not len(pairs):
        return set()
    first, second = pairs[:, 0], pairs[:, 1]
    nearest = np.linalg.norm(where[first] - where[second], axis=1) - blur[first] - blur[second]
    index = np.array(fine)
    kept = np.sort(index[pairs[nearest <= near_m]], axis=1)
    return {(int(i), int(j)) for i, j in kept}


def pairs_of_keepers(apiaries: Sequence[Apiary], near_m: float) -> Pairs:
    """Return pairs (i < j) of one keeper's apiaries that can lie within ``near_m``, coarse squares too."""
    groups: dict[str, list[int]] = defaultdict(list)
    for n, row in enumerate(apiaries):
        if row.keeper:
            groups[row.keeper].append(n)
    found: Pairs = set()
    for group in groups.values():
        if len(group) > CROWD.value:
            continue
        for place, i in enumerate(group):
            for j in group[place + 1 :]:
                one, two = apiaries[i].place, apiaries[j].place
                if apart(one, two) - half_diagonal_m(one) - half_diagonal_m(two) <= near_m:
                    found.add((i, j))
    return found


def _on_sphere(apiaries: Sequence[Apiary]) -> FloatArray:
    """Return x, y, z of each place on a sphere of the earth's mean radius, shape (n, 3). [m]"""
    lon = np.array([row.place.longitude for row in apiaries]) * (math.pi / 180)
    lat = np.array([row.place.latitude for row in apiaries]) * (math.pi / 180)
    unit = np.stack((np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)), axis=1)
    return np.asarray(unit * EARTH_RADIUS_M, dtype=np.float64)
