"""Random numbers inside compiled code, one stream a chain, so that threads do not change the answer.

References
----------
Steele, Lea & Flood 2014, Fast splittable pseudorandom number generators (SplitMix64).
"""

# Structured arrays and compiled calls have no element types that mypy can see.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import numpy as np

from broodsweep.spread.compiled import lean
from broodsweep.units import AnyArray

_STEP = np.uint64(0x9E3779B97F4A7C15)
_MIX_A = np.uint64(0xBF58476D1CE4E5B9)
_MIX_B = np.uint64(0x94D049BB133111EB)
_S30, _S27, _S31, _S11 = np.uint64(30), np.uint64(27), np.uint64(31), np.uint64(11)
_UNIT = 1.0 / 9007199254740992.0


@lean
def uniform(stream: AnyArray) -> float:
    """Return a number from [0, 1)."""
    stream[0] += _STEP
    z = stream[0]
    z = (z ^ (z >> _S30)) * _MIX_A
    z = (z ^ (z >> _S27)) * _MIX_B
    z = z ^ (z >> _S31)
    return float(z >> _S11) * _UNIT


@lean
def below(stream: AnyArray, count: int) -> int:
    """Return a whole number from 0 to count - 1."""
    return min(int(uniform(stream) * count), count - 1)


@lean
def normal(stream: AnyArray) -> float:
    """Return a standard normal number (Box and Muller 1958)."""
    u = 1.0 - uniform(stream)
    return np.sqrt(-2.0 * np.log(u)) * np.cos(2.0 * np.pi * uniform(stream))


@lean
def poisson(stream: AnyArray, mean: float) -> int:
    """Return a Poisson number, by multiplication, in parts of at most 30 (sums of Poisson numbers)."""
    total, left = 0, mean
    while left > 0.0:
        limit = np.exp(-min(left, 30.0))
        left -= 30.0
        product = uniform(stream)
        while product > limit:
            total += 1
            product *= uniform(stream)
    return total


def new_stream(seed: int, number: int) -> AnyArray:
    """Return the start of a stream; streams of different numbers are unrelated."""
    return np.random.SeedSequence([seed, number]).generate_state(2, np.uint64)
