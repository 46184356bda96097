"""Which apiary a move is tried on: by weight, near an infected one, among its keeper's, or an unseen infection.

Weights are learnt while a chain warms up. They say little of an apiary far from everything whose neighbour or keeper's
other apiary has just been infected in the explanation; so a part of the picks follows the infected.
"""

# Structured arrays and compiled calls have no element types that mypy can see.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import numpy as np

from broodsweep.spread.arrays import State, World
from broodsweep.spread.compiled import lean
from broodsweep.spread.kernels import apart
from broodsweep.spread.random_numbers import below, uniform

_SWAP_SCALE_M = 1000.0
_BY_NEAR, _BY_KEEPER = 0.2, 0.15
"""Shares of the picks that follow an infected apiary to a neighbour, and to an apiary of its keeper."""


@lean
def swap_weight(distance: float) -> float:
    """Return the weight with which a neighbour at a distance is chosen to swap with."""
    u = distance / _SWAP_SCALE_M
    return 1.0 / (1.0 + u * u)


@lean
def fill_swap_sums(w: World) -> None:
    """Sum the weights of every node's neighbours, once."""
    for j in range(len(w.node)):
        total = 0.0
        for edge in range(w.node[j].row_first, w.node[j].row_last):
            total += swap_weight(w.row[edge].distance)
        w.node[j].swap_sum = total


@lean
def other_near(w: World, st: State, j: int) -> int:
    """Pick a neighbour by its swap weight; -1 when there is none."""
    aim = uniform(st.random) * w.node[j].swap_sum
    for edge in range(w.node[j].row_first, w.node[j].row_last):
        aim -= swap_weight(w.row[edge].distance)
        if aim < 0.0:
            return w.row[edge].node
    return -1


@lean
def _by_weight(st: State) -> int:
    """Pick any node by its weight."""
    low, high = 0, len(st.life) - 1
    aim = uniform(st.random) * st.life[high].ladder
    while low < high:
        middle = (low + high) // 2
        if st.life[middle].ladder > aim:
            high = middle
        else:
            low = middle + 1
    return low


@lean
def pick_to_add(w: World, st: State) -> int:
    """Pick an apiary to infect; -1 when the one followed has no neighbour."""
    aim = uniform(st.random)
    if st.counts[0] == 0 or aim >= _BY_NEAR + _BY_KEEPER:
        return _by_weight(st)
    i = st.listed[below(st.random, st.counts[0])]
    if aim < _BY_NEAR:
        return other_near(w, st, i)
    return w.owner_node[w.node[i].own_first + below(st.random, w.node[i].own_last - w.node[i].own_first)]


@lean
def log_pick(w: World, st: State, j: int) -> float:
    """Return the log chance that an apiary is picked to be infected, by explanations without it."""
    near, by_keeper, others = 0.0, 0.0, 0
    for k in range(st.counts[0]):
        i = st.listed[k]
        if i == j:
            continue
        others += 1
        distance = apart(w.node, i, j)
        if distance <= w.cut:
            near += swap_weight(distance) / w.node[i].swap_sum
        if w.node[i].owner == w.node[j].owner:
            by_keeper += 1.0 / (w.node[i].own_last - w.node[i].own_first)
    weighed = st.life[j].weight / st.life[len(st.life) - 1].ladder
    if others == 0:
        return float(np.log(weighed))
    followed = (_BY_NEAR * near + _BY_KEEPER * by_keeper) / others
    return float(np.log((1.0 - _BY_NEAR - _BY_KEEPER) * weighed + followed))


@lean
def pick_unseen(st: State) -> int:
    """Pick an unseen infection; -1 when there is none."""
    unseen = st.counts[0] - st.counts[1]
    return st.listed[st.counts[1] + below(st.random, unseen)] if unseen > 0 else -1
