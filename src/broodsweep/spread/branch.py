"""Moves of a whole branch: an unseen infection together with everything that it infected, added or taken out at once.

One apiary at a time, a far cluster of unseen infections hardly ever leaves an explanation, because each of them explains
the others. Here every infection is given a parent, drawn from its chances given the days; a branch is a root with all
its descendants. It is added by simulating the model forward from its root, and taken out as a whole. Parents are drawn
anew for every step, so the chain over days alone keeps the posterior: with f(x) = (1 - exp(-x)) / x, giving an
infection a parent replaces its factor 1 - exp(-pressure) by f(pressure) x the parent's part of the pressure, and the
parent's part is the same before and after, or cancels against the simulation.

References
----------
Green 1995, Biometrika 82:711 (reversible jump); Cauchemez et al. 2004, Stat Med 23:3469 (infectors as augmented data).
"""

# Structured arrays and compiled calls have no element types that mypy can see.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import numpy as np

from broodsweep.spread.arrays import State, World
from broodsweep.spread.change import make, weigh
from broodsweep.spread.compiled import lean
from broodsweep.spread.descent import log_descent, most_in_branch, rate_from_branch, simulate
from broodsweep.spread.likelihood import pressure_of
from broodsweep.spread.picking import log_pick, pick_to_add, pick_unseen
from broodsweep.spread.proposal import (
    draw_infected,
    draw_signs,
    gather,
    log_density,
    log_density_signs,
)
from broodsweep.spread.random_numbers import uniform


@lean
def in_branch(st: State, size: int, j: int) -> bool:
    """Say whether a node is in the branch in the scratch."""
    inside = False
    for m in range(size):
        inside |= st.line[m, 0] == j
    return inside


@lean
def _given_parents(st: State, size: int, within: bool) -> float:
    """Sum log pressure over the infected outside the branch, or log f(pressure) - log chance within, root apart."""
    value = 0.0
    for k in range(st.counts[0]):
        j = st.listed[k]
        if in_branch(st, size, j):
            if within and j != st.line[0, 0]:
                value -= np.log(pressure_of(st.theta, st.parts[j]))
        else:
            value -= np.log(pressure_of(st.theta, st.parts[j]))
    return value


@lean
def _put_in(w: World, st: State, size: int) -> tuple[float, int]:
    """Infect the nodes of the branch one after the other; return the change of the log target and how many were."""
    value = 0.0
    for m in range(size):
        change = weigh(w, st, st.line[m, 0], st.line[m, 1], st.line[m, 2])
        if change == -np.inf:
            return change, m
        make(w, st, st.line[m, 0], st.line[m, 1], st.line[m, 2])
        value += change
    return value, size


@lean
def _take_out(w: World, st: State, size: int) -> float:
    """Disinfect the first nodes of the branch, last first; return the change of the log target."""
    value = 0.0
    for m in range(size - 1, -1, -1):
        value += weigh(w, st, st.line[m, 0], w.days, w.days)
        make(w, st, st.line[m, 0], w.days, w.days)
    return value


@lean
def add_branch(w: World, st: State) -> bool:
    """Infect an apiary and everything that it infects in a forward simulation."""
    j = pick_to_add(w, st)
    if j < 0 or st.life[j].place >= 0:
        return False
    total = gather(w, st, j)
    if not total > 0.0:
        return False
    e = draw_infected(w, st, j, total)
    c = draw_signs(w, st, j, e)
    log_root = log_density(w, st, j, e, total) + log_density_signs(w, j, e, c)
    st.line[0, 0], st.line[0, 1], st.line[0, 2] = j, e, c
    size = simulate(w, st)
    if size < 0 or st.counts[0] + size > len(st.rate) - 1:
        return False
    log_ratio = -log_root - log_pick(w, st, j) - _given_parents(st, size, False)
    change, done = _put_in(w, st, size)
    if done == size:
        log_ratio += change + _given_parents(st, size, True) - log_descent(w, st, size)
        log_ratio -= np.log(float(st.counts[0] - st.counts[1]))
        if np.log(1.0 - uniform(st.random)) < log_ratio:
            return True
    _take_out(w, st, done)
    return False


@lean
def _descendants(w: World, st: State) -> int:
    """Fill the branch of the root in the scratch, drawing parents; return its size, -1 if it may not be taken out."""
    root = st.line[0, 0]
    first, later = st.line[0, 1], 0
    for k in range(st.counts[0]):
        j = st.listed[k]
        if j == root or st.life[j].infected <= first:
            continue
        at = later
        while at > 0 and st.life[st.line[at - 1, 3]].infected > st.life[j].infected:
            st.line[at, 3] = st.line[at - 1, 3]
            at -= 1
        st.line[at, 3] = j
        later += 1
    size = 1
    for k in range(later):
        j = st.line[k, 3]
        part = rate_from_branch(w, st, size, j, st.life[j].infected)
        if part <= 0.0 or uniform(st.random) * pressure_of(st.theta, st.parts[j]) >= part:
            continue
        if w.node[j].found_how > 0 or size >= most_in_branch(st):
            return -1
        st.line[size, 0], st.line[size, 1], st.line[size, 2] = j, st.life[j].infected, st.life[j].signs
        size += 1
    return size


@lean
def remove_branch(w: World, st: State) -> bool:
    """Take an unseen infection out together with everything that it infected."""
    unseen, j = st.counts[0] - st.counts[1], pick_unseen(st)
    if j < 0 or not st.life[j].weight > 0.0:
        return False
    st.line[0, 0], st.line[0, 1], st.line[0, 2] = j, st.life[j].infected, st.life[j].signs
    size = _descendants(w, st)
    if size < 0:
        return False
    log_ratio = np.log(float(unseen)) - _given_parents(st, size, True) + log_descent(w, st, size)
    log_ratio += _take_out(w, st, size) + _given_parents(st, size, False)
    total = gather(w, st, j)
    if total > 0.0:
        log_ratio += log_density(w, st, j, st.line[0, 1], total)
        log_ratio += log_density_signs(w, j, st.line[0, 1], st.line[0, 2])
        log_ratio += log_pick(w, st, j)
        if np.log(1.0 - uniform(st.random)) < log_ratio:
            return True
    _put_in(w, st, size)
    return False
