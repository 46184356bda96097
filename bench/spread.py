"""Measurements of the spread room: updates, answers, neighbour list, re-weighting, first picture."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import numpy as np

ON = date(2026, 7, 8)


def _ground(apiaries: int, cases: int, seed: int = 1, per_km2: float = 0.35) -> Any:
    """Invent a clustered district with some cases in the middle and some clean visits."""
    from broodsweep.constants import Disease
    from broodsweep.geo import Place
    from broodsweep.register import Apiary, Ground, Visit

    rng = np.random.default_rng(seed)
    side = 1000.0 * np.sqrt(apiaries / per_km2)
    centres = rng.uniform(0, side, (max(3, apiaries // 15), 2))
    at = centres[rng.integers(0, len(centres), apiaries)] + rng.normal(0, 1500, (apiaries, 2))
    longitude, latitude = -2 + (at[:, 0] - side / 2) / 65_400, 54 + (at[:, 1] - side / 2) / 111_132
    colonies = 1 + rng.poisson(4, apiaries)
    rows = tuple(
        Apiary(
            apiary=f"A{k:05d}",
            place=Place(longitude=float(longitude[k]), latitude=float(latitude[k]), precision_m=100.0),
            colonies=int(colonies[k]),
            keeper=f"K{rng.integers(0, int(apiaries * 0.7))}",
        )
        for k in range(apiaries)
    )
    order = np.argsort(np.hypot(*(at - at.mean(axis=0)).T))
    visits = []
    for k, number in enumerate(order[: 3 * cases : 3]):
        visits.append(
            Visit(
                visit=f"F{k}", apiary=rows[number].apiary, visited_on=ON - timedelta(days=40 - 3 * k),
                colonies_inspected=rows[number].colonies, colonies_confirmed=1,
                colonies_present=rows[number].colonies, disease=Disease.AFB,
            )
        )  # fmt: skip
    for k, number in enumerate(order[3 * cases : 3 * cases + 60]):
        visits.append(
            Visit(
                visit=f"V{k}", apiary=rows[number].apiary, visited_on=ON - timedelta(days=k // 4),
                colonies_inspected=rows[number].colonies, colonies_confirmed=0, colonies_present=rows[number].colonies,
            )
        )  # fmt: skip
    return Ground(apiaries=rows, visits=tuple(visits))


def _row(what: str, value: float, unit: str, goal: str, note: str = "") -> dict[str, Any]:
    return {"what": f"{what} ({note})" if note else what, "ours": f"{value:.3g} {unit}", "goal": goal}


def _updates() -> dict[str, Any]:
    from broodsweep.constants import Disease
    from broodsweep.spread import Settings, priors_of
    from broodsweep.spread.chain import start_chain
    from broodsweep.spread.data import setup_of
    from broodsweep.spread.running import SHARES, latent, sweep_many
    from broodsweep.spread.scene import world_of

    w = world_of(setup_of(_ground(1000, 8), Disease.AFB, ON, Settings(unregistered=False)).scene)
    chain = start_chain(w, priors_of(Disease.AFB), 1, 0, 30)
    shares = np.array(SHARES)
    sweep_many(w, chain.state, chain.belief, 1500, 30, shares, 0, True)
    latent(w, chain.state, 100, shares)
    began = time.process_time()
    latent(w, chain.state, 200_000, shares)
    each = 200_000 / (time.process_time() - began)
    neighbours = len(w.row) / len(w.node)
    return _row(
        "latent updates per second and core", each, "1/s", "1e6",
        f"{neighbours:.0f} neighbours, {chain.state.counts[0]} infected at the end",
    )  # fmt: skip


def _neighbours() -> dict[str, Any]:
    from broodsweep.spread.distances import rows_within

    rng = np.random.default_rng(2)
    side = 1000.0 * np.sqrt(50_000 / 0.35)
    east, north, none = rng.uniform(0, side, 50_000), rng.uniform(0, side, 50_000), np.zeros(50_000)
    rows_within(east[:100], north[:100], none[:100], 10_000.0)
    began = time.perf_counter()
    rows = rows_within(east, north, none, 10_000.0)
    return _row(
        "neighbour list, 50,000 apiaries", time.perf_counter() - began, "s", "1 s",
        f"{len(rows.node) / 50_000:.0f} neighbours each",
    )  # fmt: skip


def _answer(apiaries: int, cases: int) -> Iterator[dict[str, Any]]:
    from broodsweep.constants import Disease
    from broodsweep.register import Visit
    from broodsweep.spread import Settings, first_look, hidden, reweight, worth

    ground = _ground(apiaries, cases)
    began = time.perf_counter()
    first_look(ground, Disease.AFB, ON)
    yield _row(f"first picture, {apiaries:,} apiaries", time.perf_counter() - began, "s", "0.5 s at 3,000")
    began, cpu = time.perf_counter(), time.process_time()
    run = hidden(ground, Disease.AFB, ON, seed=1, settings=Settings(draws=4000))
    seen = run.answer.diagnostics
    yield _row(
        f"answer, {apiaries:,} apiaries", time.perf_counter() - began, "s", "20 s (30 s for 50,000)",
        f"{time.process_time() - cpu:.0f} s of processor; unseen {run.answer.unseen.mean:.1f}; error "
        f"{seen.mcse_max:.3f}, R-hat {seen.rhat_max:.3f}, converged: {seen.converged}",
    )  # fmt: skip
    began = time.perf_counter()
    top = worth(run)[0].apiary
    yield _row(f"worth of every visit, {apiaries:,} apiaries", time.perf_counter() - began, "s", "")
    visit = Visit(
        visit="new", apiary=top, visited_on=ON, colonies_inspected=4, colonies_confirmed=0, colonies_present=4
    )
    reweight(run, [visit])
    began = time.perf_counter()
    after = reweight(run, [visit])
    yield _row(
        f"re-weighted after a visit, {apiaries:,} apiaries", 1000 * (time.perf_counter() - began), "ms", "20 ms",
        f"{len(run.draws)} draws, effective share {after.effective_share:.2f}",
    )  # fmt: skip


def rows() -> Iterator[dict[str, Any]]:
    """Yield the measurements one by one; times include what the machine does beside."""
    yield _updates()
    yield _neighbours()
    for apiaries, cases in ((300, 3), (1000, 4), (3000, 5), (50_000, 5)):
        yield from _answer(apiaries, cases)


if __name__ == "__main__":
    for row in rows():
        print(row, flush=True)
