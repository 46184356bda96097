"""Outbreaks whose truth is known, from a simulator that shares no code with the sampler.

`Course` walks day by day: visits first, then reports, then infection (the order of the likelihood). What the sampler
assumes otherwise than the truth is a field of `Truth`, so that the same code makes outbreaks under the model and under
wrong ones. An outbreak is kept for what was seen of it, never for what is hidden.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from broodsweep.constants import Disease
from broodsweep.spread import Kernel, Prior, priors_of
from broodsweep.spread.incubation import curves_of
from broodsweep.spread.priors import Slot, draw_parameters
from broodsweep.spread.scene import Scene, Visits

NEVER = 10**6
ATOM_DAYS, CUT_M, PLACE_M = 200.0, 10_000.0, 100.0
FLIGHT = (0, 0, 0.25, 1, 1, 1, 1, 1.6, 1.6, 0.5, 0, 0)
LOOKED = (0.05, 0.05, 0.3, 1, 1, 1, 1, 1, 1, 0.3, 0.05, 0.05)


def of_the_year(months: tuple[float, ...], days: int) -> np.ndarray:
    """Return a value a day; day 0 is the first of April."""
    return np.array(months)[(np.arange(days) // 30.4 + 3).astype(int) % 12]


def exponential(d: np.ndarray, reach: float) -> np.ndarray:
    """Return the kernel that the sampler assumes here."""
    return np.exp(-d / reach)


def power_law(d: np.ndarray, reach: float) -> np.ndarray:
    """Return a kernel with a fat tail."""
    return (1 + d / reach) ** -3.0


def gamma_days(rng: np.random.Generator) -> float:
    """Draw days until signs as the sampler assumes them."""
    return float(rng.gamma(1.5, 60.0))


def lognormal_days(rng: np.random.Generator) -> float:
    """Draw days until signs, seldom few and seldom many."""
    return float(rng.lognormal(np.log(60), 0.6))


@dataclass(frozen=True, kw_only=True)
class Truth:
    """How the outbreaks really go.

    ``kernel`` takes distances and the reach in metres; ``signs`` draws days until signs. A ``frailty`` above 0 is the
    standard deviation of the logarithm of each apiary's own factor of infectiousness, of reporting and of sensitivity:
    none of it is known to the sampler. Functions are named ones, so that other processes can be told of them.
    """

    kernel: Callable[[np.ndarray, float], np.ndarray] = exponential
    signs: Callable[[np.random.Generator], float] = gamma_days
    report: float = 1.0
    sensitivity: float = 1.0
    frailty: float = 0.0


@dataclass(frozen=True, kw_only=True)
class District:
    """The land, the response and what is believed of the parameters.

    A ring of ``ring_m`` round every finding is visited, ``visits_a_day``, nearest first; again after ``again_days``.
    """

    priors: tuple[Prior, ...]
    apiaries: tuple[int, int] = (120, 120)
    per_km2: float = 0.61
    towns: int = 12
    ring_m: float = 3000.0
    visits_a_day: int = 4
    again_days: int | None = None
    days: int = 700
    earliest: int = 330
    after: tuple[int, int] = (14, 60)


def believing(**changed: dict[str, object]) -> tuple[Prior, ...]:
    """Return the product's priors with some of them changed; no far part of the kernel, no moves."""
    changed = {
        "far_share": {"family": "fixed", "first": 0.0},
        "moved_colony": {"family": "fixed", "first": 0.3},
        **changed,
    }
    return tuple(replace(row, **changed.get(row.name, {})) for row in priors_of(Disease.AFB))  # type: ignore[arg-type]


OWN = District(priors=believing(background={"first": 1e-5}))
"""The product's priors, and enough background to have outbreaks at all."""
DENSE = District(
    priors=believing(
        background={"first": 2e-5, "second": 0.7},
        secondary_apiaries={"first": 2.6, "second": 0.9},
        reach={"first": 1200.0, "second": 0.35},
        infectiousness_before_signs={"family": "fixed", "first": 0.3},
        report={"family": "fixed", "first": 1 / 150},
        sensitivity={"family": "fixed", "first": 0.8},
    ),
    apiaries=(120, 199),
    per_km2=0.6,
)
"""Outbreaks that spread: the priors with which the prototype was measured (each case infects 2.6 others)."""
FOLLOWED = District(
    priors=believing(background={"first": 1e-6}), apiaries=(60, 60), ring_m=6000.0, again_days=60, days=1200,
    earliest=100, after=(800, 800),
)  # fmt: skip
"""A small district with little background, which is visited anew every two months of the season."""


class Course:
    """One outbreak while it goes on; `advance` brings it to a day, `scene` says what is known by then."""

    def __init__(self, rng: np.random.Generator, district: District, truth: Truth) -> None:
        self.rng, self.district, self.truth = rng, district, truth
        n = self.n = int(rng.integers(district.apiaries[0], district.apiaries[1] + 1))
        self.side_m = 1000.0 * np.sqrt(n / district.per_km2)
        centres = rng.uniform(0, self.side_m, (district.towns, 2))
        at = centres[rng.integers(0, district.towns, n)] + rng.normal(0, 1500, (n, 2))
        self.at = np.clip(at, 0, self.side_m)
        self.colonies = 1.0 + rng.poisson(4, n)
        self.size = np.sqrt(self.colonies / 5)
        self.owner = rng.integers(0, int(n * 0.7), n)
        theta = self.theta = draw_parameters(district.priors, rng)
        self.flight, self.looked = of_the_year(FLIGHT, district.days), of_the_year(LOOKED, district.days)
        self._contacts(theta)
        self.infected, self.signs, self.found, self.gone = (np.full(n, NEVER) for _ in range(4))
        self.how, self.opened = np.zeros(n, np.int64), np.zeros(n)
        self.last_visit = np.full(n, -NEVER)
        self.visits: list[tuple[float, ...]] = []
        self.index_day: int | None = None
        self.day = 0
        self._begin(theta)

    def _contacts(self, theta: np.ndarray) -> None:
        away = np.sqrt(((self.at[:, None] - self.at[None]) ** 2).sum(2) + 2 * PLACE_M**2 / 6)
        reach = theta[Slot.REACH]
        area = 2 * np.pi * reach**2 * (1 - (1 + CUT_M / reach) * np.exp(-CUT_M / reach))
        contact = theta[Slot.CASES] / (self.size.sum() / self.side_m**2 * 150.0 * area)
        near = np.where(away <= CUT_M, self.truth.kernel(away, reach), 0.0)
        rate = contact * near + theta[Slot.KEEPER] * (self.owner[:, None] == self.owner[None])
        np.fill_diagonal(rate, 0.0)
        draw = lambda: np.exp(self.truth.frailty * self.rng.standard_normal(self.n))  # noqa: E731
        self.away, self.rate = away, rate * draw()[:, None] if self.truth.frailty else rate
        self.reporting = self.truth.report * (draw() if self.truth.frailty else np.ones(self.n))
        self.seeing = self.truth.sensitivity * (draw() if self.truth.frailty else np.ones(self.n))

    def _begin(self, theta: np.ndarray) -> None:
        rng = self.rng
        start = np.flatnonzero(
            rng.random(self.n) < -np.expm1(-theta[Slot.BACKGROUND] * self.size * ATOM_DAYS)
        )
        self.infected[start] = -1
        # Those of before have signs with the share of renewal theory, else the rest of a time that is running.
        pool = np.array([self.truth.signs(rng) for _ in range(64)]) if len(start) else np.zeros(0)
        for j in start:
            running = pool[rng.choice(len(pool), p=pool / pool.sum())]
            self.signs[j] = 0 if rng.random() < 1 - 90 / 400 else int(running * rng.random())
        flown = np.concatenate([[0.0], np.cumsum(self.flight)])
        due = rng.exponential(size=self.n) / (theta[Slot.BACKGROUND] * self.size)
        self.spark = np.searchsorted(flown, due, side="left") - 1
        self.spark[due > flown[-1]] = NEVER

    def advance(self, until: int) -> None:
        """Go on to the morning of a day."""
        while self.day < until:
            if not (self.infected < NEVER).any():
                self.day = max(self.day, min(int(self.spark.min()), until))
                if self.day >= until:
                    return
            self._one_day(self.day)
            self.day += 1

    def _one_day(self, t: int) -> None:
        rng, theta = self.rng, self.theta
        if self.index_day is not None and t > self.index_day + 2:
            self._visit(t)
        clinical = np.flatnonzero((self.signs <= t) & (self.found == NEVER))
        rate = theta[Slot.REPORT] * self.reporting[clinical] * self.looked[t]
        told = clinical[rng.random(len(clinical)) < -np.expm1(-rate)]
        self.found[told], self.how[told], self.gone[told] = t, 2, t + 4
        if self.index_day is None and len(told):
            self.index_day = t
        giving = np.flatnonzero((self.infected < t) & (t < self.gone))
        new = self.spark == t
        if self.flight[t] > 0 and len(giving):
            strength = np.where(t < self.signs[giving], theta[Slot.SILENT], 1.0)
            new |= rng.random(self.n) < -np.expm1(
                -self.size * self.flight[t] * (strength @ self.rate[giving])
            )
        for j in np.flatnonzero(new & (self.infected == NEVER)):
            self.infected[j], self.signs[j] = t, t + int(self.truth.signs(rng))

    def _visit(self, t: int) -> None:
        near = self.away[self.found < t].min(axis=0)
        again = self.district.again_days
        due = self.last_visit + again <= t if again else self.last_visit < 0
        open_ = (near < self.district.ring_m) & due & (self.found == NEVER) & (self.flight[t] > 0)
        # The longest not visited first (all of them alike the first time), the nearest of those.
        order = np.lexsort((near, np.maximum(self.last_visit, 0)))
        for j in order[open_[order]][: self.district.visits_a_day]:
            self.last_visit[j] = t
            opened = np.ceil(self.colonies[j] * self.rng.uniform(0.6, 1.0))
            if self.signs[j] <= t and self.rng.random() > self.overlooked(j, t - self.signs[j], opened):
                self.found[j], self.how[j], self.gone[j], self.opened[j] = t, 1, t + 4, opened
            else:
                self.visits.append((j, t, opened, self.colonies[j]))

    def overlooked(self, j: int, age: float, opened: float) -> float:
        """Return the chance that a visit sees none of the colonies with signs."""
        sensitivity = min(1.0, self.theta[Slot.SENSITIVITY] * self.seeing[j])
        sick = 1 + (self.colonies[j] - 1) * (1 - np.exp(-age / 120))
        return float((1 - sensitivity * opened / self.colonies[j]) ** sick)

    @property
    def is_found(self) -> np.ndarray:
        """Mark the apiaries found so far."""
        return self.how > 0

    @property
    def hidden(self) -> np.ndarray:
        """Mark the apiaries infected and not found."""
        return (self.infected < self.day) & ~self.is_found

    def scene(self) -> Scene:
        """Return what is known so far: days up to yesterday."""
        n, days, found = self.n, self.day, self.is_found
        rows = np.array(self.visits, float).reshape(-1, 4)
        node = rows[:, 0].astype(np.int64)
        removed = np.where(found, np.minimum(self.gone, days), days)
        day = np.where(found, self.found, 0)
        return Scene(
            days=days, east_m=self.at[:, 0], north_m=self.at[:, 1], precision_m=np.full(n, PLACE_M),
            colonies=self.colonies, susceptible=self.size, infectious=np.ones(n), owner=self.owner,
            start=np.zeros(n, np.int64), stop=np.where(found, np.maximum(removed, day + 1), days), removed=removed,
            still=np.full(n, days), atom_weight=np.full(n, ATOM_DAYS), atom_hazard=np.zeros(n), reporting=np.ones(n),
            found_how=self.how.copy(), found_day=day, found_opened=np.where(self.how == 1, np.maximum(self.opened, 1), self.colonies),
            found_present=self.colonies, flight=self.flight[:days], looked=self.looked[:days],
            curves=curves_of(Disease.AFB, days),
            visits=Visits(node=node, day=rows[:, 1].astype(np.int64), opened=rows[:, 2], present=rows[:, 3],
                          kind=np.zeros(len(rows), np.int64)),
            kernel=Kernel.EXPONENTIAL, density_per_m2=float(self.size.sum()) / self.side_m**2,
        )  # fmt: skip

    def columns(self) -> np.ndarray:
        """Return what the inspector's rule knows of every apiary: distance, keeper, visits, size; shape (n, 6)."""
        near = self.away[self.is_found].min(axis=0)
        number = (np.exp(-self.away[self.is_found] / 1500)).sum(axis=0)
        visited = np.isin(np.arange(self.n), [row[0] for row in self.visits])
        keeper = np.isin(self.owner, self.owner[self.is_found])
        return np.stack(
            [np.exp(-near / 1500), np.exp(-near / 5000), np.log1p(number), keeper, visited, self.size], axis=1
        )


def courses(seed: int, district: District, truth: Truth | None = None) -> Iterator[Course]:
    """Yield outbreak after outbreak, each followed some days behind its first finding; parameters from the priors."""
    rng = np.random.default_rng(seed)
    low, high = district.after
    while True:
        course = Course(rng, district, truth or Truth())
        while course.index_day is None and course.day < district.days - low:
            course.advance(course.day + 1)
        index = course.index_day
        if index is None or index < district.earliest:
            continue
        end = index + int(rng.integers(low, high + 1))
        if end > district.days:
            continue
        if low < high:
            course.advance(end)
        yield course


WRONG = {
    "kernel": Truth(kernel=power_law),
    "reporting": Truth(report=2.0),
    "incubation": Truth(signs=lognormal_days),
    "everything": Truth(kernel=power_law, signs=lognormal_days, report=0.6, sensitivity=0.85, frailty=0.7),
}
"""What the sampler may be wrong about, and all of it at once."""
