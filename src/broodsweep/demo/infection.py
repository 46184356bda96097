"""How foulbrood goes from apiary to apiary on Skarnsey: a daily simulator of the island's own.

It is written apart from the statistical engine and on other assumptions on purpose (a power-law kernel,
log-logistic days until signs, keepers unknown to the register), so that the demonstration is no mirror.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from broodsweep.constants import Disease, Goods
from broodsweep.demo import constants as chosen
from broodsweep.demo.population import Population, day_of
from broodsweep.demo.trade import OUTSIDE, Carried
from broodsweep.units import AnyArray, BoolArray, FloatArray, IntArray

NEVER = 1_000_000
BACKGROUND = -1
_SEASON = (0.03, 0.05, 0.3, 0.8, 1.0, 1.0, 0.9, 1.5, 1.4, 0.5, 0.1, 0.03)
"""Flight and robbing by month, January first: project choice."""
_BROODY = frozenset({Goods.COLONIES, Goods.NUCLEI, Goods.BROOD_COMB, Goods.DRAWN_COMB})
_KIT = frozenset({Goods.BOXES, Goods.EXTRACTOR})
_EFB_MENDS_PER_DAY, _EFB_MENDS_FROM = 0.02, (6, 15)


@dataclass(kw_only=True)
class Epidemic:
    """The state of one disease, shape (n,) each: days, or ``NEVER``; changed in place as days go by."""

    disease: Disease
    infected_day: IntArray
    signs_day: IntArray
    found_day: IntArray
    ended_day: IntArray
    source: IntArray
    route: AnyArray
    mended: set[int] = field(default_factory=set)

    @classmethod
    def none_yet(cls, disease: Disease, count: int) -> Epidemic:
        """Return the state in which no apiary is infected."""
        never = [np.full(count, NEVER) for _ in range(4)]
        return cls(
            disease=disease,
            infected_day=never[0],
            signs_day=never[1],
            found_day=never[2],
            ended_day=never[3],
            source=np.full(count, BACKGROUND),
            route=np.full(count, "", dtype="<U12"),
        )

    def copy(self) -> Epidemic:
        """Return an independent copy, to go on from the same day more than once."""
        return Epidemic(
            disease=self.disease,
            infected_day=self.infected_day.copy(),
            signs_day=self.signs_day.copy(),
            found_day=self.found_day.copy(),
            ended_day=self.ended_day.copy(),
            source=self.source.copy(),
            route=self.route.copy(),
            mended=set(self.mended),
        )

    def is_active(self, day: int) -> BoolArray:
        """Mark the apiaries that are infected on that day."""
        return np.asarray((self.infected_day < day) & (day < self.ended_day))

    def colonies_with_signs(self, apiary: int, day: int, colonies: int) -> int:
        """Return how many colonies show signs: one at first, more as the weeks go by."""
        weeks = day - int(self.signs_day[apiary])
        if weeks < 0 or day >= self.ended_day[apiary]:
            return 0
        share = 1.0 - np.exp(-weeks / (chosen.WITHIN_DAYS.value * 4))
        return 1 + int((colonies - 1) * share)


@dataclass(frozen=True, kw_only=True)
class Contacts:
    """What can carry infection between apiaries: shape (n, n) per day, and moves by day."""

    near_per_day: FloatArray
    keeper_per_day: FloatArray
    moves: dict[int, tuple[Carried, ...]]

    @classmethod
    def of(cls, people: Population, moves: tuple[Carried, ...]) -> Contacts:
        """Return the contacts of the island."""
        away_km = np.hypot(*(people.at_m[:, None] - people.at_m[None]).transpose(2, 0, 1)) / 1000.0
        near = (
            chosen.CONTACT_PER_DAY.value
            * (1 + away_km / chosen.KERNEL_SCALE_KM.value) ** -chosen.KERNEL_POWER.value
        )
        near *= (people.colonies / 6.0)[:, None] ** 0.3 * (people.colonies / 6.0)[None] ** 0.4
        same = people.owner[:, None] == people.owner[None]
        np.fill_diagonal(same, False)
        np.fill_diagonal(near, 0.0)
        by_day: dict[int, list[Carried]] = {}
        for move in moves:
            by_day.setdefault(move.day, []).append(move)
        return cls(
            near_per_day=near,
            keeper_per_day=same * chosen.KEEPER_PER_DAY.value,
            moves={day: tuple(found) for day, found in by_day.items()},
        )


def spread_for_a_day(
    rng: np.random.Generator,
    people: Population,
    contacts: Contacts,
    state: Epidemic,
    day: int,
    banned: set[int],
) -> None:
    """Let one day pass: new infections by nearness, keeper and moves; EFB may mend by itself.

    ``banned`` are the apiaries under a standstill, from which nothing is moved.
    """
    active = np.flatnonzero(state.is_active(day))
    if len(active) == 0:
        return
    strength = np.where(state.signs_day[active] <= day, 1.0, chosen.HIDDEN_SHARE.value)
    season = _SEASON[day_of(day).month - 1]
    by_hand = min(season, 1.0)
    total = season * (strength @ contacts.near_per_day[active]) + by_hand * (
        strength @ contacts.keeper_per_day[active]
    )
    hit = np.flatnonzero(rng.random(people.count) < -np.expm1(-total))
    for apiary in hit.tolist():
        if (
            state.infected_day[apiary] != NEVER
            or not people.since_day[apiary] <= day < people.left_day[apiary]
        ):
            continue
        near = season * strength * contacts.near_per_day[active, apiary]
        keeper = by_hand * strength * contacts.keeper_per_day[active, apiary]
        parts = np.concatenate([near, keeper])
        pick = int(rng.choice(len(parts), p=parts / parts.sum()))
        route = "near" if pick < len(active) else "same_keeper"
        infect(rng, state, apiary, day, int(active[pick % len(active)]), route)
    for move in contacts.moves.get(day, ()):
        _carry(rng, people, state, move, day, banned)
    if state.disease is Disease.EFB and (day_of(day).month, day_of(day).day) >= _EFB_MENDS_FROM:
        for apiary in active[rng.random(len(active)) < _EFB_MENDS_PER_DAY].tolist():
            if state.found_day[apiary] == NEVER:
                state.ended_day[apiary] = day
                state.mended.add(apiary)


def infect(rng: np.random.Generator, state: Epidemic, apiary: int, day: int, source: int, route: str) -> None:
    """Mark an apiary as infected and draw the day of its first signs."""
    if state.disease is Disease.AFB:
        odds = rng.random()
        wait = chosen.AFB_SIGNS_DAYS.value * (odds / (1 - odds)) ** (1 / chosen.AFB_SIGNS_SHAPE.value)
    else:
        wait = rng.lognormal(np.log(chosen.EFB_SIGNS_DAYS.value), 0.5)
    state.infected_day[apiary] = day
    state.signs_day[apiary] = day + max(9, min(int(wait), 700))
    state.source[apiary] = source
    state.route[apiary] = route


def _carry(
    rng: np.random.Generator, people: Population, state: Epidemic, move: Carried, day: int, banned: set[int]
) -> None:
    if OUTSIDE in (move.start, move.stop) or move.start in banned or move.stop in banned:
        return
    if not state.is_active(day)[move.start] or state.infected_day[move.stop] != NEVER:
        return
    share = 1.0 if state.signs_day[move.start] <= day else 0.6
    chance = 0.0
    if move.goods in _BROODY:
        chance = share * chosen.MOVED_INFECTS.value
    elif move.goods in _KIT:
        chance = share * chosen.KIT_INFECTS.value
    if people.is_there(day)[move.stop] and rng.random() < chance:
        infect(rng, state, move.stop, day, move.start, "move")
