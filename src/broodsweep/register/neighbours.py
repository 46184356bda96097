"""Pairs of apiaries whose squares come near each other, without comparing each with each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from broodsweep.geo import Places, distance_between
from broodsweep.register.constants import COARSE_M, CROWD, MANY_PAIRS
from broodsweep.register.model import Apiary
from broodsweep.register.spots import half_diagonal_m

Pairs = dict[tuple[int, int], float]
"""Positions (i < j) → distance of the centres. [m]"""


def pairs_within(places: Places, near_m: float) -> Pairs:
    """Return pairs of places in squares of at most 1 km that can lie within ``near_m``.

    The nearest the two can be is the distance of the centres less half a diagonal of each. Where so many
    stand on one spot that there are more than two million pairs, none are returned: nearness says nothing
    there.
    """
    fine = places.precision_m <= COARSE_M.value
    if np.count_nonzero(fine) <= 1:
        return {}
    blur = places.half_diagonal_m
    reach = near_m + 2 * float(blur[fine].max())
    tree = places.neighbours.tree
    if tree.count_neighbors(tree, reach) > 2 * MANY_PAIRS.value + len(places):
        return {}
    first, second, apart_m = places.neighbours.pairs(reach)
    kept = fine[first] & fine[second] & (apart_m - blur[first] - blur[second] <= near_m)
    found = zip(first[kept].tolist(), second[kept].tolist(), apart_m[kept].tolist(), strict=True)
    return {(i, j): apart for i, j, apart in found}


def pairs_of_keepers(apiaries: Sequence[Apiary], near_m: float) -> Pairs:
    """Return pairs of one keeper's apiaries that can lie within ``near_m``, coarse squares too."""
    groups: dict[str, list[int]] = defaultdict(list)
    for n, row in enumerate(apiaries):
        if row.keeper:
            groups[row.keeper].append(n)
    found: Pairs = {}
    for group in groups.values():
        if len(group) > CROWD.value:
            continue
        for place, i in enumerate(group):
            for j in group[place + 1 :]:
                one, two = apiaries[i].place, apiaries[j].place
                if max(one.precision_m, two.precision_m) <= COARSE_M.value:
                    continue
                apart = distance_between(one, two)
                if apart - half_diagonal_m(one) - half_diagonal_m(two) <= near_m:
                    found[i, j] = apart
    return found
