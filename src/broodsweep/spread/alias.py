"""Alias tables: pick from a row of weights in constant time.

References
----------
Walker 1977, ACM Trans Math Softw 3:253; Vose 1991, IEEE Trans Softw Eng 17:972 (the linear-time construction).
"""

from __future__ import annotations

import numpy as np
from numba import njit

from broodsweep.units import AnyArray


@njit(cache=True)
def build_alias(
    pointers: AnyArray, weights: AnyArray, keep: AnyArray, other: AnyArray, totals: AnyArray
) -> None:
    """Fill the tables of every row.

    Parameters
    ----------
    pointers
        Row starts, shape (rows + 1,).
    weights
        Weights of the entries, shape (entries,), >= 0.
    keep, other
        Filled: chance to keep the entry drawn, and the entry to take otherwise, shape (entries,).
    totals
        Filled: sum of each row's weights, shape (rows,).
    """
    rows = len(pointers) - 1
    longest = 0
    for row in range(rows):
        longest = max(longest, pointers[row + 1] - pointers[row])
    small = np.empty(longest, np.int64)
    large = np.empty(longest, np.int64)
    for row in range(rows):
        start, end = pointers[row], pointers[row + 1]
        total = 0.0
        for entry in range(start, end):
            total += weights[entry]
        totals[row] = total
        smalls = larges = 0
        for entry in range(start, end):
            keep[entry] = weights[entry] * (end - start) / total if total > 0.0 else 1.0
            other[entry] = entry
            if keep[entry] < 1.0:
                small[smalls] = entry
                smalls += 1
            else:
                large[larges] = entry
                larges += 1
        while smalls and larges:
            smalls -= 1
            lesser, greater = small[smalls], large[larges - 1]
            other[lesser] = greater
            keep[greater] -= 1.0 - keep[lesser]
            if keep[greater] < 1.0:
                larges -= 1
                small[smalls] = greater
                smalls += 1
        # What is left over differs from 1 by rounding only.
        for number in range(smalls):
            keep[small[number]] = 1.0
        for number in range(larges):
            keep[large[number]] = 1.0


@njit(cache=True, inline="always")
def pick(start: int, end: int, keep: AnyArray, other: AnyArray, unit: float) -> int:
    """Return an entry of the row by one number between 0 and 1."""
    place = unit * (end - start)
    entry = start + int(place)
    if entry >= end:
        entry = end - 1
    return entry if place - (entry - start) < keep[entry] else other[entry]
