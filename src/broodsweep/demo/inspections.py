"""The inspectors of Skarnsey, their routine visits, and what a visit sees of what is there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, time

import numpy as np

from broodsweep.constants import Disease
from broodsweep.demo import constants as chosen
from broodsweep.demo.infection import NEVER, Epidemic
from broodsweep.demo.names import keeper_names
from broodsweep.demo.population import LAST_DAY, Population, day_of
from broodsweep.demo.settlements import Village
from broodsweep.demo.trade import Carried
from broodsweep.units import FloatArray

_WORKS = ((1, 2, 3, 4, 5), (1, 2, 3, 4, 5), (1, 2, 3, 4), (2, 3, 4, 5), (1, 2, 4, 5), (1, 3, 5))
_HOURS = ((9, 17), (9, 17), (8, 16), (10, 17), (9, 16), (9, 15))
_OFF_DUTY_SHARE = 0.16
"""Share of working days lost to weather, leave and other duties."""
_ROUTINE_PER_DAY = 1.5


@dataclass(frozen=True, kw_only=True)
class Officer:
    """An inspector: home in the National Grid, ISO weekdays worked, hours. [m]"""

    officer: str
    name: str
    home_m: tuple[float, float]
    works: frozenset[int]
    day_start: time
    day_end: time


@dataclass(frozen=True, kw_only=True)
class Seen:
    """A visit and what it saw; ``disease`` is None when it saw nothing, ``is_confirmed`` once the result is in."""

    day: int
    apiary: int
    officer: int
    purpose: str
    present: int
    opened: int
    suspect: int = 0
    disease: Disease | None = None
    is_confirmed: bool = False


def make_officers(rng: np.random.Generator, villages: tuple[Village, ...]) -> tuple[Officer, ...]:
    """Return the six inspectors, living well apart from each other."""
    spots = np.array([village.at_m for village in villages if not village.is_on_islet])
    homes = [0]
    while len(homes) < len(_WORKS):
        away = np.min([np.hypot(*(spots - spots[home]).T) for home in homes], axis=0)
        homes.append(int(away.argmax()))
    names = keeper_names(rng, len(_WORKS) + 400)[400:]
    return tuple(
        Officer(
            officer=f"I{number + 1}",
            name=names[number],
            home_m=(float(spots[home][0]), float(spots[home][1])),
            works=frozenset(_WORKS[number]),
            day_start=time(_HOURS[number][0]),
            day_end=time(_HOURS[number][1]),
        )
        for number, home in enumerate(homes)
    )


def on_duty(rng: np.random.Generator, officers: tuple[Officer, ...], day: int) -> list[int]:
    """Return who can make visits on that day."""
    weekday = day_of(day).isoweekday()
    free = rng.random(len(officers)) >= _OFF_DUTY_SHARE
    return [n for n, officer in enumerate(officers) if weekday in officer.works and free[n]]


def distance_m(people: Population, spot_m: tuple[float, float] | FloatArray) -> FloatArray:
    """Return how far each apiary is from a spot. [m]"""
    return np.asarray(np.hypot(*(people.at_m - np.asarray(spot_m)).T))


def plan_routine(
    rng: np.random.Generator, people: Population, officers: tuple[Officer, ...], moves: tuple[Carried, ...]
) -> tuple[Seen, ...]:
    """Return three seasons of routine visits: long unseen, large and buying apiaries first."""
    last = np.where(people.since_day > 0, people.since_day, rng.integers(-900, 0, people.count)).astype(float)
    bought = np.zeros(people.count)
    pending = [move for move in moves if move.is_recorded and move.stop >= 0 and move.start != move.stop]
    visits = []
    next_move = 0
    for day in range(LAST_DAY):
        while next_move < len(pending) and pending[next_move].day <= day:
            bought[pending[next_move].stop] += 1
            next_move += 1
        if not 4 <= day_of(day).month <= 9:
            continue
        duty = on_duty(rng, officers, day)
        for officer in rng.permutation(duty)[: rng.poisson(_ROUTINE_PER_DAY)].tolist():
            near = np.exp(-distance_m(people, officers[officer].home_m) / 9_000.0)
            worth = near * ((day - last) / 365 + 0.03 * people.colonies + 0.3 * bought)
            worth = (
                worth * (people.is_registered & people.is_there(day)) * rng.uniform(0.6, 1.0, people.count)
            )
            apiary = int(worth.argmax())
            last[apiary], bought[apiary] = day, 0.0
            present = int(people.colonies[apiary])
            share = rng.choice([0.4, 0.6, 0.8, 1.0], p=[0.15, 0.25, 0.25, 0.35])
            opened = max(1, min(present, int(np.ceil(share * present)), 24))
            visits.append(
                Seen(
                    day=day, apiary=apiary, officer=officer, purpose="routine", present=present, opened=opened
                )
            )
    return tuple(visits)


def look(rng: np.random.Generator, state: Epidemic, visit: Seen) -> int:
    """Return in how many of the opened colonies signs are recognised; sound colonies are never mistaken."""
    sick = state.colonies_with_signs(visit.apiary, visit.day, visit.present)
    if sick == 0 or state.found_day[visit.apiary] != NEVER:
        return 0
    among_opened = rng.hypergeometric(sick, visit.present - sick, visit.opened)
    return int(rng.binomial(among_opened, chosen.COLONY_SENSITIVITY.value))


def next_working_day(day: int) -> int:
    """Return the day itself, or the Monday behind a weekend."""
    while day_of(day).isoweekday() > 5:
        day += 1
    return day


def day_number(on: date) -> int:
    """Return the day counted from the first day of the three seasons."""
    return (on - chosen.FIRST_DAY).days
