"""A seeded invented district in open sea: apiaries in clusters, inspectors' homes, two weeks of weather.

60 x 60 km, 14 clusters and a fifth scattered, 300 apiaries, 6 inspectors, 10 working days: 10 infected, 15 with a
deadline, 12 appointments, 30 keepers who are there half a day, 12 who want one inspector, one day of poor weather,
two absences.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from broodsweep.rounds.model import Candidate, InspectorDay, Prices, Status, Task, Window
from broodsweep.rounds.travel import travel_by_distance

FIRST_ON = date(2026, 6, 1)
"""A Monday."""
CORNER = (-1.0, 58.0)
SIDE_KM = 60.0
KM_PER_DEGREE = (59.1, 111.4)


def district(
    seed: int, *, apiaries: int = 300, inspectors: int = 6, working_days: int = 10, breaks: bool = False
) -> Task:
    """Return the district of a seed as a task."""
    rng = np.random.default_rng(seed)
    spots = _spots(rng, apiaries)
    names = [f"A{number:03d}" for number in range(apiaries)]
    homes = {f"home {k}": rng.uniform(6, SIDE_KM - 6, 2) for k in range(inspectors)}
    days = [FIRST_ON + timedelta(days=7 * (number // 5) + number % 5) for number in range(working_days)]
    points = {
        name: (CORNER[0] + x / KM_PER_DEGREE[0], CORNER[1] + y / KM_PER_DEGREE[1])
        for name, (x, y) in [*zip(names, spots, strict=True), *homes.items()]
    }
    return Task(
        first_on=FIRST_ON,
        candidates=_candidates(rng, names, spots, days, inspectors),
        days=_inspector_days(rng, days, inspectors, breaks=breaks),
        travel=travel_by_distance(points, detour=1.3, speed_km_per_hour=50.0, extra_minutes=2.0),
        prices=Prices(unvisited_days=(days[-1] - days[0]).days + 4.0),
    )


def _spots(rng: np.random.Generator, count: int) -> np.ndarray:
    middles = rng.uniform(5, SIDE_KM - 5, (14, 2))
    spots = middles[rng.integers(0, 14, count)] + rng.normal(0, 2.5, (count, 2))
    scattered = rng.random(count) < 0.2
    spots[scattered] = rng.uniform(0, SIDE_KM, (int(scattered.sum()), 2))
    return np.clip(spots, 0, SIDE_KM)


def _candidates(
    rng: np.random.Generator, names: list[str], spots: np.ndarray, days: list[date], inspectors: int
) -> tuple[Candidate, ...]:
    count = len(names)
    colonies = 1 + rng.geometric(1 / 5.8, count)
    minutes = np.minimum(330, 18 + 12 * colonies)
    cases = spots[rng.choice(count, 3, replace=False)]
    near = np.exp(-np.linalg.norm(spots[:, None] - cases[None], axis=2) / 8.0).max(axis=1)
    worth = np.clip(0.02 + 0.15 * near * rng.uniform(0.3, 1.2, count), 0.0, 1.0)
    order = rng.permutation(count)
    share = count / 300
    cut = np.cumsum([round(n * share) for n in (10, 15, 12, 30, 12)])
    kind = {int(n): int(np.searchsorted(cut, rank, side="right")) for rank, n in enumerate(order)}
    rows = []
    for n, name in enumerate(names):
        extra: dict[str, object] = {}
        if kind[n] == 0:
            extra = {"status": Status.INFECTED}
            worth[n] = max(worth[n], 0.3)
        elif kind[n] == 1:
            extra = {"deadline_on": days[int(rng.integers(1, len(days)))]}
        elif kind[n] == 2:
            on = days[int(rng.integers(0, len(days)))]
            start = int(rng.integers(20, 28)) * 30
            minutes[n] = min(minutes[n], 120)
            extra = {"appointment_on": on, "window": Window(start, start + 30 + int(minutes[n]))}
        elif kind[n] == 3:
            half = Window(8 * 60, 13 * 60) if rng.random() < 0.5 else Window(12 * 60 + 30, 18 * 60)
            minutes[n] = min(minutes[n], 180)
            extra = {"window": half}
        elif kind[n] == 4:
            extra = {"inspectors": frozenset({f"I{int(rng.integers(0, inspectors))}"})}
        rows.append(
            Candidate(apiary=name, worth=float(worth[n]), service_minutes=int(minutes[n]), **extra)  # type: ignore[arg-type]
        )
    return tuple(rows)


def _inspector_days(
    rng: np.random.Generator, days: list[date], inspectors: int, *, breaks: bool
) -> tuple[InspectorDay, ...]:
    poor = int(rng.integers(2, len(days))) if len(days) > 2 else -1
    away = {(int(rng.integers(0, inspectors)), int(rng.integers(0, len(days)))) for _ in range(2)}
    rows = []
    for number, on in enumerate(days):
        opening = Window(11 * 60, 15 * 60) if number == poor else Window(10 * 60, 16 * 60 + 30)
        for k in range(inspectors):
            if (k, number) in away and inspectors > 1:
                continue
            rows.append(
                InspectorDay(
                    inspector=f"I{k}",
                    on=on,
                    start=f"home {k}",
                    end=f"home {k}",
                    work=Window(8 * 60, 18 * 60),
                    opening=opening,
                    break_minutes=30 if breaks else 0,
                    most_commute_minutes=75,
                )
            )
    return tuple(rows)
