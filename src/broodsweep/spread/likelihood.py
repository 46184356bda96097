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

from broodsweep.spread.arrays import State, World
from broodsweep.spread.compiled import lean
from broodsweep.spread.exposure import given_by_keeper, given_off, giving, giving_by_keeper
from broodsweep.spread.kernels import apart, at, fill_table, row_sum
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


@lean
def pressure_of(theta: FloatArray, parts: FloatArray) -> float:
    """Return the pressure from its parts."""
    return float(
        theta[_BACKGROUND] * parts[_BACK]
        + theta[_CONTACT] * parts[_NEAR]
        + theta[_KEEPER] * parts[_KEEP]
        + theta[_MOVE] * parts[_MOVED]
        + parts[_CONST]
    )


@lean
def fill_base(w: World, st: State) -> None:
    """Sum the exposure if nobody were infected, once: background, starts and goods from outside."""
    st.sums[4, :] = 0.0
    st.sums[3, 1] = 0.0
    for j in range(len(w.node)):
        st.sums[3, 1] += log_clean_record(w, j)
        a = w.node[j].susceptible
        st.sums[4, _BACK] += a * (w.node[j].atom_weight + w.flown[w.node[j].stop] - w.flown[w.node[j].start])
        st.sums[4, _CONST] += w.node[j].atom_hazard
        for m in range(w.node[j].into_first, w.node[j].into_last):
            if w.into[m].node < 0 and w.node[j].start <= w.into[m].day < w.node[j].stop:
                st.sums[4, _MOVED] += w.into[m].weight * w.outside


@lean
def _as_target(w: World, st: State, j: int) -> None:
    """Own parts on the day of infection, and the exposure that it was spared after it."""
    e, start, stop, a = st.life[j].infected, w.node[j].start, w.node[j].stop, w.node[j].susceptible
    silent = st.theta[_SILENT]
    parts = st.parts[j]
    parts[:] = 0.0
    if e < start:
        parts[_BACK], parts[_CONST] = a * w.node[j].atom_weight, w.node[j].atom_hazard
        st.sums[0, _BACK] -= parts[_BACK]
        st.sums[0, _CONST] -= parts[_CONST]
    else:
        parts[_BACK] = a * w.season[0, e]
    end = max(e, start)
    st.sums[0, _BACK] -= a * (w.flown[stop] - w.flown[end])
    for k in range(st.counts[0]):
        i = st.listed[k]
        if i == j:
            continue
        ei, ci = st.life[i].infected, st.life[i].signs
        near = w.node[i].infectious * at(st.table, w.step, w.cut, apart(w.node, i, j))
        if near > 0.0:
            spared = given_off(w.flown, ei, ci, w.node[i].removed, silent, stop) - given_off(
                w.flown, ei, ci, w.node[i].removed, silent, end
            )
            st.sums[0, _NEAR] -= a * near * spared
            if e >= start:
                parts[_NEAR] += a * w.season[0, e] * near * giving(ei, ci, w.node[i].removed, silent, e)
        if w.node[i].owner == w.node[j].owner:
            spared = given_by_keeper(
                w.flown, ei, ci, w.node[i].removed, w.node[i].still, w.standstill_leaves, silent, stop
            ) - given_by_keeper(
                w.flown, ei, ci, w.node[i].removed, w.node[i].still, w.standstill_leaves, silent, end
            )
            st.sums[0, _KEEP] -= a * w.node[i].infectious * spared
            if e >= start:
                on_day = giving_by_keeper(
                    ei, ci, w.node[i].removed, w.node[i].still, w.standstill_leaves, silent, e
                )
                parts[_KEEP] += a * w.season[0, e] * w.node[i].infectious * on_day
    _moves_into(w, st, j, end)


@lean
def _moves_into(w: World, st: State, j: int, end: int) -> None:
    silent = st.theta[_SILENT]
    for m in range(w.node[j].into_first, w.node[j].into_last):
        i, day = w.into[m].node, w.into[m].day
        if i == j or day < end or day >= w.node[j].stop:
            continue
        value = w.outside
        if i >= 0:
            value = giving_by_keeper(
                st.life[i].infected,
                st.life[i].signs,
                w.node[i].removed,
                w.node[i].still,
                w.standstill_leaves,
                silent,
                day,
            )
        st.sums[0, _MOVED] -= w.into[m].weight * value
        if day == st.life[j].infected:
            st.parts[j, _MOVED] += w.into[m].weight * value


@lean
def _as_source(w: World, st: State, j: int) -> None:
    """Exposure that it gave to everybody, as if none of them were infected."""
    e, c, silent = st.life[j].infected, st.life[j].signs, st.theta[_SILENT]
    strength = w.node[j].infectious
    whole = given_off(w.flown, e, c, w.node[j].removed, silent, w.days)
    st.sums[0, _NEAR] += strength * row_sum(w, st, j) * whole
    st.sums[0, _KEEP] += (
        strength
        * w.node[j].owner_sum
        * given_by_keeper(
            w.flown, e, c, w.node[j].removed, w.node[j].still, w.standstill_leaves, silent, w.days
        )
    )
    for p in range(w.node[j].special_first, w.node[j].special_last):
        i = w.special_node[p]
        near = at(st.table, w.step, w.cut, apart(w.node, i, j))
        weight = strength * w.node[i].susceptible
        given = given_off(w.flown, e, c, w.node[j].removed, silent, w.node[i].stop) - given_off(
            w.flown, e, c, w.node[j].removed, silent, w.node[i].start
        )
        st.sums[0, _NEAR] += weight * near * given
        if w.node[i].owner == w.node[j].owner:
            given = given_by_keeper(
                w.flown, e, c, w.node[j].removed, w.node[j].still, w.standstill_leaves, silent, w.node[i].stop
            ) - given_by_keeper(
                w.flown,
                e,
                c,
                w.node[j].removed,
                w.node[j].still,
                w.standstill_leaves,
                silent,
                w.node[i].start,
            )
            st.sums[0, _KEEP] += weight * given
    for m in range(w.node[j].out_first, w.node[j].out_last):
        i, day = w.out[m].node, w.out[m].day
        if i != j and w.node[i].start <= day < w.node[i].stop:
            st.sums[0, _MOVED] += w.out[m].weight * giving_by_keeper(
                e, c, w.node[j].removed, w.node[j].still, w.standstill_leaves, silent, day
            )


@lean
def rebuild(w: World, st: State) -> None:
    """Compute every cache of the state anew from the days of infection and of signs."""
    for p in range(5):
        st.sums[0, p] = st.sums[4, p]
    for k in range(st.counts[0]):
        _as_source(w, st, st.listed[k])
    for k in range(st.counts[0]):
        j = st.listed[k]
        _as_target(w, st, j)
        st.life[j].log_chance = log_chance(pressure_of(st.theta, st.parts[j]))


@lean
def new_table(w: World, st: State) -> None:
    """Fill the kernel's table from the parameters and forget the row sums of the old one."""
    fill_table(w, st.table, st.theta[_REACH], st.theta[_SHAPE])
    st.counts[3] += 1
    st.counts[2] = st.counts[3]


@lean
def log_target(w: World, st: State) -> float:
    """Return the log weight of the explanation from its caches, the parameters' prior left out."""
    value = -pressure_of(st.theta, st.sums[0])
    for k in range(st.counts[0]):
        j = st.listed[k]
        value += st.life[j].log_chance
        value += log_record(w, st.theta, st.sums[3, 0], j, st.life[j].infected, st.life[j].signs)
        value -= st.sums[3, 0] * log_clean_record(w, j)
    value += st.sums[3, 0] * st.sums[3, 1]
    return float(np.float64(value))
