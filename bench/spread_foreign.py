"""Figures under a foreign model: outbreaks of a simulator that is deliberately not the sampler's, and their score.

Weekly steps instead of days; contact by a Student-like kernel without a cut, so that some jumps are tens of kilometres
long; keepers from one to dozens of apiaries; most goods move unrecorded; lognormal days until signs; some apiaries
infect ten times as much as others; four keepers of ten never report; inspectors see 0.55 to 0.9 of the sick colonies and
open a third of them or all; several introductions. What is scored is `hidden` as a user gets it.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import numpy as np

WEEKS = 104
NEVER = 10_000


def outbreak(seed: int) -> tuple[Any, date, np.ndarray] | None:
    """Return a ground, the day it stands at and who is infected that day and not found; None when nothing was found."""
    rng = np.random.default_rng([seed, 7])
    n = int(rng.integers(120, 350))
    land = _land(rng, n)
    infected, _, found, visits, moves, today = _course(rng, n, land)
    if not (found < NEVER).any():
        return None
    return _ground(rng, n, land, infected, found, visits, moves, today)


def _land(rng: np.random.Generator, n: int) -> dict[str, np.ndarray]:
    side = 1000.0 * np.sqrt(n / rng.choice([0.2, 0.5, 1.0]))
    centres = rng.uniform(0, side, (max(4, n // 12), 2))
    at = centres[rng.integers(0, len(centres), n)] + rng.standard_t(3, (n, 2)) * 900.0
    keeper = (rng.pareto(0.9, n) * 3).astype(int) % int(n * 0.8)
    hubs = rng.random(n) < 0.6
    keeper[hubs] = int(n * 0.8) + np.arange(n)[hubs]
    colonies = np.minimum(1 + rng.geometric(0.22, n), 40)
    return {
        "at": at, "keeper": keeper, "colonies": colonies, "strength": rng.gamma(0.5, 2.0, n),
        "reports": np.where(rng.random(n) < 0.4, 0.0, rng.uniform(0.05, 0.2, n)),
    }  # fmt: skip


def _course(rng: np.random.Generator, n: int, land: dict[str, np.ndarray]) -> tuple[Any, ...]:
    d = np.hypot(*(land["at"][:, None] - land["at"][None]).transpose(2, 0, 1))
    near = (1 + (d / rng.uniform(500, 1500)) ** 2) ** -1.4
    np.fill_diagonal(near, 0.0)
    near *= rng.uniform(0.5, 2.0) / 26 / near.sum(axis=1).mean()
    own = (land["keeper"][:, None] == land["keeper"][None]) & ~np.eye(n, dtype=bool)
    own_rate = rng.uniform(0.003, 0.02)
    infected, signs, found, gone = (np.full(n, NEVER) for _ in range(4))
    visits: list[tuple[int, int, int, int, bool]] = []
    moves: list[tuple[int, int, int]] = []
    first_case, wait = NEVER, int(rng.integers(3, 14))
    start = int(rng.integers(20, WEEKS - 30))
    for week in range(WEEKS):
        if week == start or (week > start and rng.random() < 0.01):
            _infect(rng, int(rng.integers(n)), week, infected, signs)
        season = max(0.0, 0.55 + 0.75 * np.sin(2 * np.pi * (week + WEEKS % 52 - 5) / 52))
        giving = ((infected < week) & (week < gone)) * land["strength"] * np.where(signs <= week, 1.0, 0.25)
        pressure = season * (giving @ near + own_rate * (giving @ own))
        for j in np.flatnonzero((infected == NEVER) & (rng.random(n) < -np.expm1(-pressure))):
            _infect(rng, int(j), week, infected, signs)
        for _ in range(rng.poisson(n * 0.004 * (season > 0))):
            a, b = (int(k) for k in rng.integers(0, n, 2))
            if infected[a] < week < gone[a] and infected[b] == NEVER and a != b and rng.random() < 0.5:
                _infect(rng, b, week, infected, signs)
            if a != b and rng.random() < 0.4:
                moves.append((week, a, b))
        sick = (signs <= week) & (week < gone) & (found == NEVER)
        for j in np.flatnonzero(sick & (rng.random(n) < land["reports"] * (season > 0.2))):
            _look(rng, int(j), week, land, signs, found, visits, True)
        if rng.random() < 0.6 and season > 0.2:
            _look(rng, int(rng.integers(n)), week, land, signs, found, visits, False)
        if (found < NEVER).any() and season > 0.0:
            first_case = min(first_case, week)
            order = np.argsort(d[:, found < NEVER].min(axis=1) - 4000.0 * own[:, found < NEVER].any(axis=1))
            seen = {j for w, j, *_ in visits if w > week - 12}
            for j in [int(k) for k in order if int(k) not in seen and found[k] == NEVER][:8]:
                _look(rng, j, week, land, signs, found, visits, False)
        gone[(found < week) & (gone == NEVER)] = week
        if week >= first_case + wait:
            break
    return infected, signs, found, visits, moves, week


def _infect(rng: np.random.Generator, j: int, week: int, infected: np.ndarray, signs: np.ndarray) -> None:
    if infected[j] == NEVER:
        infected[j], signs[j] = week, week + int(np.ceil(rng.lognormal(np.log(7.0), 0.7)))


def _look(
    rng: np.random.Generator, j: int, week: int, land: dict[str, np.ndarray], signs: np.ndarray, found: np.ndarray,
    visits: list[tuple[int, int, int, int, bool]], called: bool,
) -> None:  # fmt: skip
    n = int(land["colonies"][j])
    opened = n if called or rng.random() < 0.6 else max(1, n // 3)
    sick = min(n, 1 + rng.poisson(0.08 * max(week - signs[j], 0))) if signs[j] <= week else 0
    hit = rng.hypergeometric(sick, n - sick, opened) if sick else 0
    seen = int(rng.binomial(hit, rng.uniform(0.55, 0.9)))
    if called and sick and not seen:
        seen = 1
    visits.append((week, j, opened, seen, called))
    if seen and found[j] == NEVER:
        found[j] = week


def _ground(
    rng: np.random.Generator, n: int, land: dict[str, np.ndarray], infected: np.ndarray, found: np.ndarray,
    visits: list[tuple[int, int, int, int, bool]], moves: list[tuple[int, int, int]], week: int,
) -> tuple[Any, date, np.ndarray]:  # fmt: skip
    from broodsweep.constants import Clearance, Disease, Goods
    from broodsweep.geo import Place
    from broodsweep.register import Apiary, Ground, Move, Removal, Visit

    on = date(2026, 8, 1) - timedelta(weeks=WEEKS - 1 - week)
    day = {k: on - timedelta(weeks=week - k) for k in range(week + 1)}
    side = rng.choice([0.0, 100.0, 1000.0])
    at = land["at"]
    if side:
        at = (np.floor(at / side) + 0.5) * side
    rows = tuple(
        Apiary(
            apiary=f"A{k:03d}",
            place=Place(
                longitude=float(-40 + at[k, 0] / 65_400), latitude=float(54 + at[k, 1] / 111_132),
                precision_m=float(max(side, 10.0)),
            ),
            colonies=int(land["colonies"][k]),
            keeper=None if rng.random() < 0.1 else f"K{land['keeper'][k]}",
        )
        for k in range(n)
    )  # fmt: skip
    ground = Ground(
        apiaries=rows,
        visits=tuple(
            Visit(
                visit=f"V{k}", apiary=f"A{j:03d}", visited_on=day[w], colonies_inspected=opened, colonies_confirmed=seen,
                colonies_present=int(land["colonies"][j]), disease=Disease.AFB if seen else None,
                purpose="report" if called else None,
            )
            for k, (w, j, opened, seen, called) in enumerate(visits)
        ),
        removals=tuple(
            Removal(removed_on=day[found[j] + 1], apiary=f"A{j:03d}", how=Clearance.DESTROYED, disease=Disease.AFB, colonies=int(land["colonies"][j]))
            for j in np.flatnonzero(found < week)
        ),
        moves=tuple(
            Move(moved_on=day[w], goods=Goods.COLONIES, from_apiary=f"A{a:03d}", to_apiary=f"A{b:03d}", quantity=1.0)
            for w, a, b in moves
        ),
    )  # fmt: skip
    return ground, on, (infected <= week) & (found == NEVER)


def scored(outbreaks: int) -> np.ndarray:
    """Return (outbreak, figure, truth) of every registered apiary that stands and was not found."""
    from broodsweep.constants import Disease
    from broodsweep.spread import Settings, hidden

    short = Settings(chains=2, warm_sweeps=700, batch_sweeps=500, least_batches=3, most_batches=3, draws=300)
    rows: list[tuple[float, float, float]] = []
    seed = done = 0
    while done < outbreaks:
        made, seed = outbreak(seed), seed + 1
        if made is None:
            continue
        done += 1
        run = hidden(made[0], Disease.AFB, made[1], seed=1, settings=short)
        rows += [
            (seed, line.probability, float(truth))
            for line, truth in zip(run.answer.apiaries, made[2], strict=True)
            if line.probability is not None
        ]
    return np.array(rows)


def rows() -> Iterator[dict[str, Any]]:
    """Yield the score against the true rate for everybody, and the mean figure against what came true, by figure."""
    began = time.process_time()
    table = scored(40)
    figure, truth = table[:, 1], table[:, 2]
    rate = truth.mean()
    loss = -np.where(truth > 0, np.log(figure), np.log1p(-figure)).mean()
    flat = -(rate * np.log(rate) + (1 - rate) * np.log1p(-rate))
    yield {
        "what": f"foreign model, 40 outbreaks, log score (other: the true rate for all), {time.process_time() - began:.0f} s",
        "ours": f"{loss:.4f}", "other": f"{flat:.4f}", "ratio": f"{flat / loss:.2f}",
    }  # fmt: skip
    edges = [0.0, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.3, 1.0]
    for low, high in pairwise(edges):
        inside = (figure >= low) & (figure < high)
        if inside.any():
            yield {
                "what": f"foreign model, figures from {low} ({inside.sum()}): mean figure, what came true",
                "ours": f"{figure[inside].mean():.4f}", "other": f"{truth[inside].mean():.4f}",
            }  # fmt: skip
