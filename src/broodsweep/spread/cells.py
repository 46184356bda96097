"""Compiled walk over a grid of cells, for `distances.rows_within`: two passes, count and fill, no pair is sorted."""

from __future__ import annotations

import numpy as np

from broodsweep.spread.compiled import compiled, lean
from broodsweep.units import AnyArray, FloatArray, IntArray


@compiled
def count_row(
    col: IntArray,
    row: IntArray,
    first: IntArray,
    wide: int,
    high: int,
    reach: int,
    east: FloatArray,
    north: FloatArray,
    blur: FloatArray,
    cut: float,
) -> IntArray:
    """Return how many neighbours each point has, in cell order."""
    counts = np.zeros(len(east), dtype=np.int64)
    for a in range(len(east)):
        for r in range(max(0, row[a] - reach), min(high, row[a] + reach + 1)):
            low = first[r * wide + max(0, col[a] - reach)]
            last = first[r * wide + min(wide - 1, col[a] + reach) + 1]
            for b in range(low, last):
                de, dn = east[a] - east[b], north[a] - north[b]
                if a != b and de * de + dn * dn + blur[a] + blur[b] <= cut * cut:
                    counts[a] += 1
    return counts


@lean
def fill_rows(
    col: IntArray,
    row: IntArray,
    first: IntArray,
    wide: int,
    high: int,
    reach: int,
    east: FloatArray,
    north: FloatArray,
    blur: FloatArray,
    cut: float,
    order: IntArray,
    start: IntArray,
    node: AnyArray,
    distance: AnyArray,
) -> None:
    """Write the neighbours of each point into its row."""
    for a in range(len(east)):
        put = start[order[a]]
        for r in range(max(0, row[a] - reach), min(high, row[a] + reach + 1)):
            low = first[r * wide + max(0, col[a] - reach)]
            last = first[r * wide + min(wide - 1, col[a] + reach) + 1]
            for b in range(low, last):
                de, dn = east[a] - east[b], north[a] - north[b]
                square = de * de + dn * dn + blur[a] + blur[b]
                if a != b and square <= cut * cut:
                    node[put], distance[put] = order[b], np.sqrt(square)
                    put += 1
