"""Infectious time of one source: how much it has given off before a day, and on a day.

Plain numbers in and out, and one array at most: a tuple of arrays handed to a small function costs more than its work.
"""

# Structured arrays and compiled calls have no element types that mypy can see.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

from broodsweep.spread.compiled import lean
from broodsweep.units import FloatArray


@lean
def given_off(flown: FloatArray, infected: int, signs: int, removed: int, silent: float, day: int) -> float:
    """Return the in-season infectious days before ``day``; a day without signs counts ``silent``."""
    first = infected + 1
    last = day if day < removed else removed
    if last <= first:
        return 0.0
    turn = signs if signs > first else first
    if turn >= last:
        return silent * (flown[last] - flown[first])
    return silent * (flown[turn] - flown[first]) + flown[last] - flown[turn]


@lean
def giving(infected: int, signs: int, removed: int, silent: float, day: int) -> float:
    """Return the infectiousness on a day: 0, ``silent`` before signs, 1 with them."""
    if day <= infected or day >= removed:
        return 0.0
    return silent if day < signs else 1.0


@lean
def given_by_keeper(
    flown: FloatArray,
    infected: int,
    signs: int,
    removed: int,
    still: int,
    left: float,
    silent: float,
    day: int,
) -> float:
    """Return the same for the keeper's own contacts, of which a standstill leaves a share."""
    whole = given_off(flown, infected, signs, removed, silent, day)
    if still >= day:
        return whole
    return left * whole + (1.0 - left) * given_off(flown, infected, signs, removed, silent, still)


@lean
def giving_by_keeper(
    infected: int, signs: int, removed: int, still: int, left: float, silent: float, day: int
) -> float:
    """Return the infectiousness on a day by the keeper's own contacts and moves."""
    value = giving(infected, signs, removed, silent, day)
    return value if day < still else value * left
