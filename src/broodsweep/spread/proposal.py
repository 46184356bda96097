"""A likely day of infection and of signs for one apiary, with the density of the proposal.

The day is drawn from the pressure on the apiary: a component (start, background, one infected apiary before or with
signs, a move) by its mass, then a day in the component's window. Signs follow from the incubation curve.
"""

# Structured arrays and compiled calls have no element types that mypy can see.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import numpy as np

from broodsweep.spread.arrays import State, World
from broodsweep.spread.compiled import lean
from broodsweep.spread.exposure import giving, giving_by_keeper
from broodsweep.spread.kernels import apart, at
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


@lean
def last_day(w: World, j: int) -> int:
    """Return the day behind the last on which it may have been infected."""
    if w.node[j].found_how > 0:
        return min(w.node[j].found_day + 1, w.node[j].stop)
    return w.node[j].stop


@lean
def _window(flown: FloatArray, first: int, last: int, low: int, high: int) -> float:
    a, b = max(first, low), min(last, high)
    return flown[b] - flown[a] if b > a else 0.0


@lean
def gather(w: World, st: State, j: int) -> float:
    """Fill ``st.mass`` with the masses of the components and return their sum; ``st.rate`` the rates by source."""
    theta = st.theta
    low, high, a = w.node[j].start, last_day(w, j), w.node[j].susceptible
    st.mass[0] = theta[_BACKGROUND] * a * w.node[j].atom_weight + w.node[j].atom_hazard
    st.mass[1] = theta[_BACKGROUND] * a * (w.flown[high] - w.flown[low])
    total = st.mass[0] + st.mass[1]
    for k in range(st.counts[0]):
        i = st.listed[k]
        st.rate[k] = st.mass[_AHEAD + 2 * k] = st.mass[_AHEAD + 2 * k + 1] = 0.0
        if i == j:
            continue
        rate = theta[_CONTACT] * at(st.table, w.step, w.cut, apart(w.node, i, j))
        if w.node[i].owner == w.node[j].owner:
            rate += theta[_KEEPER]
        if rate == 0.0:
            continue
        rate *= a * w.node[i].infectious
        e, c, gone = st.life[i].infected, st.life[i].signs, w.node[i].removed
        silent = rate * theta[_SILENT] * _window(w.flown, e + 1, min(c, gone), low, high)
        signs = rate * _window(w.flown, max(c, e + 1), gone, low, high)
        st.rate[k], st.mass[_AHEAD + 2 * k], st.mass[_AHEAD + 2 * k + 1] = rate, silent, signs
        total += silent + signs
    return total + _gather_moves(w, st, j, low, high)


@lean
def _gather_moves(w: World, st: State, j: int, low: int, high: int) -> float:
    base, total = _AHEAD + 2 * st.counts[0], 0.0
    for m in range(w.node[j].into_first, w.node[j].into_last):
        i, day = w.into[m].node, w.into[m].day
        value = 0.0
        if i != j and low <= day < high:
            value = w.outside
            if i >= 0:
                value = giving_by_keeper(
                    st.life[i].infected,
                    st.life[i].signs,
                    w.node[i].removed,
                    w.node[i].still,
                    w.standstill_leaves,
                    st.theta[_SILENT],
                    day,
                )
        st.mass[base + m - w.node[j].into_first] = st.theta[_MOVE] * w.into[m].weight * value
        total += st.mass[base + m - w.node[j].into_first]
    return total


@lean
def day_in(flown: FloatArray, stream: AnyArray, first: int, last: int) -> int:
    """Draw a day from a window in proportion to the contacts of the days."""
    a = flown[first]
    aim = a + uniform(stream) * (flown[last] - a)
    day = np.searchsorted(flown, aim, side="right") - 1
    return min(max(int(day), first), last - 1)


@lean
def draw_infected(w: World, st: State, j: int, total: float) -> int:
    """Draw a day of infection from the masses gathered last."""
    low, high = w.node[j].start, last_day(w, j)
    aim = uniform(st.random) * total
    count = _AHEAD + 2 * st.counts[0] + w.node[j].into_last - w.node[j].into_first
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
        return day_in(w.flown, st.random, low, high)
    if pick >= _AHEAD + 2 * st.counts[0]:
        return w.into[w.node[j].into_first + pick - _AHEAD - 2 * st.counts[0]].day
    i = st.listed[(pick - _AHEAD) // 2]
    e, c, gone = st.life[i].infected, st.life[i].signs, w.node[i].removed
    if (pick - _AHEAD) % 2 == 0:
        return day_in(w.flown, st.random, max(e + 1, low), min(c, gone, high))
    return day_in(w.flown, st.random, max(c, e + 1, low), min(gone, high))


@lean
def log_density(w: World, st: State, j: int, e: int, total: float) -> float:
    """Return the log density of a day of infection under the masses gathered last."""
    if e < w.node[j].start:
        return float(np.log(st.mass[0] / total)) if st.mass[0] > 0.0 else -np.inf
    value = st.theta[_BACKGROUND] * w.node[j].susceptible * w.season[0, e]
    for k in range(st.counts[0]):
        if st.rate[k] > 0.0:
            i = st.listed[k]
            day_rate = giving(st.life[i].infected, st.life[i].signs, w.node[i].removed, st.theta[_SILENT], e)
            value += st.rate[k] * w.season[0, e] * day_rate
    base = _AHEAD + 2 * st.counts[0]
    for m in range(w.node[j].into_first, w.node[j].into_last):
        if w.into[m].day == e:
            value += st.mass[base + m - w.node[j].into_first]
    return float(np.log(value / total)) if value > 0.0 else -np.inf


@lean
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


@lean
def draw_signs(w: World, st: State, j: int, e: int) -> int:
    """Draw a day of signs from the incubation curve; for a found apiary not behind the finding."""
    first = e if e >= w.node[j].start else w.node[j].start
    curve = w.curve[1] if e >= w.node[j].start else w.curve[3]
    aim = uniform(st.random)
    limit = w.days - first
    if w.node[j].found_how > 0:
        limit = w.node[j].found_day - first
        aim *= 1.0 - np.exp(curve[limit + 1])
    return first + _from_curve(curve, limit, aim)


@lean
def log_density_signs(w: World, j: int, e: int, c: int) -> float:
    """Return the log density of that draw."""
    is_start = e < w.node[j].start
    first = w.node[j].start if is_start else e
    signs: AnyArray = w.curve[2] if is_start else w.curve[0]
    curve: AnyArray = w.curve[3] if is_start else w.curve[1]
    if w.node[j].found_how > 0:
        return float(signs[c - first] - np.log(1.0 - np.exp(curve[w.node[j].found_day - first + 1])))
    if c >= w.days:
        return float(curve[w.days - first])
    return float(signs[c - first])
