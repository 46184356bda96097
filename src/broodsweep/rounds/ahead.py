"""What can still be earned after a visit at most: cuts off beginnings of rounds that lead nowhere (`pricing`)."""

from __future__ import annotations

import numpy as np
from numba import njit

from broodsweep.units import BoolArray, FloatArray, IntArray

GRID_MINUTES = 5
"""Step of the clock on which what can still come is worked out, rounded to the hopeful side."""
_NOTHING = -1e18


@njit(cache=True, nogil=True)
def completions(
    gain: FloatArray,
    minutes: IntArray,
    price: FloatArray,
    closed: BoolArray,
    early: IntArray,
    late: IntArray,
    service: IntArray,
    back: IntArray,
    back_price: FloatArray,
    first: int,
    last: int,
    trans: IntArray,
) -> tuple[FloatArray, IntArray, FloatArray]:
    """Return what can still be earned at most after a visit that ended in each step of the clock, the way back paid.

    Rounds that come back to an apiary are let through, but for those that do so after one stop among neighbours: all
    that `pricing.best_rounds` lets through are, or it would drop beginnings that it took for better than others. An array that
    differs between inspectors is given at its most hopeful.

    Parameters
    ----------
    gain, minutes, price, closed, early, late, service, back, back_price, first, last, trans
        As for `pricing.best_rounds`.

    Returns
    -------
    Most that can come after each apiary and step, shape (n, steps); the apiary that comes next then (-1: none);
    the most when that one does not come next.
    """
    count, steps = len(gain), (last - first) // GRID_MINUTES + 1
    best = np.full((count, steps), _NOTHING)
    following = np.full((count, steps), -1, np.int64)
    second = np.full((count, steps), _NOTHING)
    after = np.empty((count, count), np.int64)
    earns = np.empty((count, count), np.float64)
    choices = np.zeros(count, np.int64)
    for j in range(count):
        for k in range(count):
            if k == j or closed[j, k] or gain[k] == -np.inf:
                continue
            after[j, choices[j]], earns[j, choices[j]] = k, gain[k] - price[j, k]
            choices[j] += 1
    for step in range(steps - 1, -1, -1):
        clock = first + step * GRID_MINUTES
        for j in range(count):
            top, top_next, other = _NOTHING, -1, _NOTHING
            if clock + back[j] <= last:
                top = -back_price[j]
            for turn in range(choices[j]):
                k = after[j, turn]
                begin = max(clock + minutes[j, k], early[k])
                if begin > late[k]:
                    continue
                then = (begin + service[k] - first) // GRID_MINUTES
                if then >= steps or earns[j, turn] + best[k, then] <= other:
                    continue
                is_turn = following[k, then] == j and trans[j, k, 0] >= 0
                worth = earns[j, turn] + (second[k, then] if is_turn else best[k, then])
                if worth > top:
                    top, top_next, other = worth, k, top
                elif worth > other:
                    other = worth
            best[j, step], following[j, step], second[j, step] = top, top_next, other
    return best, following, second
