"""Compiled: the terms of the pressure on one infected apiary on its day of infection."""

from __future__ import annotations

import numpy as np
from numba import njit

from broodsweep.spread.arrays import State, World
from broodsweep.spread.exposure import giving, giving_by_keeper
from broodsweep.spread.kernels import at, distance_between
from broodsweep.spread.priors import Slot
from broodsweep.units import FloatArray, IntArray

_BACKGROUND, _CONTACT, _KEEPER, _MOVE = (
    int(Slot.BACKGROUND),
    int(Slot.CONTACT),
    int(Slot.KEEPER),
    int(Slot.MOVE),
)
_SILENT = int(Slot.SILENT)
FROM_BACKGROUND, FROM_START, FROM_OUTSIDE = -1, -2, -3


@njit(cache=True, nogil=True)
def pressures_on(w: World, st: State, j: int) -> tuple[IntArray, IntArray, FloatArray]:
    """Return source node (or a negative code), route (0 distance, 1 keeper, 2 move) and term, one each."""
    room = 2 * st.count[0] + w.in_start[j + 1] - w.in_start[j] + 2
    source, route = np.zeros(room, dtype=np.int64), np.zeros(room, dtype=np.int64)
    value = np.zeros(room)
    e, a, silent = st.infected[j], w.susceptible[j], st.theta[_SILENT]
    if e < w.start[j]:
        source[0] = FROM_START
        value[0] = st.theta[_BACKGROUND] * a * w.atom_weight[j] + w.atom_hazard[j]
        return source[:1], route[:1], value[:1]
    source[0], value[0] = FROM_BACKGROUND, st.theta[_BACKGROUND] * a * w.flight[e]
    used = 1
    for k in range(st.count[0]):
        i = st.listed[k]
        if i == j:
            continue
        strength = a * w.flight[e] * w.infectious[i]
        near = at(w, st.table, distance_between(w, i, j))
        on_day = giving(st.infected[i], st.signs[i], w.removed[i], silent, e)
        source[used], route[used] = i, 0
        value[used] = st.theta[_CONTACT] * near * strength * on_day
        used += 1
        if w.owner[i] == w.owner[j]:
            on_day = giving_by_keeper(w, i, st.infected[i], st.signs[i], silent, e)
            source[used], route[used] = i, 1
            value[used] = st.theta[_KEEPER] * strength * on_day
            used += 1
    for m in range(w.in_start[j], w.in_start[j + 1]):
        i = w.in_node[m]
        if w.in_day[m] != e or i == j:
            continue
        on_day = w.outside
        if i >= 0:
            on_day = giving_by_keeper(w, i, st.infected[i], st.signs[i], silent, e)
        source[used], route[used] = i if i >= 0 else FROM_OUTSIDE, 2
        value[used] = st.theta[_MOVE] * w.in_weight[m] * on_day
        used += 1
    return source[:used], route[:used], value[:used]
