"""Moves between explanations: add, remove, re-date, swap. Which move is tried never depends on the state.

References
----------
Green 1995, Biometrika 82:711 (reversible jump); O'Neill & Roberts 1999, JRSS A 162:121; Jewell et al. 2009.
"""

# Structured arrays and compiled calls have no element types that mypy can see.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import numpy as np

from broodsweep.spread.arrays import State, World
from broodsweep.spread.branch import add_branch, remove_branch
from broodsweep.spread.change import make, weigh
from broodsweep.spread.compiled import lean
from broodsweep.spread.picking import log_pick, other_near, pick_to_add, pick_unseen
from broodsweep.spread.proposal import (
    draw_infected,
    draw_signs,
    gather,
    log_density,
    log_density_signs,
)
from broodsweep.spread.random_numbers import below, uniform

ADD, REMOVE, REDRAW, WALK, SWAP_NEAR, SWAP_KEEPER, ADD_BRANCH, REMOVE_BRANCH = range(8)
_REACHES = (4, 25, 120)
_WALKS = 3


@lean
def _take(st: State, log_ratio: float) -> bool:
    return log_ratio >= 0.0 or np.log(1.0 - uniform(st.random)) < log_ratio


@lean
def add(w: World, st: State) -> bool:
    """Infect an apiary that is not infected in this explanation."""
    j = pick_to_add(w, st)
    if j < 0 or st.life[j].place >= 0 or st.counts[0] >= len(st.rate) - 1:
        return False
    total = gather(w, st, j)
    if not total > 0.0:
        return False
    e = draw_infected(w, st, j, total)
    c = draw_signs(w, st, j, e)
    back = log_density(w, st, j, e, total) + log_density_signs(w, j, e, c)
    unseen = st.counts[0] - st.counts[1]
    log_ratio = weigh(w, st, j, e, c) - np.log(unseen + 1.0) - log_pick(w, st, j) - back
    if not _take(st, log_ratio):
        return False
    make(w, st, j, e, c)
    return True


@lean
def remove(w: World, st: State) -> bool:
    """Take an unseen infection out of the explanation."""
    j = pick_unseen(st)
    if j < 0 or not st.life[j].weight > 0.0:
        return False
    e, c = st.life[j].infected, st.life[j].signs
    total = gather(w, st, j)
    if not total > 0.0:
        return False
    there = log_density(w, st, j, e, total) + log_density_signs(w, j, e, c)
    unseen = st.counts[0] - st.counts[1]
    log_ratio = weigh(w, st, j, w.days, w.days) + np.log(float(unseen))
    log_ratio += log_pick(w, st, j) + there
    if not _take(st, log_ratio):
        return False
    make(w, st, j, w.days, w.days)
    return True


@lean
def redraw(w: World, st: State) -> bool:
    """Draw the days of any infected apiary anew from the pressure on it."""
    if st.counts[0] == 0:
        return False
    j = st.listed[below(st.random, st.counts[0])]
    e0, c0 = st.life[j].infected, st.life[j].signs
    total = gather(w, st, j)
    if not total > 0.0:
        return False
    e = draw_infected(w, st, j, total)
    c = draw_signs(w, st, j, e)
    log_ratio = log_density(w, st, j, e0, total) + log_density_signs(w, j, e0, c0)
    log_ratio -= log_density(w, st, j, e, total) + log_density_signs(w, j, e, c)
    log_ratio += weigh(w, st, j, e, c)
    if not _take(st, log_ratio):
        return False
    make(w, st, j, e, c)
    return True


@lean
def walk(w: World, st: State) -> bool:
    """Shift the day of infection, of signs, or both, of any infected apiary."""
    if st.counts[0] == 0:
        return False
    j = st.listed[below(st.random, st.counts[0])]
    reach = _REACHES[below(st.random, _WALKS)]
    which = below(st.random, _WALKS)
    e, c = st.life[j].infected, st.life[j].signs
    shift = below(st.random, 2 * reach + 1) - reach
    if which != 1:
        e += shift
    if which != 0:
        if c >= w.days:
            return False
        c += shift
        if c >= w.days:
            return False
    if e >= w.days or not _take(st, weigh(w, st, j, e, c)):
        return False
    make(w, st, j, e, c)
    return True


@lean
def _exchange(w: World, st: State, j: int, i: int, log_ratio: float) -> bool:
    """Give j's days to i; taken jointly or rolled back."""
    e, c = st.life[j].infected, st.life[j].signs
    log_ratio += weigh(w, st, j, w.days, w.days)
    if log_ratio == -np.inf:
        return False
    make(w, st, j, w.days, w.days)
    log_ratio += weigh(w, st, i, e, c)
    if _take(st, log_ratio):
        make(w, st, i, e, c)
        return True
    weigh(w, st, j, e, c)
    make(w, st, j, e, c)
    return False


@lean
def swap_near(w: World, st: State) -> bool:
    """Let a neighbour have been infected instead of an unseen one."""
    j = pick_unseen(st)
    if j < 0:
        return False
    i = other_near(w, st, j)
    if i < 0 or st.life[i].place >= 0:
        return False
    return _exchange(w, st, j, i, np.log(w.node[j].swap_sum / w.node[i].swap_sum))


@lean
def swap_keeper(w: World, st: State) -> bool:
    """Let another apiary of the same keeper have been infected instead of an unseen one."""
    j = pick_unseen(st)
    if j < 0:
        return False
    first, last = w.node[j].own_first, w.node[j].own_last
    i = w.owner_node[first + below(st.random, last - first)]
    if i == j or st.life[i].place >= 0:
        return False
    return _exchange(w, st, j, i, 0.0)


@lean
def one_move(w: World, st: State, kind: int) -> bool:
    """Try one move of a kind."""
    if kind == ADD:
        return add(w, st)
    if kind == REMOVE:
        return remove(w, st)
    if kind == REDRAW:
        return redraw(w, st)
    if kind == WALK:
        return walk(w, st)
    if kind == SWAP_NEAR:
        return swap_near(w, st)
    if kind == ADD_BRANCH:
        return add_branch(w, st)
    if kind == REMOVE_BRANCH:
        return remove_branch(w, st)
    return swap_keeper(w, st)
