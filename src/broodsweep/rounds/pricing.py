"""The best round of one inspector's day for given prices of apiaries: exact, by labels.

A label is a beginning of a round: where it ends, when, what it is worth, whom it remembers having visited. A label is
dropped when another at the same apiary is no later, worth no less and remembers no more (dominance). What is
remembered are the near neighbours only (ng-routes): rounds that come back to an apiary after a far detour are let
through, so the best value is never too low, and it is that of a real round in nearly all cases.

A beginning is only followed up while what can still come after it (`ahead.completions`, worked out backwards, for all
inspectors of a day at once) could make it better than the best round known.

References
----------
Baldacci, Mingozzi, Roberti 2011, New route relaxation and pricing strategies for the vehicle routing problem,
Operations Research 59(5), section 3.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from broodsweep.rounds.ahead import GRID_MINUTES
from broodsweep.units import AnyArray, BoolArray, FloatArray, IntArray

NEIGHBOURS = 10
"""Apiaries that a label remembers around each apiary (itself included)."""


def near_neighbours(minutes: IntArray) -> tuple[IntArray, IntArray]:
    """Return each apiary's nearest with itself first, shape (n, k), and where each stands in each other's list.

    The second has shape (n, n, k): place in the list of the column of the k-th in the list of the row; -1: not there.
    """
    count = len(minutes)
    size = min(NEIGHBOURS, count)
    symmetric = minutes + minutes.T
    symmetric[np.arange(count), np.arange(count)] = -1
    near = np.argsort(symmetric, axis=1, kind="stable")[:, :size].astype(np.int64)
    place = np.full((count, count), -1, dtype=np.int64)
    rows = np.repeat(np.arange(count), size)
    place[rows, near.ravel()] = np.tile(np.arange(size), count)
    return near, np.ascontiguousarray(place[:, near].transpose(1, 0, 2))


@njit(cache=True, nogil=True)
def is_metric(minutes: IntArray, price: FloatArray, closed: BoolArray) -> bool:
    """Say whether leaving out a stop never makes the way longer, dearer or impossible."""
    count = len(minutes)
    for j in range(count):
        for i in range(count):
            if i == j or closed[i, j]:
                continue
            for k in range(count):
                if k in (i, j) or closed[j, k]:
                    continue
                if (
                    closed[i, k]
                    or minutes[i, k] > minutes[i, j] + minutes[j, k]
                    or price[i, k] > price[i, j] + price[j, k] + 1e-9
                ):
                    return False
    return True


@njit(cache=True, nogil=True)
def best_rounds(
    gain: FloatArray,
    minutes: IntArray,
    price: FloatArray,
    closed: BoolArray,
    early: IntArray,
    late: IntArray,
    service: IntArray,
    out: IntArray,
    out_price: FloatArray,
    back: IntArray,
    back_price: FloatArray,
    first: int,
    last: int,
    trans: IntArray,
    successors: IntArray,
    ahead: FloatArray,
    turning: IntArray,
    ahead_else: FloatArray,
    most: int,
    known: float,
    slack: float,
    is_exact: bool,
) -> tuple[float, AnyArray, FloatArray]:
    """Return the best value (0 for staying at home) and the best rounds by last stop.

    Parameters
    ----------
    gain
        What a visit is worth at these prices, shape (n,); minus infinity where it may not be.
    minutes, price, closed
        Between apiaries, washes included, shape (n, n).
    early, late, service
        First and last minute to begin, and length, shape (n,).
    out, out_price, back, back_price
        From home and back, on the clock that starts at ``first``, shape (n,).
    first, last
        Minutes between which everything lies.
    trans
        From `near_neighbours`, shape (n, n, k).
    successors
        Apiaries tried after each, shape (n, m); all of them for the exact best.
    ahead, turning, ahead_else
        From `ahead.completions`.
    most
        Number of rounds to return.
    known, slack
        A value that is reached for certain, and how far below the best a beginning may be headed before it is dropped
        (0 for the best alone).
    is_exact
        False: what is remembered does not protect a label; quicker, good rounds, but perhaps not the best.

    Returns
    -------
    Best value; rounds as rows of apiaries filled up with -1; value of each.
    """
    count, size = len(gain), trans.shape[2]
    room = 1 << 12
    node = np.empty(room, np.int64)
    ends = np.empty(room, np.int64)
    value = np.empty(room, np.float64)
    memory = np.empty(room, np.int64)
    parent = np.empty(room, np.int64)
    same_node = np.empty(room, np.int64)  # previous label at the same apiary
    same_time = np.empty(room, np.int64)  # previous label that ends at the same minute
    head = np.full(count, -1, np.int64)
    bucket = np.full(last - first + 2, -1, np.int64)
    labels, best = 0, known
    best_end = np.full(count, -1, np.int64)
    best_value = np.full(count, 0.0)
    for clock in range(first - 1, last + 1):
        current = -1 if clock < first else bucket[clock - first]
        while clock < first or current >= 0:
            if current >= 0 and node[current] < 0:  # dominated meanwhile
                current = same_time[current]
                continue
            here = -1 if current < 0 else node[current]
            tried = count if here < 0 else successors.shape[1]
            for turn in range(tried):
                j = turn if here < 0 else successors[here, turn]
                if gain[j] == -np.inf:
                    continue
                if here < 0:
                    if out_price[j] == np.inf:
                        continue
                    begin = max(first + out[j], early[j])
                    worth = gain[j] - out_price[j]
                    keeps = np.int64(1)
                else:
                    if j == here or closed[here, j]:
                        continue
                    begin = max(clock + minutes[here, j], early[j])
                    if begin > late[j]:
                        continue
                    seen, keeps, again = memory[current], np.int64(1), False
                    for k in range(size):
                        if seen >> k & 1:
                            there = trans[here, j, k]
                            if there == 0:
                                again = True
                                break
                            if there > 0:
                                keeps |= np.int64(1) << there
                    if again:
                        continue
                    worth = value[current] + gain[j] - price[here, j]
                if begin > late[j]:
                    continue
                end = begin + service[j]
                if end + back[j] > last:
                    continue
                step = (end - first) // GRID_MINUTES
                is_turn = here >= 0 and turning[j, step] == here and trans[here, j, 0] >= 0
                more = ahead_else[j, step] if is_turn else ahead[j, step]
                if worth + more <= best - slack - 1e-12:
                    continue
                other, beaten = head[j], False
                while other >= 0:
                    if node[other] >= 0:
                        if (
                            ends[other] <= end
                            and value[other] >= worth
                            and (memory[other] & keeps == memory[other] or not is_exact)
                        ):
                            beaten = True
                            break
                        if (
                            ends[other] >= end
                            and ends[other] > clock
                            and value[other] <= worth
                            and (memory[other] & keeps == keeps or not is_exact)
                        ):
                            node[other] = -1
                    other = same_node[other]
                if beaten:
                    continue
                if labels == room:
                    room *= 2
                    node = _grown(node, room)
                    ends = _grown(ends, room)
                    memory = _grown(memory, room)
                    parent = _grown(parent, room)
                    same_node = _grown(same_node, room)
                    same_time = _grown(same_time, room)
                    wider = np.empty(room, np.float64)
                    wider[:labels] = value[:labels]
                    value = wider
                node[labels], ends[labels], value[labels] = j, end, worth
                memory[labels], parent[labels] = keeps, current
                same_node[labels], head[j] = head[j], labels
                same_time[labels] = bucket[end - first]
                bucket[end - first] = labels
                if worth - back_price[j] > best_value[j]:
                    best_value[j], best_end[j] = worth - back_price[j], labels
                    best = max(best, best_value[j])
                labels += 1
            if clock < first:
                break
            current = same_time[current]
    _, rounds, values = _collect(best_value, best_end, node, parent, head, same_node, most)
    return best, rounds, values


@njit(cache=True, nogil=True)
def _grown(array: IntArray, room: int) -> IntArray:
    wider = np.empty(room, np.int64)
    wider[: len(array)] = array
    return wider


@njit(cache=True, nogil=True)
def _collect(
    best_value: FloatArray,
    best_end: IntArray,
    node: IntArray,
    parent: IntArray,
    head: IntArray,
    same_node: IntArray,
    most: int,
) -> tuple[float, AnyArray, FloatArray]:
    """Walk the best rounds back from their last stops."""
    count = len(best_value)
    owner = np.full(len(node), -1, np.int64)
    for j in range(count):  # a dominated label has lost its apiary: find it by its chain
        label = head[j]
        while label >= 0:
            owner[label] = j
            label = same_node[label]
    order = np.argsort(-best_value)
    longest = 64
    rounds = np.full((most, longest), -1, np.int64)
    values = np.zeros(most)
    found = 0
    for j in order:
        if found == most or best_end[j] < 0:
            break
        label, length = best_end[j], 0
        while label >= 0 and length < longest:
            rounds[found, length] = owner[label]
            label = parent[label]
            length += 1
        rounds[found, :length] = rounds[found, :length][::-1].copy()
        values[found] = best_value[j]
        found += 1
    top = values[0] if found else 0.0
    return top, rounds[:found], values[:found]
