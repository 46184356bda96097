"""What moved between the apiaries of Skarnsey in three seasons, written down or not."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import shapely

from broodsweep.constants import Goods
from broodsweep.demo.constants import FIRST_DAY
from broodsweep.demo.population import LAST_DAY, Population
from broodsweep.demo.terrain import Terrain
from broodsweep.units import FloatArray

OUTSIDE = -1
SEASONS = (2024, 2025, 2026)
_WRITTEN_DOWN = 0.88


@dataclass(frozen=True, kw_only=True)
class Carried:
    """One move in truth: apiaries by number, ``OUTSIDE`` for off the island."""

    day: int
    goods: Goods
    start: int
    stop: int
    quantity: int
    is_recorded: bool


@dataclass(frozen=True, kw_only=True)
class _Habit:
    """How often something is moved in a season, when, and how many pieces at most."""

    goods: Goods
    times: int
    first: tuple[int, int]
    last: tuple[int, int]
    most: int
    way: str


_HABITS = (
    _Habit(goods=Goods.NUCLEI, times=44, first=(5, 5), last=(7, 12), most=3, way="sale"),
    _Habit(goods=Goods.QUEENS, times=26, first=(5, 15), last=(8, 10), most=4, way="sale"),
    _Habit(goods=Goods.COLONIES, times=12, first=(4, 1), last=(6, 30), most=4, way="sale"),
    _Habit(goods=Goods.DRAWN_COMB, times=20, first=(4, 10), last=(7, 31), most=20, way="own"),
    _Habit(goods=Goods.BROOD_COMB, times=24, first=(4, 20), last=(7, 20), most=4, way="own"),
    _Habit(goods=Goods.BROOD_COMB, times=10, first=(5, 1), last=(7, 15), most=2, way="neighbour"),
    _Habit(goods=Goods.BOXES, times=14, first=(4, 1), last=(9, 15), most=12, way="neighbour"),
    _Habit(goods=Goods.EXTRACTOR, times=16, first=(7, 20), last=(9, 20), most=1, way="neighbour"),
    _Habit(goods=Goods.HONEY, times=24, first=(8, 1), last=(10, 20), most=180, way="out"),
    _Habit(goods=Goods.NUCLEI, times=9, first=(4, 25), last=(6, 25), most=4, way="in"),
    _Habit(goods=Goods.QUEENS, times=14, first=(5, 10), last=(8, 1), most=6, way="in"),
    _Habit(goods=Goods.COLONIES, times=3, first=(4, 10), last=(6, 10), most=6, way="out"),
)


def make_moves(rng: np.random.Generator, people: Population, terrain: Terrain) -> tuple[Carried, ...]:
    """Return every move up to the demo day, in order of the day."""
    away_km = np.hypot(*(people.at_m[:, None] - people.at_m[None]).transpose(2, 0, 1)) / 1000.0
    moves: list[Carried] = []
    for year in SEASONS:
        for habit in _HABITS:
            days = rng.integers(_day(year, habit.first), _day(year, habit.last) + 1, habit.times)
            for day in np.sort(days).tolist():
                moves += _one(rng, people, away_km, habit, day)
        moves += _to_the_heather(rng, people, terrain, year)
    past = [move for move in moves if move.day < LAST_DAY]
    return tuple(sorted(past, key=lambda move: (move.day, move.start, move.stop, move.goods)))


def _one(
    rng: np.random.Generator, people: Population, away_km: FloatArray, habit: _Habit, day: int
) -> list[Carried]:
    """Draw the ends of one move; a keeper sells mostly to someone a few kilometres away."""
    there = people.is_there(day)
    count = int(rng.integers(1, habit.most + 1))
    if habit.way in ("in", "out"):
        worth = there * people.colonies.astype(float)
        here = int(rng.choice(people.count, p=worth / worth.sum()))
        start, stop = (OUTSIDE, here) if habit.way == "in" else (here, OUTSIDE)
        return [_carried(rng, people, day, habit.goods, start, stop, count)]
    worth = there * np.where(people.colonies >= 6, people.colonies, 0.4).astype(float)
    same = people.owner[:, None] == people.owner[None]
    np.fill_diagonal(same, False)
    if habit.way == "own":
        worth = worth * same.any(axis=1)
    start = int(rng.choice(people.count, p=worth / worth.sum()))
    near = np.exp(-away_km[start] / (7.0 if habit.way == "sale" else 2.5)) * there
    near = near * (same[start] if habit.way == "own" else people.owner != people.owner[start])
    if near.sum() <= 0:
        return []
    stop = int(rng.choice(people.count, p=near / near.sum()))
    moves = [_carried(rng, people, day, habit.goods, start, stop, count)]
    if habit.goods is Goods.EXTRACTOR:  # lent, and carried home again
        back = moves[0]
        moves.append(
            Carried(
                day=day + int(rng.integers(1, 6)), goods=back.goods, start=stop, stop=start, quantity=1,
                is_recorded=back.is_recorded,
            )
        )  # fmt: skip
    return moves


def _to_the_heather(
    rng: np.random.Generator, people: Population, terrain: Terrain, year: int
) -> list[Carried]:
    """Larger keepers carry colonies to their apiary nearest the heath in late July and home in September."""
    heath_m = shapely.distance(shapely.points(people.at_m), terrain.heath)
    moves = []
    for keeper in range(int(people.owner.max()) + 1):
        own = np.flatnonzero((people.owner == keeper) & people.is_there(_day(year, (8, 1))))
        if len(own) < 3 or people.colonies[own].sum() < 18 or heath_m[own].min() > 2_500.0:
            continue
        up = int(own[heath_m[own].argmin()])
        low = int(own[people.colonies[own].argmax()])
        if up == low:
            continue
        count = int(np.clip(people.colonies[low] // 2, 2, 15))
        out, home = _day(year, (7, 24)) + int(rng.integers(14)), _day(year, (9, 8)) + int(rng.integers(16))
        moves.append(_carried(rng, people, out, Goods.COLONIES, low, up, count))
        moves.append(_carried(rng, people, home, Goods.COLONIES, up, low, count))
    return moves


def _carried(
    rng: np.random.Generator, people: Population, day: int, goods: Goods, start: int, stop: int, count: int
) -> Carried:
    ends = [end for end in (start, stop) if end != OUTSIDE]
    known = bool(people.is_registered[ends].all())
    written = bool(rng.random() < _WRITTEN_DOWN)
    return Carried(
        day=day, goods=goods, start=start, stop=stop, quantity=count, is_recorded=known and written
    )


def _day(year: int, month_day: tuple[int, int]) -> int:
    return (date(year, *month_day) - FIRST_DAY).days
