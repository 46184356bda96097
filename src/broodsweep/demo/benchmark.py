"""A register of any size for measuring speed: clustered apiaries over a mainland-size area."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np

from broodsweep.demo.files import write_ground
from broodsweep.demo.gridref import to_longitude_latitude
from broodsweep.geo import Place
from broodsweep.register import Apiary, Ground, Keeper
from broodsweep.units import FloatArray

_WEST_M, _SOUTH_M, _EAST_M, _NORTH_M = 100_000.0, 100_000.0, 600_000.0, 900_000.0
"""The sheet of the made-up mainland in the National Grid. [m]"""
_PER_CLUSTER, _SPREAD_M = 40, 6_000.0
_OLDEST = date(2005, 1, 1)


def make_register(n: int, seed: int) -> Ground:
    """Return a ground of ``n`` clustered apiaries with their keepers.

    Places are longitude and latitude with five decimals; nothing is meant by where they fall.

    Raises
    ------
    ValueError
        If ``n`` is less than 1.
    """
    if n < 1:
        raise ValueError(f"Expected n >= 1, got {n}.")
    rng = np.random.default_rng([seed, n])
    degrees = np.round(to_longitude_latitude(_clustered(rng, n)), 5).tolist()
    owners = np.sort(np.minimum(rng.integers(0, max(1, int(n * 0.65)), n), n - 1)).tolist()
    colonies = np.clip(np.rint(rng.lognormal(1.4, 0.9, n)), 1, 80).astype(int).tolist()
    since = rng.integers(0, 20 * 365, n).tolist()
    keepers = tuple(
        Keeper(keeper=f"K{number:06d}", name=f"Keeper {number}", phone=None) for number in sorted(set(owners))
    )
    apiaries = tuple(
        Apiary(
            apiary=f"A{number:06d}",
            keeper=f"K{owner:06d}",
            place=Place(longitude=longitude, latitude=latitude, precision_m=10.0),
            colonies=size,
            kept_since=_OLDEST + timedelta(days=days),
        )
        for number, ((longitude, latitude), owner, size, days) in enumerate(
            zip(degrees, owners, colonies, since, strict=True)
        )
    )
    return Ground(keepers=keepers, apiaries=apiaries)


def write_register(n: int, seed: int, folder: Path) -> Ground:
    """Write the register of ``make_register`` as CSV tables into a folder, and return it."""
    ground = make_register(n, seed)
    write_ground(ground, folder)
    return ground


def _clustered(rng: np.random.Generator, n: int) -> FloatArray:
    """Return points of a cluster process, kept inside the sheet by folding them back at its edges."""
    centres = rng.uniform((_WEST_M, _SOUTH_M), (_EAST_M, _NORTH_M), (max(1, n // _PER_CLUSTER), 2))
    spread_m = _SPREAD_M * rng.lognormal(0.0, 0.5, len(centres))
    which = rng.integers(len(centres), size=n)
    spots = centres[which] + rng.normal(0.0, 1.0, (n, 2)) * spread_m[which][:, None]
    low, high = np.array([_WEST_M, _SOUTH_M]), np.array([_EAST_M, _NORTH_M])
    spots = np.where(spots < low, 2 * low - spots, spots)
    return np.where(spots > high, 2 * high - spots, spots)
