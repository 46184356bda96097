"""What one change of one apiary does to the log target: weighed from the caches, then made or left.

The cost grows with the number of infected apiaries, not with the number of neighbours: everybody else enters through
the row sum of the changed apiary only.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from broodsweep.spread.arrays import State, World
from broodsweep.spread.exposure import given_by_keeper, given_off, giving, giving_by_keeper
from broodsweep.spread.kernels import at, distance_between, row_sum
from broodsweep.spread.likelihood import pressure_of
from broodsweep.spread.observation import is_allowed, log_chance, log_clean_record, log_record
from broodsweep.spread.priors import Slot

_BACK, _NEAR, _KEEP, _MOVED, _CONST = 0, 1, 2, 3, 4
_SILENT = int(Slot.SILENT)


@njit(cache=True, nogil=True)
def _given_change(w: World, st: State, j: int, e1: int, c1: int, day: int) -> float:
    """Change of what j has given off before a day."""
    silent, e0, removed = st.theta[_SILENT], st.infected[j], w.removed[j]
    value = 0.0
    if e1 < w.days:
        value += given_off(w, e1, c1, removed, silent, day)
    if e0 < w.days:
        value -= given_off(w, e0, st.signs[j], removed, silent, day)
    return value


@njit(cache=True, nogil=True)
def _keeper_change(w: World, st: State, j: int, e1: int, c1: int, day: int) -> float:
    silent, e0 = st.theta[_SILENT], st.infected[j]
    value = 0.0
    if e1 < w.days:
        value += given_by_keeper(w, j, e1, c1, silent, day)
    if e0 < w.days:
        value -= given_by_keeper(w, j, e0, st.signs[j], silent, day)
    return value


@njit(cache=True, nogil=True)
def _giving_change(w: World, st: State, j: int, e1: int, c1: int, day: int, by_keeper: bool) -> float:
    """Change of j's infectiousness on a day."""
    silent, e0, c0 = st.theta[_SILENT], st.infected[j], st.signs[j]
    value = 0.0
    if e1 < w.days:
        value += giving(e1, c1, w.removed[j], silent, day)
    if e0 < w.days:
        value -= giving(e0, c0, w.removed[j], silent, day)
    if by_keeper and day >= w.still[j]:
        value *= w.standstill_leaves
    return value


@njit(cache=True, nogil=True)
def _end(w: World, j: int, infected: int) -> int:
    """Day behind the last one of exposure."""
    if infected >= w.days:
        return w.stop[j]
    return max(infected, w.start[j])


@njit(cache=True, nogil=True)
def _own_background(w: World, st: State, j: int, e1: int) -> None:
    a, start = w.susceptible[j], w.start[j]
    own, total = st.own[0], st.own[1]
    total[_BACK] += a * (w.flown[_end(w, j, e1)] - w.flown[_end(w, j, st.infected[j])])
    if e1 < start:
        own[_BACK], own[_CONST] = a * w.atom_weight[j], w.atom_hazard[j]
        total[_BACK] -= own[_BACK]
        total[_CONST] -= own[_CONST]
    elif e1 < w.days:
        own[_BACK] = a * w.flight[e1]
    if st.infected[j] < start:
        total[_BACK] += a * w.atom_weight[j]
        total[_CONST] += w.atom_hazard[j]


@njit(cache=True, nogil=True)
def _others(w: World, st: State, j: int, e1: int, c1: int) -> None:
    """Each infected apiary as a target of j, and as a source on j."""
    silent = st.theta[_SILENT]
    own, total = st.own[0], st.own[1]
    end0, end1 = _end(w, j, st.infected[j]), _end(w, j, e1)
    a, strength = w.susceptible[j], w.infectious[j]
    is_dated = w.start[j] <= e1 < w.days
    for k in range(st.count[0]):
        i = st.listed[k]
        st.change[k, :] = 0.0
        if i == j:
            continue
        near = at(w, st.table, distance_between(w, i, j))
        is_own = w.owner[i] == w.owner[j]
        if near == 0.0 and not is_own:
            continue
        ei, ci = st.infected[i], st.signs[i]
        after, stop = max(ei, w.start[i]), w.stop[i]
        weight = strength * w.susceptible[i]
        spared = _given_change(w, st, j, e1, c1, stop) - _given_change(w, st, j, e1, c1, after)
        total[_NEAR] -= weight * near * spared
        if ei >= w.start[i]:
            st.change[k, _NEAR] = weight * w.flight[ei] * near * _giving_change(w, st, j, e1, c1, ei, False)
        if is_own:
            spared = _keeper_change(w, st, j, e1, c1, stop) - _keeper_change(w, st, j, e1, c1, after)
            total[_KEEP] -= weight * spared
            if ei >= w.start[i]:
                on_day = _giving_change(w, st, j, e1, c1, ei, True)
                st.change[k, _KEEP] = weight * w.flight[ei] * on_day
        back = w.infectious[i] * a
        if end1 != end0:
            got = given_off(w, ei, ci, w.removed[i], silent, end1) - given_off(
                w, ei, ci, w.removed[i], silent, end0
            )
            total[_NEAR] += back * near * got
            if is_own:
                got = given_by_keeper(w, i, ei, ci, silent, end1) - given_by_keeper(
                    w, i, ei, ci, silent, end0
                )
                total[_KEEP] += back * got
        if is_dated:
            own[_NEAR] += back * w.flight[e1] * near * giving(ei, ci, w.removed[i], silent, e1)
            if is_own:
                own[_KEEP] += back * w.flight[e1] * giving_by_keeper(w, i, ei, ci, silent, e1)


@njit(cache=True, nogil=True)
def _everybody(w: World, st: State, j: int, e1: int, c1: int) -> None:
    """J as a source on everybody as if nobody were infected."""
    total, strength = st.own[1], w.infectious[j]
    whole = _given_change(w, st, j, e1, c1, w.days)
    if whole != 0.0:
        total[_NEAR] += strength * row_sum(w, st, j) * whole
    if w.owner_sum[j] != 0.0:
        total[_KEEP] += strength * w.owner_sum[j] * _keeper_change(w, st, j, e1, c1, w.days)
    for p in range(w.special_start[j], w.special_start[j + 1]):
        i = w.special_node[p]
        weight = strength * w.susceptible[i]
        given = _given_change(w, st, j, e1, c1, w.stop[i]) - _given_change(w, st, j, e1, c1, w.start[i])
        total[_NEAR] += weight * at(w, st.table, distance_between(w, i, j)) * given
        if w.owner[i] == w.owner[j]:
            given = _keeper_change(w, st, j, e1, c1, w.stop[i]) - _keeper_change(w, st, j, e1, c1, w.start[i])
            total[_KEEP] += weight * given


@njit(cache=True, nogil=True)
def _moves(w: World, st: State, j: int, e1: int, c1: int) -> None:
    silent = st.theta[_SILENT]
    own, total = st.own[0], st.own[1]
    for m in range(w.out_start[j], w.out_start[j + 1]):
        i, day = w.out_node[m], w.out_day[m]
        if i == j or day < w.start[i] or day >= w.stop[i]:
            continue
        value = w.out_weight[m] * _giving_change(w, st, j, e1, c1, day, True)
        if day < _end(w, i, st.infected[i]):
            total[_MOVED] += value
        elif day == st.infected[i]:
            st.change[st.place[i], _MOVED] += value
    end0, end1 = _end(w, j, st.infected[j]), _end(w, j, e1)
    for m in range(w.in_start[j], w.in_start[j + 1]):
        i, day = w.in_node[m], w.in_day[m]
        if i == j or day < w.start[j] or day >= w.stop[j]:
            continue
        value = w.in_weight[m] * w.outside
        if i >= 0:
            if st.place[i] < 0:
                continue
            on_day = giving_by_keeper(w, i, st.infected[i], st.signs[i], silent, day)
            value = w.in_weight[m] * on_day
        total[_MOVED] += value * ((day < end1) - (day < end0))
        if day == e1:
            own[_MOVED] += value


@njit(cache=True, nogil=True)
def weigh(w: World, st: State, j: int, e1: int, c1: int) -> float:
    """Return the change of the log target if j had these days; ``days`` for the first: not infected.

    Leaves the changes of the caches in the state's scratch, for `make`.
    """
    e0 = st.infected[j]
    if e1 < w.days and not is_allowed(w, j, e1, c1):
        return -np.inf
    st.own[:] = 0.0
    _own_background(w, st, j, e1)
    _others(w, st, j, e1, c1)
    _everybody(w, st, j, e1, c1)
    _moves(w, st, j, e1, c1)
    value = -pressure_of(st.theta, st.own[1])
    for k in range(st.count[0]):
        if st.change[k, _NEAR] != 0.0 or st.change[k, _KEEP] != 0.0 or st.change[k, _MOVED] != 0.0:
            i = st.listed[k]
            value += log_chance(pressure_of(st.theta, st.parts[i]) + pressure_of(st.theta, st.change[k]))
            value -= st.log_chance[i]
    if e1 < w.days:
        value += log_chance(pressure_of(st.theta, st.own[0]))
        value += log_record(w, st.theta, st.heat[0], j, e1, c1)
    else:
        value += st.heat[0] * log_clean_record(w, j)
    if e0 < w.days:
        value -= st.log_chance[j] + log_record(w, st.theta, st.heat[0], j, e0, st.signs[j])
    else:
        value -= st.heat[0] * log_clean_record(w, j)
    return float(value)


@njit(cache=True, nogil=True)
def make(w: World, st: State, j: int, e1: int, c1: int) -> None:
    """Make the change that was weighed last."""
    for p in range(5):
        st.total[p] += st.own[1, p]
    for k in range(st.count[0]):
        if st.change[k, _NEAR] != 0.0 or st.change[k, _KEEP] != 0.0 or st.change[k, _MOVED] != 0.0:
            i = st.listed[k]
            for p in range(5):
                st.parts[i, p] += st.change[k, p]
            st.log_chance[i] = log_chance(pressure_of(st.theta, st.parts[i]))
    was, will = st.place[j] >= 0, e1 < w.days
    if was and not will:
        last = st.listed[st.count[0] - 1]
        st.listed[st.place[j]] = last
        st.place[last] = st.place[j]
        st.place[j] = -1
        st.count[0] -= 1
    elif will and not was:
        st.listed[st.count[0]] = j
        st.place[j] = st.count[0]
        st.count[0] += 1
    st.infected[j], st.signs[j] = e1, c1
    if will:
        for p in range(5):
            st.parts[j, p] = st.own[0, p]
        st.log_chance[j] = log_chance(pressure_of(st.theta, st.parts[j]))
