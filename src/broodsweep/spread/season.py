"""The season day by day: how much apiaries meet, and how often hives are looked into."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from broodsweep.units import FloatArray

_MONTHS = 12
_HALF_YEAR = 6


def by_day(by_month: tuple[float, ...], first: date, days: int, south: bool) -> FloatArray:
    """Return the values of the months day by day, half a year later south of the equator.

    Raises
    ------
    ValueError
        If there are not twelve months or one is negative.
    """
    if len(by_month) != _MONTHS or min(by_month) < 0:
        raise ValueError(f"Expected 12 values of at least 0, got {by_month}.")
    shift = _HALF_YEAR if south else 0
    months = [(first + timedelta(days=day)).month for day in range(days)]
    return np.array([by_month[(month - 1 + shift) % _MONTHS] for month in months])
