"""Random numbers that depend only on what they are for, not on when they are asked for.

Every stream is named by (seed, replicate, apiary, purpose). Two strategies that let the same apiary fall ill in the
same replicate therefore see the same contacts, the same time to signs and the same luck in inspection: differences
between strategies are sharp (common random numbers), and an answer does not depend on threads or machines.

References
----------
Steele, Lea & Flood 2014, Fast splittable pseudorandom number generators, doi 10.1145/2714064.2660195 (SplitMix64:
the constants of ``mix``).
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit, uint64

_GOLDEN = uint64(0x9E3779B97F4A7C15)
_MIX_1 = uint64(0xBF58476D1CE4E5B9)
_MIX_2 = uint64(0x94D049BB133111EB)
_TO_UNIT = 1.0 / 9007199254740992.0  # 2^-53


@njit(cache=True, inline="always")
def mix(word: uint64) -> uint64:  # type: ignore[valid-type]
    """Scramble 64 bits (the finaliser of SplitMix64)."""
    word = (word ^ (word >> uint64(30))) * _MIX_1
    word = (word ^ (word >> uint64(27))) * _MIX_2
    return word ^ (word >> uint64(31))


@njit(cache=True, inline="always")
def name_stream(seed: int, replicate: int, apiary: int, purpose: int) -> uint64:  # type: ignore[valid-type]
    """Return the state that begins the stream of that name."""
    word = mix(uint64(seed) + _GOLDEN)
    word = mix(word ^ (uint64(replicate) * _GOLDEN + uint64(1)))
    word = mix(word ^ (uint64(apiary) * _GOLDEN + uint64(2)))
    return mix(word ^ (uint64(purpose) * _GOLDEN + uint64(3)))


@njit(cache=True, inline="always")
def draw_unit(states: np.ndarray, slot: int) -> float:
    """Return the next number of a stream, strictly between 0 and 1, and move the stream on."""
    states[slot] = states[slot] + _GOLDEN
    return (float(mix(states[slot]) >> uint64(11)) + 0.5) * _TO_UNIT


@njit(cache=True)
def draw_poisson(states: np.ndarray, slot: int, mean: float) -> int:
    """Return a Poisson number: by multiplication below 30, by splitting the mean above (sums of Poissons)."""
    total = 0
    left = mean
    while left > 0.0:
        part = min(left, 30.0)
        left -= part
        limit = math.exp(-part)
        product = draw_unit(states, slot)
        while product > limit:
            total += 1
            product *= draw_unit(states, slot)
    return total


@njit(cache=True)
def draw_binomial(states: np.ndarray, slot: int, trials: int, chance: float) -> int:
    """Return a binomial number by counting trials (colonies of one apiary: few)."""
    hits = 0
    for _ in range(trials):
        if draw_unit(states, slot) < chance:
            hits += 1
    return hits
