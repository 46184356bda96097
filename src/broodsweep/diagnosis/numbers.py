"""A number of the model with its uncertainty, and draws of all of them that Python and the phone agree on.

The draws come from a counter: draw ``d`` of number ``j`` is a hash of (seed, d, j). No generator with a
state is needed, so that the phone gets the same draws without shipping them.

References
----------
The mixing steps are the 32-bit finalizer of MurmurHash3 (public domain, A. Appleby); the normal is made
by Box and Muller (1958).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from broodsweep.diagnosis.constants import INTERVAL_Z, SHARE_OF_WORD_IN_VARIANCE, Frequency, frequency
from broodsweep.sources import Sourced
from broodsweep.units import FloatArray

_WORD_SLOT = 1_000_000
"""Slots of the words stand far behind those of the numbers."""


@dataclass(frozen=True, kw_only=True)
class Number:
    """A probability (or an odds ratio) that the model uses, how sure it is, and where it comes from.

    ``word`` is the handbook's word when the number is read off the word table: then part of its error is
    shared with all numbers of the same word.
    """

    value: float
    low: float
    high: float
    where: str
    source: str
    is_published: bool
    kind: Literal["probability", "ratio"] = "probability"
    word: Frequency | None = None

    def __post_init__(self) -> None:
        if not 0.0 < self.low <= self.value <= self.high:
            raise ValueError(f"Expected 0 < low <= value <= high at {self.where}, got {self}.")
        if self.kind == "probability" and not self.high < 1.0:
            raise ValueError(f"Expected a probability below 1 at {self.where}, got {self.high}.")

    @property
    def sd(self) -> float:
        """Spread on the scale of the draws: logit of a probability, logarithm of a ratio."""
        scale = np.log if self.kind == "ratio" else logit
        return float((scale(self.high) - scale(self.low)) / (2.0 * INTERVAL_Z))


def from_word(word: Frequency, *, where: str, source: str) -> Number:
    """Return the number that a handbook's word stands for."""
    entry = frequency(word)
    return Number(
        value=entry.value,
        low=entry.low or entry.value,
        high=entry.high or entry.value,
        where=where,
        source=source,
        is_published=False,
        word=word,
    )


def from_sourced(
    sourced: Sourced, *, where: str, kind: Literal["probability", "ratio"] = "probability"
) -> Number:
    """Return a published value (or a choice of the project) as a number of the model."""
    return Number(
        value=sourced.value,
        low=sourced.value if sourced.low is None else sourced.low,
        high=sourced.value if sourced.high is None else sourced.high,
        where=where,
        source=f"{sourced.source}; {sourced.locator}",
        is_published=sourced.standing in ("read", "computed"),
        kind=kind,
    )


def logit(probability: FloatArray | float) -> FloatArray:
    """Return the logarithm of the odds."""
    p = np.asarray(probability, dtype=np.float64)
    return np.asarray(np.log(p) - np.log1p(-p))


def expit(value: FloatArray | float) -> FloatArray:
    """Return the probability whose log odds are given."""
    return np.asarray(1.0 / (1.0 + np.exp(-np.asarray(value, dtype=np.float64))))


def _mix(x: NDArray[np.uint32]) -> NDArray[np.uint32]:
    x = x ^ (x >> np.uint32(16))
    x = x * np.uint32(0x85EBCA6B)
    x = x ^ (x >> np.uint32(13))
    x = x * np.uint32(0xC2B2AE35)
    return x ^ (x >> np.uint32(16))


def normals(seed: int, draws: int, slots: NDArray[np.int64]) -> FloatArray:
    """Return standard normal numbers, shape (draws, slots); odd draws mirror the even draw before them.

    Raises
    ------
    ValueError
        If ``draws`` is not a positive even number.
    """
    if draws <= 0 or draws % 2:
        raise ValueError(f"Expected an even number of draws, got {draws}.")
    start = _mix(np.full(1, (seed & 0xFFFFFFFF) ^ 0x9E3779B9, dtype=np.uint32))
    pair = _mix(np.arange(draws // 2, dtype=np.uint32) ^ start)[:, None]
    first = _mix(pair + slots.astype(np.uint32)[None, :] * np.uint32(0x9E3779B1))
    second = _mix(first ^ np.uint32(0x5BD1E995))
    u1 = (first.astype(np.float64) + 0.5) / 2.0**32
    u2 = (second.astype(np.float64) + 0.5) / 2.0**32
    half = np.sqrt(-2.0 * np.log(u1)) * np.cos(2.0 * np.pi * u2)
    out = np.empty((draws, len(slots)))
    out[0::2], out[1::2] = half, -half
    return out


def draw(numbers: tuple[Number, ...], *, seed: int, draws: int) -> FloatArray:
    """Draw all numbers within their uncertainty, shape (draws, numbers).

    A number from the word table takes half of its variance from the word (the reading of the word is
    off for every cell alike) and half of its own.
    """
    own = normals(seed, draws, np.arange(len(numbers), dtype=np.int64))
    words = list(Frequency)
    shared = normals(seed, draws, _WORD_SLOT + np.arange(len(words), dtype=np.int64))
    share = SHARE_OF_WORD_IN_VARIANCE.value
    for column, number in enumerate(numbers):
        if number.word is not None:
            own[:, column] = (
                np.sqrt(share) * shared[:, words.index(number.word)] + np.sqrt(1.0 - share) * own[:, column]
            )
    values = np.array([number.value for number in numbers])
    shift = own * np.array([number.sd for number in numbers])
    is_ratio = np.array([number.kind == "ratio" for number in numbers])
    out = np.empty_like(own)
    out[:, is_ratio] = values[is_ratio] * np.exp(shift[:, is_ratio])
    out[:, ~is_ratio] = expit(logit(values[~is_ratio]) + shift[:, ~is_ratio])
    return out
