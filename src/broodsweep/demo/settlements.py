"""Where people live on Skarnsey: villages with their built-up ground, and scattered farms."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from broodsweep.demo.names import village_names
from broodsweep.demo.terrain import Terrain
from broodsweep.units import BoolArray, FloatArray, IntArray

VILLAGES, FARMS = 27, 150
_APART_M, _FARMS_APART_M = 2_600.0, 650.0


@dataclass(frozen=True, kw_only=True)
class Village:
    """A village: its name, its middle in the National Grid, how many live there and its built-up ground."""

    name: str
    at_m: tuple[float, float]
    people: int
    built: BaseGeometry
    is_on_islet: bool = False

    @property
    def rank(self) -> str:
        """Town, village or hamlet, by how many live there."""
        return "town" if self.people >= 2_000 else "village" if self.people >= 220 else "hamlet"


def place_villages(rng: np.random.Generator, terrain: Terrain) -> tuple[Village, ...]:
    """Return the villages, largest first; the last but one stands on the islet with the ferry."""
    tries = _random_points(rng, terrain.main.difference(terrain.lakes.buffer(150.0)), 4_000)
    shore_m = shapely.distance(shapely.points(tries), terrain.main.boundary)
    height_m = terrain.height_at(tries)
    worth = np.exp(-((shore_m - 450.0) ** 2) / 900.0**2) + np.where(shore_m > 2_200.0, 1.0, 0.2) * np.exp(
        -((height_m - 45.0) ** 2) / 35.0**2
    )
    worth = np.where((shore_m < 280.0) | (height_m > 110.0), 0.0, worth) * rng.uniform(0.3, 1.0, len(tries))
    spots = _spread_out(tries, np.argsort(-worth, kind="stable"), worth > 0, _APART_M, VILLAGES - 1)
    islet_middle = shapely.get_coordinates(terrain.islets[0].buffer(-250.0).centroid)[0]
    inland = shapely.distance(shapely.points(spots), terrain.main.boundary) > 1_500.0
    names = village_names(rng, [*inland.tolist(), False])
    people = np.sort(np.rint(rng.lognormal(5.6, 0.75, len(spots))))[::-1] + 40
    people[0] = 3_400 + rng.integers(0, 600)
    villages = [
        _village(rng, terrain.main, name, spot, int(size))
        for name, spot, size in zip(names, spots, people, strict=False)
    ]
    islet = _village(rng, terrain.islets[0], names[-1], islet_middle, 190, is_on_islet=True)
    return (*villages, islet)


def place_farms(rng: np.random.Generator, terrain: Terrain, villages: tuple[Village, ...]) -> FloatArray:
    """Return the farms, shape (n, 2): on low open ground, on the main island and a few on the ferry's islet. [m]"""
    built = shapely.union_all([village.built for village in villages]).buffer(200.0)
    open_ground = terrain.dry.buffer(-230.0).difference(shapely.union_all([built, terrain.heath]))
    open_ground = open_ground.difference(terrain.islets[1].buffer(50.0))
    tries = _random_points(rng, open_ground, 3_000)
    low = terrain.height_at(tries) < 120.0
    spots = _spread_out(tries, np.arange(len(tries)), low, _FARMS_APART_M, FARMS)
    return np.asarray(spots)


def _village(
    rng: np.random.Generator,
    land: BaseGeometry,
    name: str,
    at: FloatArray,
    people: int,
    *,
    is_on_islet: bool = False,
) -> Village:
    """Grow the built-up ground as a bunch of crofts and yards round the middle."""
    size_m = 7.5 * np.sqrt(people) + 45.0
    count = int(6 + people / 60)
    spots = at + rng.normal(0.0, size_m, (count, 2)) * np.array([1.0, 0.75])
    yards = shapely.buffer(shapely.points(np.vstack([at, spots])), size_m * 0.42, quad_segs=4)
    built = shapely.union_all(yards).buffer(25.0, quad_segs=2).buffer(-25.0, quad_segs=2)
    built = shapely.intersection(built, land.buffer(-40.0)).simplify(10.0)
    return Village(
        name=name, at_m=(float(at[0]), float(at[1])), people=people, built=built, is_on_islet=is_on_islet
    )


def _random_points(rng: np.random.Generator, shape: BaseGeometry, count: int) -> FloatArray:
    """Return that many points, evenly spread inside the shape."""
    west, south, east, north = shape.bounds
    shapely.prepare(shape)
    found: list[FloatArray] = []
    missing = count
    while missing > 0:
        tries = rng.uniform((west, south), (east, north), (4 * count, 2))
        inside = tries[shapely.contains_xy(shape, tries[:, 0], tries[:, 1])][:missing]
        found.append(inside)
        missing -= len(inside)
    return np.concatenate(found)


def _spread_out(
    points: FloatArray, order: IntArray, allowed: BoolArray, apart_m: float, count: int
) -> list[FloatArray]:
    """Take points in that order, each at least so far from those taken."""
    taken: list[FloatArray] = []
    for index in order[allowed[order]]:
        if len(taken) == count:
            break
        if all(np.hypot(*(points[index] - other)) >= apart_m for other in taken):
            taken.append(points[index])
    return taken
