"""Who keeps bees on Skarnsey and where they stand: the truth, before any register knows of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import shapely
from scipy.spatial import cKDTree

from broodsweep.demo.constants import (
    DEMO_DAY,
    FIRST_DAY,
    KEEPERS,
    REGISTERED,
    REGISTERED_KEEPERS_TWICE,
    UNREGISTERED,
)
from broodsweep.demo.names import addresses, keeper_names
from broodsweep.demo.roads import Road
from broodsweep.demo.settlements import Village
from broodsweep.demo.terrain import Terrain
from broodsweep.units import BoolArray, FloatArray, IntArray

LAST_DAY = (DEMO_DAY - FIRST_DAY).days
_HIDDEN_OF_REGISTERED = 15
_UNKNOWN_KEEPERS = 38
_LEFT_IN_2025 = 5
_CANDIDATES = 9_000


def day_of(number: int) -> date:
    """Return the date of a day counted from the first day of the three seasons."""
    return FIRST_DAY + timedelta(days=int(number))


@dataclass(frozen=True, kw_only=True)
class Population:
    """Every apiary in truth, shape (n,) each; the registered ones come first.

    ``owner`` numbers the keepers: those on the register first. ``at_m`` has shape (n, 2). [m]
    ``since_day`` and ``left_day`` count from the first day; ``left_day`` is beyond the demo day when bees are still there.
    """

    at_m: FloatArray
    owner: IntArray
    colonies: IntArray
    is_registered: BoolArray
    since_day: IntArray
    left_day: IntArray
    names: tuple[str, ...]
    homes_m: FloatArray
    addresses: tuple[str, ...]

    @property
    def count(self) -> int:
        """Number of apiaries in truth."""
        return len(self.owner)

    def is_there(self, day: int) -> BoolArray:
        """Mark the apiaries where bees stand on that day."""
        return np.asarray((self.since_day <= day) & (day < self.left_day))


def make_population(
    rng: np.random.Generator,
    terrain: Terrain,
    villages: tuple[Village, ...],
    roads: tuple[Road, ...],
    farms_m: FloatArray,
) -> Population:
    """Return the keepers and their apiaries, clustered round villages and farms and near lanes."""
    known = KEEPERS - REGISTERED_KEEPERS_TWICE
    keepers = known + _UNKNOWN_KEEPERS
    homes, where = _homes(rng, villages, farms_m, keepers)
    owner = _owners(rng, known)
    sites = _sites(rng, terrain, roads)
    at = np.array(
        [_choose(rng, sites, homes[own], first) for own, first in zip(owner, _is_first(owner), strict=True)]
    )
    lone = np.asarray(terrain.islets[1].representative_point().coords[0])
    at[int(np.flatnonzero(np.bincount(owner)[owner] == 3)[0])] = lone  # one apiary where no road leads
    many = np.bincount(owner)[owner]
    colonies = np.clip(np.rint(rng.lognormal(1.25 + 0.16 * np.minimum(many - 1, 6), 0.85)), 1, 60).astype(
        np.int64
    )
    since = -rng.integers(40, 20 * 365, len(owner))
    late = rng.choice(len(owner), 30, replace=False)
    since[late] = rng.integers(20, 780, 30)
    left = np.full(len(owner), LAST_DAY + 10_000)
    gone = rng.choice(np.flatnonzero(since[:REGISTERED] < 0), _LEFT_IN_2025, replace=False)
    left[gone] = rng.integers(400, 600, _LEFT_IN_2025)
    return Population(
        at_m=at,
        owner=owner,
        colonies=colonies,
        is_registered=np.arange(len(owner)) < REGISTERED,
        since_day=since,
        left_day=left,
        names=tuple(keeper_names(rng, keepers)),
        homes_m=homes,
        addresses=tuple(addresses(rng, where)),
    )


def _homes(
    rng: np.random.Generator, villages: tuple[Village, ...], farms_m: FloatArray, count: int
) -> tuple[FloatArray, list[str]]:
    """Return where each keeper lives and the village of the address."""
    people = np.array([village.people for village in villages], dtype=float) ** 0.6
    spots = np.array([village.at_m for village in villages])
    in_village = rng.choice(len(villages), count, p=people / people.sum())
    homes = spots[in_village] + rng.normal(0.0, 220.0, (count, 2))
    on_farm = rng.random(count) < 0.55
    homes[on_farm] = farms_m[rng.integers(len(farms_m), size=int(on_farm.sum()))]
    nearest = cKDTree(spots).query(homes)[1]
    return homes, [villages[index].name for index in nearest]


def _owners(rng: np.random.Generator, known: int) -> IntArray:
    """Return the keeper of each apiary: most have one or two, a few have many."""
    weight = (rng.pareto(0.85, known) + 0.15).clip(max=22.0)
    more = rng.choice(known, REGISTERED - known, p=weight / weight.sum())
    registered = np.concatenate([np.arange(known), more])
    has_several = np.flatnonzero(np.bincount(registered) >= 2)
    hidden = rng.choice(has_several, _HIDDEN_OF_REGISTERED)
    others = np.concatenate(
        [
            np.arange(known, known + _UNKNOWN_KEEPERS),
            known + rng.integers(_UNKNOWN_KEEPERS, size=UNREGISTERED),
        ]
    )[: UNREGISTERED - _HIDDEN_OF_REGISTERED]
    return np.concatenate([rng.permutation(registered), hidden, others])


def _is_first(owner: IntArray) -> BoolArray:
    first = np.zeros(len(owner), dtype=bool)
    first[np.unique(owner, return_index=True)[1]] = True
    return first


def _sites(rng: np.random.Generator, terrain: Terrain, roads: tuple[Road, ...]) -> FloatArray:
    """Return places where hives could stand: dry, off the built-up middle, a short carry from a road."""
    ways = np.concatenate([road.line_m for road in roads if road.kind != "ferry"])
    spots = ways[rng.integers(len(ways), size=_CANDIDATES)]
    spots = spots + rng.normal(0.0, 1.0, spots.shape) * rng.uniform(60.0, 420.0, (len(spots), 1))
    ground = terrain.dry.buffer(-90.0)
    return np.asarray(spots[shapely.contains_xy(ground, spots[:, 0], spots[:, 1])])


def _choose(rng: np.random.Generator, sites_m: FloatArray, home_m: FloatArray, is_first: bool) -> FloatArray:
    """Take a site near the home and use it up; further apiaries of a keeper stand further away."""
    away_m = np.hypot(*(sites_m - home_m).T)
    worth = np.exp(-away_m / (700.0 if is_first else 3_200.0))
    worth = np.where(np.isfinite(worth), worth, 0.0)
    pick = int(rng.choice(len(sites_m), p=worth / worth.sum()))
    spot: FloatArray = sites_m[pick].copy()
    taken = np.hypot(*(sites_m - spot).T) < 60.0
    sites_m[taken] = np.inf
    return spot
