"""Infectious time of one source: how much it has given off before a day, and on a day."""

from __future__ import annotations

from numba import njit

from broodsweep.spread.arrays import World


@njit(cache=True, nogil=True)
def given_off(w: World, infected: int, signs: int, removed: int, silent: float, day: int) -> float:
    """Return the in-season infectious days before ``day``; a day without signs counts ``silent``."""
    first = infected + 1
    last = day if day < removed else removed
    if last <= first:
        return 0.0
    turn = signs if signs > first else first
    if turn >= last:
        return silent * (w.flown[last] - w.flown[first])
    return silent * (w.flown[turn] - w.flown[first]) + w.flown[last] - w.flown[turn]


@njit(cache=True, nogil=True)
def giving(infected: int, signs: int, removed: int, silent: float, day: int) -> float:
    """Return the infectiousness on a day: 0, ``silent`` before signs, 1 with them."""
    if day <= infected or day >= removed:
        return 0.0
    return silent if day < signs else 1.0


@njit(cache=True, nogil=True)
def given_by_keeper(w: World, j: int, infected: int, signs: int, silent: float, day: int) -> float:
    """Return the same for the keeper's own contacts, of which a standstill leaves a share."""
    whole = given_off(w, infected, signs, w.removed[j], silent, day)
    still = w.still[j]
    if still >= day:
        return whole
    left = w.standstill_leaves
    return left * whole + (1.0 - left) * given_off(w, infected, signs, w.removed[j], silent, still)


@njit(cache=True, nogil=True)
def giving_by_keeper(w: World, j: int, infected: int, signs: int, silent: float, day: int) -> float:
    """Return the infectiousness on a day by the keeper's own contacts and moves."""
    value = giving(infected, signs, w.removed[j], silent, day)
    return value if day < w.still[j] else value * w.standstill_leaves
