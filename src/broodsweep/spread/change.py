"""What one change of one apiary does to the log target: weighed from the caches, then made or left.

The cost grows with the number of infected apiaries, not with the number of neighbours: everybody else enters through
the row sum of the changed apiary only.
"""

from __future__ import annotations

import numpy as np

from broodsweep.spread.arrays import State, World
from broodsweep.spread.compiled import lean
from broodsweep.spread.exposure import given_by_keeper, given_off, giving, giving_by_keeper
from broodsweep.spread.kernels import apart, at, row_sum
from broodsweep.spread.likelihood import pressure_of
from broodsweep.spread.observation import is_allowed, log_chance, log_clean_record, log_record
from broodsweep.spread.priors import Slot
from broodsweep.units import FloatArray

_BACK, _NEAR, _KEEP, _MOVED, _CONST = 0, 1, 2, 3, 4
_SILENT = int(Slot.SILENT)


@lean
def _end(days: int, start: int, stop: int, infected: int) -> int:
    """Day behind the last one of exposure."""
    if infected >= days:
        return stop
    return infected if infected > start else start


@lean
def _given(
    flown: FloatArray, e0: int, c0: int, e1: int, c1: int, removed: int, silent: float, day: int
) -> float:
    """Change of what is given off before a day; not infected is infected behind the last day, and gives nothing."""
    return given_off(flown, e1, c1, removed, silent, day) - given_off(flown, e0, c0, removed, silent, day)


@lean
def _kept(
    flown: FloatArray,
    e0: int,
    c0: int,
    e1: int,
    c1: int,
    removed: int,
    still: int,
    left: float,
    silent: float,
    day: int,
) -> float:
    """Change of the same by the keeper's own contacts."""
    after = given_by_keeper(flown, e1, c1, removed, still, left, silent, day)
    return after - given_by_keeper(flown, e0, c0, removed, still, left, silent, day)


@lean
def _own_background(w: World, st: State, j: int, e1: int) -> None:
    a, start, stop, e0 = w.node[j].susceptible, w.node[j].start, w.node[j].stop, st.life[j].infected
    end0, end1 = _end(w.days, start, stop, e0), _end(w.days, start, stop, e1)
    st.sums[2, _BACK] += a * (w.flown[end1] - w.flown[end0])
    if e1 < start:
        st.sums[1, _BACK], st.sums[1, _CONST] = a * w.node[j].atom_weight, w.node[j].atom_hazard
        st.sums[2, _BACK] -= a * w.node[j].atom_weight
        st.sums[2, _CONST] -= w.node[j].atom_hazard
    elif e1 < w.days:
        st.sums[1, _BACK] = a * w.season[0, e1]
    if e0 < start:
        st.sums[2, _BACK] += a * w.node[j].atom_weight
        st.sums[2, _CONST] += w.node[j].atom_hazard


@lean
def _others(w: World, st: State, j: int, e1: int, c1: int) -> None:
    """Each infected apiary as a target of j, and as a source on j."""
    silent, left, flown, flight = st.theta[_SILENT], w.standstill_leaves, w.flown, w.season[0]
    e0, c0, gone, still, mine = (
        st.life[j].infected,
        st.life[j].signs,
        w.node[j].removed,
        w.node[j].still,
        w.node[j].owner,
    )
    end0 = _end(w.days, w.node[j].start, w.node[j].stop, e0)
    end1 = _end(w.days, w.node[j].start, w.node[j].stop, e1)
    a, strength = w.node[j].susceptible, w.node[j].infectious
    is_dated = w.node[j].start <= e1 < w.days
    near_total = keep_total = near_own = keep_own = 0.0
    for k in range(st.counts[0]):
        i = st.listed[k]
        st.change[k, _NEAR] = st.change[k, _KEEP] = st.change[k, _MOVED] = 0.0
        if i == j:
            continue
        near = at(st.table, w.step, w.cut, apart(w.node, i, j))
        is_own = w.node[i].owner == mine
        if near == 0.0 and not is_own:
            continue
        ei, ci, start, stop, gone_i = (
            st.life[i].infected,
            st.life[i].signs,
            w.node[i].start,
            w.node[i].stop,
            w.node[i].removed,
        )
        after = ei if ei > start else start
        weight = strength * w.node[i].susceptible
        spared = _given(flown, e0, c0, e1, c1, gone, silent, stop)
        spared -= _given(flown, e0, c0, e1, c1, gone, silent, after)
        near_total -= weight * near * spared
        if ei >= start:
            on_day = giving(e1, c1, gone, silent, ei) - giving(e0, c0, gone, silent, ei)
            st.change[k, _NEAR] = weight * flight[ei] * near * on_day
            if is_own:
                st.change[k, _KEEP] = weight * flight[ei] * on_day * (1.0 if ei < still else left)
        back = w.node[i].infectious * a
        if end1 != end0:
            got = given_off(flown, ei, ci, gone_i, silent, end1) - given_off(
                flown, ei, ci, gone_i, silent, end0
            )
            near_total += back * near * got
        if is_dated:
            near_own += back * flight[e1] * near * giving(ei, ci, gone_i, silent, e1)
        if is_own:
            spared = _kept(flown, e0, c0, e1, c1, gone, still, left, silent, stop)
            spared -= _kept(flown, e0, c0, e1, c1, gone, still, left, silent, after)
            keep_total -= weight * spared
            got = given_by_keeper(flown, ei, ci, gone_i, w.node[i].still, left, silent, end1)
            got -= given_by_keeper(flown, ei, ci, gone_i, w.node[i].still, left, silent, end0)
            keep_total += back * got
            if is_dated:
                keep_own += (
                    back * flight[e1] * giving_by_keeper(ei, ci, gone_i, w.node[i].still, left, silent, e1)
                )
    st.sums[1, _NEAR], st.sums[1, _KEEP] = near_own, keep_own
    st.sums[2, _NEAR], st.sums[2, _KEEP] = near_total, keep_total


@lean
def _everybody(w: World, st: State, j: int, e1: int, c1: int, row: float) -> None:
    """J as a source on everybody as if nobody were infected; ``row`` is its row sum."""
    silent, left, flown, mine = st.theta[_SILENT], w.standstill_leaves, w.flown, w.node[j].owner
    e0, c0, gone, still, strength = (
        st.life[j].infected,
        st.life[j].signs,
        w.node[j].removed,
        w.node[j].still,
        w.node[j].infectious,
    )
    near_total = row * _given(flown, e0, c0, e1, c1, gone, silent, w.days)
    keep_total = 0.0
    if w.node[j].owner_sum != 0.0:
        keep_total = w.node[j].owner_sum * _kept(flown, e0, c0, e1, c1, gone, still, left, silent, w.days)
    for p in range(w.node[j].special_first, w.node[j].special_last):
        i = w.special_node[p]
        near = at(st.table, w.step, w.cut, apart(w.node, i, j))
        given = _given(flown, e0, c0, e1, c1, gone, silent, w.node[i].stop)
        given -= _given(flown, e0, c0, e1, c1, gone, silent, w.node[i].start)
        near_total += w.node[i].susceptible * near * given
        if w.node[i].owner == mine:
            given = _kept(flown, e0, c0, e1, c1, gone, still, left, silent, w.node[i].stop)
            given -= _kept(flown, e0, c0, e1, c1, gone, still, left, silent, w.node[i].start)
            keep_total += w.node[i].susceptible * given
    st.sums[2, _NEAR] += strength * near_total
    st.sums[2, _KEEP] += strength * keep_total


@lean
def _moves(w: World, st: State, j: int, e1: int, c1: int) -> None:
    silent, left = st.theta[_SILENT], w.standstill_leaves
    e0, c0, gone, still = st.life[j].infected, st.life[j].signs, w.node[j].removed, w.node[j].still
    for m in range(w.node[j].out_first, w.node[j].out_last):
        i, day = w.out[m].node, w.out[m].day
        if i == j or day < w.node[i].start or day >= w.node[i].stop:
            continue
        value = giving_by_keeper(e1, c1, gone, still, left, silent, day)
        value -= giving_by_keeper(e0, c0, gone, still, left, silent, day)
        value *= w.out[m].weight
        if day < _end(w.days, w.node[i].start, w.node[i].stop, st.life[i].infected):
            st.sums[2, _MOVED] += value
        elif day == st.life[i].infected:
            st.change[st.life[i].place, _MOVED] += value
    end0 = _end(w.days, w.node[j].start, w.node[j].stop, e0)
    end1 = _end(w.days, w.node[j].start, w.node[j].stop, e1)
    for m in range(w.node[j].into_first, w.node[j].into_last):
        i, day = w.into[m].node, w.into[m].day
        if i == j or day < w.node[j].start or day >= w.node[j].stop:
            continue
        value = w.outside
        if i >= 0:
            value = giving_by_keeper(
                st.life[i].infected, st.life[i].signs, w.node[i].removed, w.node[i].still, left, silent, day
            )
        value *= w.into[m].weight
        st.sums[2, _MOVED] += value * ((day < end1) - (day < end0))
        if day == e1:
            st.sums[1, _MOVED] += value


@lean
def weigh(w: World, st: State, j: int, e1: int, c1: int) -> float:
    """Return the change of the log target if j had these days; ``days`` for the first: not infected.

    Leaves the changes of the caches in the state's scratch, for `make`.
    """
    e0 = st.life[j].infected
    if e1 < w.days and not is_allowed(w, j, e1, c1):
        return -np.inf
    st.sums[1:3, :] = 0.0
    _others(w, st, j, e1, c1)
    _own_background(w, st, j, e1)
    _everybody(w, st, j, e1, c1, row_sum(w, st, j))
    if w.node[j].out_last > w.node[j].out_first or w.node[j].into_last > w.node[j].into_first:
        _moves(w, st, j, e1, c1)
    value = -pressure_of(st.theta, st.sums[2])
    for k in range(st.counts[0]):
        if st.change[k, _NEAR] != 0.0 or st.change[k, _KEEP] != 0.0 or st.change[k, _MOVED] != 0.0:
            i = st.listed[k]
            value += log_chance(pressure_of(st.theta, st.parts[i]) + pressure_of(st.theta, st.change[k]))
            value -= st.life[i].log_chance
    if e1 < w.days:
        value += log_chance(pressure_of(st.theta, st.sums[1]))
        value += log_record(w, st.theta, st.sums[3, 0], j, e1, c1)
    else:
        value += st.sums[3, 0] * log_clean_record(w, j)
    if e0 < w.days:
        value -= st.life[j].log_chance + log_record(w, st.theta, st.sums[3, 0], j, e0, st.life[j].signs)
    else:
        value -= st.sums[3, 0] * log_clean_record(w, j)
    return float(value)


@lean
def make(w: World, st: State, j: int, e1: int, c1: int) -> None:
    """Make the change that was weighed last."""
    for p in range(5):
        st.sums[0, p] += st.sums[2, p]
    for k in range(st.counts[0]):
        if st.change[k, _NEAR] != 0.0 or st.change[k, _KEEP] != 0.0 or st.change[k, _MOVED] != 0.0:
            i = st.listed[k]
            for p in range(5):
                st.parts[i, p] += st.change[k, p]
            st.life[i].log_chance = log_chance(pressure_of(st.theta, st.parts[i]))
    was, will = st.life[j].place >= 0, e1 < w.days
    if was and not will:
        last = st.listed[st.counts[0] - 1]
        st.listed[st.life[j].place] = last
        st.life[last].place = st.life[j].place
        st.life[j].place = -1
        st.counts[0] -= 1
    elif will and not was:
        st.listed[st.counts[0]] = j
        st.life[j].place = st.counts[0]
        st.counts[0] += 1
    st.life[j].infected, st.life[j].signs = e1, c1
    if will:
        for p in range(5):
            st.parts[j, p] = st.sums[1, p]
        st.life[j].log_chance = log_chance(pressure_of(st.theta, st.parts[j]))
