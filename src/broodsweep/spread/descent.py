"""Descendants of one infection by forward simulation, and the density of that simulation.

Contacts of an infection on others are Poisson; the first contact on an apiary that is not infected infects it. The
density leaves out what cancels in `branch`: the factor f(pressure) of each descendant is that of the pressure from
within the branch alone, and the part of its parent is not in it.
"""

# Structured arrays and compiled calls have no element types that mypy can see.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import numpy as np

from broodsweep.spread.arrays import State, World
from broodsweep.spread.compiled import lean
from broodsweep.spread.exposure import given_by_keeper, given_off, giving, giving_by_keeper
from broodsweep.spread.kernels import apart, at, row_sum
from broodsweep.spread.observation import log_chance
from broodsweep.spread.priors import Slot
from broodsweep.spread.proposal import day_in, draw_signs, log_density_signs
from broodsweep.spread.random_numbers import poisson, uniform

_CONTACT, _KEEPER, _MOVE, _SILENT = int(Slot.CONTACT), int(Slot.KEEPER), int(Slot.MOVE), int(Slot.SILENT)
_MOST = 60
"""Most infections in one branch."""


@lean
def most_in_branch(st: State) -> int:
    """Return how many infections a branch may have at most."""
    return min(_MOST, len(st.line))


@lean
def _touch(w: World, st: State, size: int, k: int, day: int) -> int:
    """Note a contact on a node at a moment of a day; return the new size of the branch, -1 when it is full."""
    if st.life[k].place >= 0 or k == st.line[0, 0] or day < w.node[k].start or day >= w.node[k].stop:
        return size
    moment = day + uniform(st.random)
    for m in range(1, size):
        if st.line[m, 0] == k:
            if moment < st.rate[m]:
                st.rate[m], st.line[m, 1] = moment, day
            return size
    if size >= most_in_branch(st):
        return -1
    st.line[size, 0], st.line[size, 1], st.rate[size] = k, day, moment
    return size + 1


@lean
def _day_given(w: World, st: State, i: int, e: int, c: int) -> int:
    """Draw a day in proportion to what an infection gives off on it."""
    silent, gone = st.theta[_SILENT], w.node[i].removed
    first, last = e + 1, min(gone, w.days)
    turn = min(max(c, first), last)
    before = silent * (w.flown[turn] - w.flown[first])
    if uniform(st.random) * (before + w.flown[last] - w.flown[turn]) < before:
        return day_in(w.flown, st.random, first, turn)
    return day_in(w.flown, st.random, turn, last)


@lean
def _near_of(w: World, st: State, i: int) -> int:
    """Pick an ordinary neighbour in proportion to its part of the row sum."""
    aim, last = uniform(st.random) * row_sum(w, st, i), -1
    for edge in range(w.node[i].row_first, w.node[i].row_last):
        part = w.row[edge].weight * at(st.table, w.step, w.cut, w.row[edge].distance)
        if part > 0.0:
            last = w.row[edge].node
            aim -= part
            if aim < 0.0:
                return last
    return last


@lean
def _own_of(w: World, st: State, i: int) -> int:
    """Pick another ordinary apiary of the same keeper in proportion to its susceptibility."""
    aim, last = uniform(st.random) * w.node[i].owner_sum, -1
    for p in range(w.node[i].own_first, w.node[i].own_last):
        k = w.owner_node[p]
        if k == i or w.node[k].is_special or w.node[k].susceptible <= 0.0:
            continue
        last = k
        aim -= w.node[k].susceptible
        if aim < 0.0:
            return k
    return last


@lean
def _is_kept(w: World, st: State, i: int, day: int) -> bool:
    """Thin a keeper's contact behind a standstill."""
    return day < w.node[i].still or uniform(st.random) < w.standstill_leaves


@lean
def _emit(w: World, st: State, m: int, size: int) -> int:
    """Let one infection of the branch make its contacts; return the new size, -1 when the branch is full."""
    i, e, c = st.line[m, 0], st.line[m, 1], st.line[m, 2]
    given = given_off(w.flown, e, c, w.node[i].removed, st.theta[_SILENT], w.days)
    if given > 0.0:
        near = st.theta[_CONTACT] * row_sum(w, st, i)
        own = st.theta[_KEEPER] * w.node[i].owner_sum
        for _ in range(poisson(st.random, w.node[i].infectious * given * (near + own))):
            is_near = uniform(st.random) * (near + own) < near
            k = _near_of(w, st, i) if is_near else _own_of(w, st, i)
            day = _day_given(w, st, i, e, c)
            if k >= 0 and (is_near or _is_kept(w, st, i, day)):
                size = _touch(w, st, size, k, day)
                if size < 0:
                    return size
        size = _emit_special(w, st, i, e, c, given, size)
    return _emit_moves(w, st, i, e, c, size) if size > 0 else size


@lean
def _emit_special(w: World, st: State, i: int, e: int, c: int, given: float, size: int) -> int:
    for p in range(w.node[i].special_first, w.node[i].special_last):
        k = w.special_node[p]
        near = st.theta[_CONTACT] * at(st.table, w.step, w.cut, apart(w.node, i, k))
        own = st.theta[_KEEPER] if w.node[i].owner == w.node[k].owner else 0.0
        mean = w.node[i].infectious * w.node[k].susceptible * given * (near + own)
        for _ in range(poisson(st.random, mean)):
            is_near = uniform(st.random) * (near + own) < near
            day = _day_given(w, st, i, e, c)
            if is_near or _is_kept(w, st, i, day):
                size = _touch(w, st, size, k, day)
                if size < 0:
                    return size
    return size


@lean
def _emit_moves(w: World, st: State, i: int, e: int, c: int, size: int) -> int:
    for m in range(w.node[i].out_first, w.node[i].out_last):
        k, day = w.out[m].node, w.out[m].day
        value = giving_by_keeper(
            e, c, w.node[i].removed, w.node[i].still, w.standstill_leaves, st.theta[_SILENT], day
        )
        rate = st.theta[_MOVE] * w.out[m].weight * value
        if k != i and value > 0.0 and uniform(st.random) < -np.expm1(-rate):
            size = _touch(w, st, size, k, day)
            if size < 0:
                return size
    return size


@lean
def simulate(w: World, st: State) -> int:
    """Simulate the descendants of the root in the scratch forward; return the branch's size, -1 when too large."""
    size, done = 1, 0
    while done < size:
        first = done
        for m in range(done + 1, size):
            if st.rate[m] < st.rate[first]:
                first = m
        if done > 0:
            for column in range(2):
                kept = st.line[done, column]
                st.line[done, column] = st.line[first, column]
                st.line[first, column] = kept
            moment = st.rate[done]
            st.rate[done] = st.rate[first]
            st.rate[first] = moment
            st.line[done, 2] = draw_signs(w, st, st.line[done, 0], st.line[done, 1])
        size = _emit(w, st, done, size)
        if size < 0:
            return size
        done += 1
    return size


@lean
def rate_from_branch(w: World, st: State, size: int, k: int, day: int) -> float:
    """Return the pressure of the branch's infections on a node on a day."""
    if day < w.node[k].start or day >= w.node[k].stop:
        return 0.0
    value, silent = 0.0, st.theta[_SILENT]
    for m in range(size):
        i, e, c = st.line[m, 0], st.line[m, 1], st.line[m, 2]
        on_day = giving(e, c, w.node[i].removed, silent, day)
        if i == k or on_day <= 0.0:
            continue
        rate = st.theta[_CONTACT] * at(st.table, w.step, w.cut, apart(w.node, i, k))
        left = 1.0 if day < w.node[i].still else w.standstill_leaves
        if w.node[i].owner == w.node[k].owner:
            rate += st.theta[_KEEPER] * left
        value += w.node[k].susceptible * w.season[0, day] * w.node[i].infectious * rate * on_day
        for p in range(w.node[i].out_first, w.node[i].out_last):
            if w.out[p].node == k and w.out[p].day == day:
                value += st.theta[_MOVE] * w.out[p].weight * on_day * left
    return value


@lean
def _exposure(w: World, st: State, i: int, e: int, c: int, k: int, first: int, last: int) -> float:
    """Return the exposure of a node to an infection over its days from ``first`` to before ``last``."""
    if last <= first:
        return 0.0
    silent, gone = st.theta[_SILENT], w.node[i].removed
    weight = w.node[i].infectious * w.node[k].susceptible
    near = st.theta[_CONTACT] * at(st.table, w.step, w.cut, apart(w.node, i, k))
    value = 0.0
    if near > 0.0:
        value += near * (
            given_off(w.flown, e, c, gone, silent, last) - given_off(w.flown, e, c, gone, silent, first)
        )
    if w.node[i].owner == w.node[k].owner:
        still, left = w.node[i].still, w.standstill_leaves
        value += st.theta[_KEEPER] * (
            given_by_keeper(w.flown, e, c, gone, still, left, silent, last)
            - given_by_keeper(w.flown, e, c, gone, still, left, silent, first)
        )
    return value * weight


@lean
def _moved(w: World, st: State, i: int, e: int, c: int) -> float:
    """Return the exposure by the moves out of an infection that the simulation could have taken."""
    value = 0.0
    for m in range(w.node[i].out_first, w.node[i].out_last):
        k, day = w.out[m].node, w.out[m].day
        if k == i or day < w.node[k].start or day >= w.node[k].stop:
            continue
        if st.life[k].place >= 0:
            descends = False
            for other in range(1, len(st.line)):
                if st.line[other, 0] < 0:
                    break
                descends = descends or st.line[other, 0] == k
            if not descends or day >= st.life[k].infected:
                continue
        value += w.out[m].weight * giving_by_keeper(
            e, c, w.node[i].removed, w.node[i].still, w.standstill_leaves, st.theta[_SILENT], day
        )
    return st.theta[_MOVE] * value


@lean
def _exposure_of_all(w: World, st: State, i: int, e: int, c: int) -> float:
    """Return the exposure that an infection gives to all others, as if none were infected, moves apart."""
    silent, gone = st.theta[_SILENT], w.node[i].removed
    value = st.theta[_CONTACT] * row_sum(w, st, i) * given_off(w.flown, e, c, gone, silent, w.days)
    if w.node[i].owner_sum != 0.0:
        value += (
            st.theta[_KEEPER]
            * w.node[i].owner_sum
            * given_by_keeper(w.flown, e, c, gone, w.node[i].still, w.standstill_leaves, silent, w.days)
        )
    value *= w.node[i].infectious
    for p in range(w.node[i].special_first, w.node[i].special_last):
        k = w.special_node[p]
        value += _exposure(w, st, i, e, c, k, w.node[k].start, w.node[k].stop)
    return value


@lean
def log_descent(w: World, st: State, size: int) -> float:
    """Return the log density of the simulated descendants, with the branch in the explanation.

    Nodes infected outside the branch, and the root, cannot be infected by it.
    """
    if size < len(st.line):
        st.line[size, 0] = -1
    value = 0.0
    for m in range(size):
        i, e, c = st.line[m, 0], st.line[m, 1], st.line[m, 2]
        value -= _exposure_of_all(w, st, i, e, c) + _moved(w, st, i, e, c)
        for k in range(st.counts[0]):
            other = st.listed[k]
            if other == i:
                continue
            first = w.node[other].start
            for p in range(1, size):
                if st.line[p, 0] == other:
                    first = st.line[p, 1]
            value += _exposure(w, st, i, e, c, other, first, w.node[other].stop)
        if m > 0:
            rate = rate_from_branch(w, st, size, i, e)
            value += log_chance(rate) - np.log(rate) + log_density_signs(w, i, e, c)
    return value
