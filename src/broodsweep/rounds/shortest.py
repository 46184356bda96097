"""Shortest ways over a net, from many places to many, compiled; both cores at once.

References
----------
Dijkstra 1959, A note on two problems in connexion with graphs, Numerische Mathematik 1:269-271; with a heap of four
children and without taking out what has become too long.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numba import njit

from broodsweep.units import FloatArray, IntArray

THREADS = 2


def shortest_ways(
    pointer: IntArray, neighbours: IntArray, lengths: FloatArray, starts: IntArray, ends: IntArray
) -> FloatArray:
    """Return the length of the shortest way from each start to each end; infinite where there is none.

    Parameters
    ----------
    pointer, neighbours, lengths
        The net by rows (compressed sparse rows): where the segments of each point begin, shape (n + 1,); where they
        lead and how long they are, above zero, shape (m,).
    starts, ends
        Points of the net, shapes (k,) and (l,).
    """
    net = (pointer.astype(np.int64), neighbours.astype(np.int64), lengths.astype(np.float64))
    with ThreadPoolExecutor(max_workers=THREADS) as pool:
        parts = pool.map(lambda part: _ways(*net, part, ends), np.array_split(starts, THREADS))
        return np.concatenate(list(parts))


@njit(cache=True, nogil=True)
def _ways(
    pointer: IntArray, neighbours: IntArray, lengths: FloatArray, starts: IntArray, ends: IntArray
) -> FloatArray:
    """Return the lengths from these starts; the heap may hold a point again for each segment that leads to it."""
    found = np.empty((len(starts), len(ends)))
    reached = np.empty(len(pointer) - 1)
    key, point = np.empty(len(neighbours) + 1), np.empty(len(neighbours) + 1, np.int64)
    for row in range(len(starts)):
        reached[:] = np.inf
        reached[starts[row]] = 0.0
        key[0], point[0], size = 0.0, starts[row], 1
        while size:
            here, near = point[0], key[0]
            size -= 1
            _sift_down(key, point, size)
            if near > reached[here]:
                continue
            for segment in range(pointer[here], pointer[here + 1]):
                there, far = neighbours[segment], near + lengths[segment]
                if far < reached[there]:
                    reached[there] = far
                    _sift_up(key, point, size, far, there)
                    size += 1
        for column in range(len(ends)):
            found[row, column] = reached[ends[column]]
    return found


@njit(cache=True, nogil=True, inline="always")
def _sift_down(key: FloatArray, point: IntArray, size: int) -> None:
    """Put what stands last where the first was taken away, so that no child is shorter than its parent."""
    last_key, last_point, place = key[size], point[size], 0
    while True:
        child = 4 * place + 1
        if child >= size:
            break
        least = child
        for other in range(child + 1, min(child + 4, size)):
            if key[other] < key[least]:
                least = other
        if key[least] >= last_key:
            break
        key[place], point[place] = key[least], point[least]
        place = least
    key[place], point[place] = last_key, last_point


@njit(cache=True, nogil=True, inline="always")
def _sift_up(key: FloatArray, point: IntArray, size: int, far: float, there: int) -> None:
    """Put a point in its place."""
    place = size
    while place > 0:
        parent = (place - 1) >> 2
        if key[parent] <= far:
            break
        key[place], point[place] = key[parent], point[parent]
        place = parent
    key[place], point[place] = far, there
