"""A likely day of infection and of signs for one apiary, with the density of the proposal.

The day is drawn from the pressure on the apiary: a component (start, background, one infected apiary before or with
signs, a move) by its mass, then a day in the component's window. Signs follow from the incubation curve.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from broodsweep.spread.arrays import State, World
from broodsweep.spread.exposure import giving, giving_by_keeper
from broodsweep.spread.kernels import at, distance_between
from broodsweep.spread.priors import Slot
from broodsweep.spread.random_numbers import uniform
from broodsweep.units import AnyArray, FloatArray

_BACKGROUND, _CONTACT, _KEEPER, _MOVE = (
    int(Slot.BACKGROUND),
    int(Slot.CONTACT),
    int(Slot.KEEPER),
    int(Slot.MOVE),
)
_SILENT = int(Slot.SILENT)
_AHEAD = 2
"""Components before those of the infected: start, background."""


@njit(cache=True, nogil=True)
def last_day(w: World, j: int) -> int:
    """Return the day behind the last on which it may have been infected."""
    if w.found_how[j] > 0:
        return min(w.found_day[j] + 1, w.stop[j])
    return w.stop[j]


@njit(cache=True, nogil=True)
def _window(w: World, first: int, last: int, low: int, high: int) -> float:
    a, b = max(first, low), min(last, high)
    return w.flown[b] - w.flown[a] if b > a else 0.0


@njit(cache=True, nogil=True)
def gather(w: World, st: State, j: int) -> float:
    """Fill ``st.mass`` with the masses of the components and return their sum; ``st.rate`` the rates by source."""
    theta = st.theta
    low, high, a = w.start[j], last_day(w, j), w.susceptible[j]
    st.mass[0] = theta[_BACKGROUND] * a * w.atom_weight[j] + w.atom_hazard[j]
    st.mass[1] = theta[_BACKGROUND] * a * (w.flown[high] - w.flown[low])
    total = st.mass[0] + st.mass[1]
    for k in range(st.count[0]):
        i = st.listed[k]
        st.rate[k] = st.mass[_AHEAD + 2 * k] = st.mass[_AHEAD + 2 * k + 1] = 0.0
        if i == j:
            continue
        rate = theta[_CONTACT] * at(w, st.table, distance_between(w, i, j))
        if w.owner[i] == w.owner[j]:
            rate += theta[_KEEPER]
        if rate == 0.0:
            continue
        rate *= a * w.infectious[i]
        e, c, gone = st.infected[i], st.signs[i], w.removed[i]
        silent = rate * theta[_SILENT] * _window(w, e + 1, min(c, gone), low, high)
        signs = rate * _window(w, max(c, e + 1), gone, low, high)
        st.rate[k], st.mass[_AHEAD + 2 * k], st.mass[_AHEAD + 2 * k + 1] = rate, silent, signs
        total += silent + signs
    return total + _gather_moves(w, st, j, low, high)


@njit(cache=True, nogil=True)
def _gather_moves(w: World, st: State, j: int, low: int, high: int) -> float:
    base, total = _AHEAD + 2 * st.count[0], 0.0
    for m in range(w.in_start[j], w.in_start[j + 1]):
        i, day = w.in_node[m], w.in_day[m]
        value = 0.0
        if i != j and low <= day < high:
            value = w.outside
            if i >= 0:
                value = giving_by_keeper(w, i, st.infected[i], st.signs[i], st.theta[_SILENT], day)
        st.mass[base + m - w.in_start[j]] = st.theta[_MOVE] * w.in_weight[m] * value
        total += st.mass[base + m - w.in_start[j]]
    return total


@njit(cache=True, nogil=True)
def _day_in(w: World, st: State, first: int, last: int) -> int:
    """Draw a day from a window in proportion to the contacts of the days."""
    a = w.flown[first]
    aim = a + uniform(st.random) * (w.flown[last] - a)
    day = np.searchsorted(w.flown, aim, side="right") - 1
    return min(max(int(day), first), last - 1)


@njit(cache=True, nogil=True)
def draw_infected(w: World, st: State, j: int, total: float) -> int:
    """Draw a day of infection from the masses gathered last."""
    low, high = w.start[j], last_day(w, j)
    aim = uniform(st.random) * total
    count = _AHEAD + 2 * st.count[0] + w.in_start[j + 1] - w.in_start[j]
    pick = 0
    for part in range(count):
        if st.mass[part] > 0.0:
            pick = part
            if aim < st.mass[part]:
                break
        aim -= st.mass[part]
    if pick == 0:
        return low - 1
    if pick == 1:
        return _day_in(w, st, low, high)
    if pick >= _AHEAD + 2 * st.count[0]:
        return w.in_day[w.in_start[j] + pick - _AHEAD - 2 * st.count[0]]
    i = st.listed[(pick - _AHEAD) // 2]
    e, c, gone = st.infected[i], st.signs[i], w.removed[i]
    if (pick - _AHEAD) % 2 == 0:
        return _day_in(w, st, max(e + 1, low), min(min(c, gone), high))
    return _day_in(w, st, max(max(c, e + 1), low), min(gone, high))


@njit(cache=True, nogil=True)
def log_density(w: World, st: State, j: int, e: int, total: float) -> float:
    """Return the log density of a day of infection under the masses gathered last."""
    if e < w.start[j]:
        return float(np.log(st.mass[0] / total)) if st.mass[0] > 0.0 else -np.inf
    value = st.theta[_BACKGROUND] * w.susceptible[j] * w.flight[e]
    for k in range(st.count[0]):
        if st.rate[k] > 0.0:
            i = st.listed[k]
            day_rate = giving(st.infected[i], st.signs[i], w.removed[i], st.theta[_SILENT], e)
            value += st.rate[k] * w.flight[e] * day_rate
    base = _AHEAD + 2 * st.count[0]
    for m in range(w.in_start[j], w.in_start[j + 1]):
        if w.in_day[m] == e:
            value += st.mass[base + m - w.in_start[j]]
    return float(np.log(value / total)) if value > 0.0 else -np.inf


@njit(cache=True, nogil=True)
def _from_curve(unsigned: FloatArray, limit: int, aim: float) -> int:
    """Return the days at which the log chance of no signs yet first falls below ``log(1 - aim)``."""
    low, high = 0, limit
    while low < high:
        mid = (low + high) // 2
        if 1.0 - np.exp(unsigned[mid + 1]) <= aim:
            low = mid + 1
        else:
            high = mid
    return low


@njit(cache=True, nogil=True)
def draw_signs(w: World, st: State, j: int, e: int) -> int:
    """Draw a day of signs from the incubation curve; for a found apiary not behind the finding."""
    first = e if e >= w.start[j] else w.start[j]
    curve = w.log_unsigned if e >= w.start[j] else w.log_unsigned_start
    aim = uniform(st.random)
    limit = w.days - first
    if w.found_how[j] > 0:
        limit = w.found_day[j] - first
        aim *= 1.0 - np.exp(curve[limit + 1])
    return first + _from_curve(curve, limit, aim)


@njit(cache=True, nogil=True)
def log_density_signs(w: World, j: int, e: int, c: int) -> float:
    """Return the log density of that draw."""
    is_start = e < w.start[j]
    first = w.start[j] if is_start else e
    signs: AnyArray = w.log_signs_start if is_start else w.log_signs
    curve: AnyArray = w.log_unsigned_start if is_start else w.log_unsigned
    if w.found_how[j] > 0:
        return float(signs[c - first] - np.log(1.0 - np.exp(curve[w.found_day[j] - first + 1])))
    if c >= w.days:
        return float(curve[w.days - first])
    return float(signs[c - first])
