"""The whole log target of one explanation, computed from nothing: starts a chain and checks its caches.

The model, in days t: P(infected on t | not before) = 1 - exp(-pressure), with

    pressure of j on t = A_j s(t) { background + sum_i c_i [ contact K(d_ij) g_i(t) + keeper o_ij g'_i(t) ] }
                         + sum over moves i -> j on t of move q g'_i(t),

g = 0 up to the day of infection and from removal, ``silent`` before signs, 1 with signs; g' is g with what a
standstill leaves. See docs/spread.md.

References
----------
Deardon et al. 2010, Stat Sinica 20:239 (individual-level model in discrete time);
Jewell, Kypraios, Neal & Roberts 2009, Bayesian Analysis 4:465 (unseen infections).
"""

from __future__ import annotations

import numpy as np
from numba import njit

from broodsweep.spread.arrays import State, World
from broodsweep.spread.exposure import given_by_keeper, given_off, giving, giving_by_keeper
from broodsweep.spread.kernels import at, distance_between, fill_table, row_sum
from broodsweep.spread.observation import log_chance, log_clean_record, log_record
from broodsweep.spread.priors import Slot
from broodsweep.units import FloatArray

_BACK, _NEAR, _KEEP, _MOVED, _CONST = 0, 1, 2, 3, 4
_BACKGROUND, _CONTACT, _KEEPER, _MOVE = (
    int(Slot.BACKGROUND),
    int(Slot.CONTACT),
    int(Slot.KEEPER),
    int(Slot.MOVE),
)
_SILENT, _REACH, _SHAPE = int(Slot.SILENT), int(Slot.REACH), int(Slot.SHAPE)


@njit(cache=True, nogil=True)
def pressure_of(theta: FloatArray, parts: FloatArray) -> float:
    """Return the pressure from its parts."""
    return float(
        theta[_BACKGROUND] * parts[_BACK]
        + theta[_CONTACT] * parts[_NEAR]
        + theta[_KEEPER] * parts[_KEEP]
        + theta[_MOVE] * parts[_MOVED]
        + parts[_CONST]
    )


@njit(cache=True, nogil=True)
def _base(w: World, st: State) -> None:
    """Exposure if nobody were infected: background, starts and goods from outside."""
    st.total[:] = 0.0
    for j in range(len(w.east)):
        a = w.susceptible[j]
        st.total[_BACK] += a * (w.atom_weight[j] + w.flown[w.stop[j]] - w.flown[w.start[j]])
        st.total[_CONST] += w.atom_hazard[j]
        for m in range(w.in_start[j], w.in_start[j + 1]):
            if w.in_node[m] < 0 and w.start[j] <= w.in_day[m] < w.stop[j]:
                st.total[_MOVED] += w.in_weight[m] * w.outside


@njit(cache=True, nogil=True)
def _as_target(w: World, st: State, j: int) -> None:
    """Own parts on the day of infection, and the exposure that it was spared after it."""
    e, start, stop, a = st.infected[j], w.start[j], w.stop[j], w.susceptible[j]
    silent = st.theta[_SILENT]
    parts = st.parts[j]
    parts[:] = 0.0
    if e < start:
        parts[_BACK], parts[_CONST] = a * w.atom_weight[j], w.atom_hazard[j]
        st.total[_BACK] -= parts[_BACK]
        st.total[_CONST] -= parts[_CONST]
    else:
        parts[_BACK] = a * w.flight[e]
    end = max(e, start)
    st.total[_BACK] -= a * (w.flown[stop] - w.flown[end])
    for k in range(st.count[0]):
        i = st.listed[k]
        if i == j:
            continue
        ei, ci = st.infected[i], st.signs[i]
        near = w.infectious[i] * at(w, st.table, distance_between(w, i, j))
        if near > 0.0:
            spared = given_off(w, ei, ci, w.removed[i], silent, stop) - given_off(
                w, ei, ci, w.removed[i], silent, end
            )
            st.total[_NEAR] -= a * near * spared
            if e >= start:
                parts[_NEAR] += a * w.flight[e] * near * giving(ei, ci, w.removed[i], silent, e)
        if w.owner[i] == w.owner[j]:
            spared = given_by_keeper(w, i, ei, ci, silent, stop) - given_by_keeper(w, i, ei, ci, silent, end)
            st.total[_KEEP] -= a * w.infectious[i] * spared
            if e >= start:
                on_day = giving_by_keeper(w, i, ei, ci, silent, e)
                parts[_KEEP] += a * w.flight[e] * w.infectious[i] * on_day
    _moves_into(w, st, j, end)


@njit(cache=True, nogil=True)
def _moves_into(w: World, st: State, j: int, end: int) -> None:
    silent = st.theta[_SILENT]
    for m in range(w.in_start[j], w.in_start[j + 1]):
        i, day = w.in_node[m], w.in_day[m]
        if i == j or day < end or day >= w.stop[j]:
            continue
        value = w.outside
        if i >= 0:
            value = giving_by_keeper(w, i, st.infected[i], st.signs[i], silent, day)
        st.total[_MOVED] -= w.in_weight[m] * value
        if day == st.infected[j]:
            st.parts[j, _MOVED] += w.in_weight[m] * value


@njit(cache=True, nogil=True)
def _as_source(w: World, st: State, j: int) -> None:
    """Exposure that it gave to everybody, as if none of them were infected."""
    e, c, silent = st.infected[j], st.signs[j], st.theta[_SILENT]
    strength = w.infectious[j]
    whole = given_off(w, e, c, w.removed[j], silent, w.days)
    st.total[_NEAR] += strength * row_sum(w, st, j) * whole
    st.total[_KEEP] += strength * w.owner_sum[j] * given_by_keeper(w, j, e, c, silent, w.days)
    for p in range(w.special_start[j], w.special_start[j + 1]):
        i = w.special_node[p]
        near = at(w, st.table, distance_between(w, i, j))
        weight = strength * w.susceptible[i]
        given = given_off(w, e, c, w.removed[j], silent, w.stop[i]) - given_off(
            w, e, c, w.removed[j], silent, w.start[i]
        )
        st.total[_NEAR] += weight * near * given
        if w.owner[i] == w.owner[j]:
            given = given_by_keeper(w, j, e, c, silent, w.stop[i]) - given_by_keeper(
                w, j, e, c, silent, w.start[i]
            )
            st.total[_KEEP] += weight * given
    for m in range(w.out_start[j], w.out_start[j + 1]):
        i, day = w.out_node[m], w.out_day[m]
        if i != j and w.start[i] <= day < w.stop[i]:
            st.total[_MOVED] += w.out_weight[m] * giving_by_keeper(w, j, e, c, silent, day)


@njit(cache=True, nogil=True)
def rebuild(w: World, st: State) -> None:
    """Compute every cache of the state anew from the days of infection and of signs."""
    _base(w, st)
    for k in range(st.count[0]):
        _as_source(w, st, st.listed[k])
    for k in range(st.count[0]):
        j = st.listed[k]
        _as_target(w, st, j)
        st.log_chance[j] = log_chance(pressure_of(st.theta, st.parts[j]))


@njit(cache=True, nogil=True)
def new_table(w: World, st: State) -> None:
    """Fill the kernel's table from the parameters and forget the row sums of the old one."""
    fill_table(w, st.table, st.theta[_REACH], st.theta[_SHAPE])
    st.count[3] += 1
    st.count[2] = st.count[3]


@njit(cache=True, nogil=True)
def log_target(w: World, st: State) -> float:
    """Return the log weight of the explanation from its caches, the parameters' prior left out."""
    value = -pressure_of(st.theta, st.total)
    for k in range(st.count[0]):
        j = st.listed[k]
        value += st.log_chance[j]
        value += log_record(w, st.theta, st.heat[0], j, st.infected[j], st.signs[j])
    for j in range(len(w.east)):
        if st.place[j] < 0:
            value += st.heat[0] * log_clean_record(w, j)
    return float(np.float64(value))
