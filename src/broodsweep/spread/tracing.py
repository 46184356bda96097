"""Compiled: the terms of the pressure on one infected apiary on its day of infection."""

from __future__ import annotations

import numpy as np

from broodsweep.spread.arrays import State, World
from broodsweep.spread.compiled import compiled
from broodsweep.spread.exposure import giving, giving_by_keeper
from broodsweep.spread.kernels import apart, at
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


@compiled
def pressures_on(w: World, st: State, j: int) -> tuple[IntArray, IntArray, FloatArray]:
    """Return source node (or a negative code), route (0 distance, 1 keeper, 2 move) and term, one each."""
    room = 2 * st.counts[0] + w.node[j].into_last - w.node[j].into_first + 2
    source, route = np.zeros(room, dtype=np.int64), np.zeros(room, dtype=np.int64)
    value = np.zeros(room)
    e, a, silent = st.life[j].infected, w.node[j].susceptible, st.theta[_SILENT]
    if e < w.node[j].start:
        source[0] = FROM_START
        value[0] = st.theta[_BACKGROUND] * a * w.node[j].atom_weight + w.node[j].atom_hazard
        return source[:1], route[:1], value[:1]
    source[0], value[0] = FROM_BACKGROUND, st.theta[_BACKGROUND] * a * w.season[0, e]
    used = 1
    for k in range(st.counts[0]):
        i = st.listed[k]
        if i == j:
            continue
        strength = a * w.season[0, e] * w.node[i].infectious
        near = at(st.table, w.step, w.cut, apart(w.node, i, j))
        on_day = giving(st.life[i].infected, st.life[i].signs, w.node[i].removed, silent, e)
        source[used], route[used] = i, 0
        value[used] = st.theta[_CONTACT] * near * strength * on_day
        used += 1
        if w.node[i].owner == w.node[j].owner:
            on_day = giving_by_keeper(
                st.life[i].infected,
                st.life[i].signs,
                w.node[i].removed,
                w.node[i].still,
                w.standstill_leaves,
                silent,
                e,
            )
            source[used], route[used] = i, 1
            value[used] = st.theta[_KEEPER] * strength * on_day
            used += 1
    for m in range(w.node[j].into_first, w.node[j].into_last):
        i = w.into[m].node
        if w.into[m].day != e or i == j:
            continue
        on_day = w.outside
        if i >= 0:
            on_day = giving_by_keeper(
                st.life[i].infected,
                st.life[i].signs,
                w.node[i].removed,
                w.node[i].still,
                w.standstill_leaves,
                silent,
                e,
            )
        source[used], route[used] = i if i >= 0 else FROM_OUTSIDE, 2
        value[used] = st.theta[_MOVE] * w.into[m].weight * on_day
        used += 1
    return source[:used], route[:used], value[:used]
