"""Calibration on simulated outbreaks whose truth is known, from a simulator that shares no code with the sampler.

`Outbreak` walks day by day: infection, signs, reports by keepers, removal, and visits in a ring round each finding.
With everything drawn from the priors this is simulation-based calibration (Talts et al. 2018, arXiv 1804.06788).
`make check-slow` runs 200 outbreaks and prints the reliability table; the gating run has a handful. Outbreaks are chosen
on data only (at least one finding), never on what is hidden.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import pytest
from scipy import stats

from broodsweep.constants import Disease
from broodsweep.spread import Kernel, Settings, priors_of
from broodsweep.spread.draws import collect
from broodsweep.spread.engine import sample
from broodsweep.spread.incubation import curves_of
from broodsweep.spread.priors import Slot, draw_parameters
from broodsweep.spread.scene import Scene, Visits, world_of

DAYS, NODES, SIDE_M, ATOM_DAYS = 700, 120, 14_000.0, 200.0
GROWTH, SHAPE_DAYS = 1 / 120, (1.5, 60.0)
SETTINGS = Settings(
    chains=4, threads=2, warm_sweeps=2500, batch_sweeps=1500, least_batches=3, most_batches=6, updates=25
)


def year(days):
    month = (np.arange(days) // 30.4 + 3).astype(int) % 12
    return (
        np.array([0, 0, 0.25, 1, 1, 1, 1, 1.6, 1.6, 0.5, 0, 0])[month],
        np.array([0.05, 0.05, 0.3, 1, 1, 1, 1, 1, 1, 0.3, 0.05, 0.05])[month],
    )


@dataclass
class Outbreak:
    """A simulated outbreak: the scene that the sampler gets, and who is infected today and not found."""

    scene: Scene
    hidden: np.ndarray
    theta: np.ndarray
    distance_m: np.ndarray
    visited: np.ndarray
    same_keeper: np.ndarray


def overlooked(theta, age, present, opened):
    return (1 - theta[Slot.SENSITIVITY] * opened / present) ** (
        1 + (present - 1) * (1 - np.exp(-GROWTH * age))
    )


def simulate(rng, theta, kernel, contact, incubation):
    """Return an outbreak, or None when nobody was found in the last year but the last fortnight."""
    centres = rng.uniform(0, SIDE_M, (12, 2))
    at = np.clip(centres[rng.integers(0, 12, NODES)] + rng.normal(0, 1500, (NODES, 2)), 0, SIDE_M)
    colonies = 1.0 + rng.poisson(4, NODES)
    size = np.sqrt(colonies / 5)
    owner = rng.integers(0, int(NODES * 0.7), NODES)
    away = np.sqrt(((at[:, None] - at[None]) ** 2).sum(2) + 2 * 100.0**2 / 6)
    rate = contact * kernel(away) + theta[Slot.KEEPER] * (owner[:, None] == owner[None])
    np.fill_diagonal(rate, 0.0)
    flight, looked = year(DAYS)
    never = 10**6
    infected, signs, found, gone = (np.full(NODES, never) for _ in range(4))
    how = np.zeros(NODES, np.int64)
    opened_at = np.zeros(NODES)
    start = rng.random(NODES) < -np.expm1(-theta[Slot.BACKGROUND] * size * ATOM_DAYS)
    infected[start] = -1
    for j in np.flatnonzero(start):
        signs[j] = 0 if rng.random() < 1 - 90 / 400 else int(incubation(rng) * rng.random())
    visits, index_day, end = [], None, DAYS
    queue_seen = np.zeros(NODES, bool)
    for t in range(DAYS):
        if t >= end:
            break
        # Visits first, then reports, then infection: the order of the likelihood.
        if index_day is not None and t > index_day + 2:
            near = away[found < t].min(axis=0)
            order = [
                j for j in np.argsort(near) if near[j] < 3000 and not queue_seen[j] and found[j] == never
            ][:4]
            for j in order:
                queue_seen[j] = True
                opened = np.ceil(colonies[j] * rng.uniform(0.6, 1.0))
                if signs[j] <= t and rng.random() > overlooked(theta, t - signs[j], colonies[j], opened):
                    found[j], how[j], gone[j], opened_at[j] = t, 1, t + 4, opened
                else:
                    visits.append((j, t, opened, colonies[j], 0))
        clinical = (signs <= t) & (found == never)
        told = clinical & (rng.random(NODES) < -np.expm1(-theta[Slot.REPORT] * looked[t]))
        for j in np.flatnonzero(told):
            found[j], how[j], gone[j] = t, 2, t + 4
        if index_day is None and (found < never).any():
            index_day = t
            if t < 330:
                return None
            end = min(DAYS, t + int(rng.integers(14, 61)))
        giving = np.where((infected < t) & (t < gone), np.where(t < signs, theta[Slot.SILENT], 1.0), 0.0)
        pressure = size * flight[t] * (theta[Slot.BACKGROUND] + giving @ rate)
        new = (infected == never) & (rng.random(NODES) < -np.expm1(-pressure))
        infected[new] = t
        for j in np.flatnonzero(new):
            signs[j] = t + int(incubation(rng))
    if index_day is None or end > DAYS:
        return None
    return _as_outbreak(
        at,
        colonies,
        size,
        owner,
        away,
        found,
        how,
        gone,
        opened_at,
        infected,
        visits,
        flight,
        looked,
        theta,
        end,
    )


def _as_outbreak(
    at,
    colonies,
    size,
    owner,
    away,
    found,
    how,
    gone,
    opened_at,
    infected,
    visits,
    flight,
    looked,
    theta,
    days,
):
    n, is_found = NODES, how > 0
    rows = np.array(visits, float).reshape(-1, 5)
    keep = found[rows[:, 0].astype(int)] > rows[:, 1]
    rows = rows[keep]
    removed = np.where(is_found, np.minimum(gone, days), days)
    day = np.where(is_found, found, 0)
    scene = Scene(
        days=days, east_m=at[:, 0], north_m=at[:, 1], precision_m=np.full(n, 100.0), colonies=colonies, susceptible=size,
        infectious=np.ones(n), owner=owner, start=np.zeros(n, np.int64),
        stop=np.where(is_found, np.maximum(removed, day + 1), days), removed=removed, still=np.full(n, days),
        atom_weight=np.full(n, ATOM_DAYS), atom_hazard=np.zeros(n), reporting=np.ones(n), found_how=how, found_day=day,
        found_opened=np.where(how == 1, np.maximum(opened_at, 1), colonies), found_present=colonies, flight=flight[:days],
        looked=looked[:days], curves=curves_of(Disease.AFB, days),
        visits=Visits(node=rows[:, 0].astype(np.int64), day=rows[:, 1].astype(np.int64), opened=rows[:, 2],
                      present=rows[:, 3], kind=rows[:, 4].astype(np.int64)),
        kernel=Kernel.EXPONENTIAL, density_per_m2=float(size.sum()) / SIDE_M**2,
    )  # fmt: skip
    visited = np.zeros(n, bool)
    visited[rows[:, 0].astype(int)] = True
    return Outbreak(
        scene=scene, hidden=(infected < days) & ~is_found, theta=theta, distance_m=away[is_found].min(axis=0),
        visited=visited, same_keeper=np.isin(owner, owner[is_found]),
    )  # fmt: skip


def priors():
    """Priors of the product; exponential kernel, so no far part, and enough background to have outbreaks at all."""
    changed = {
        Slot.SHAPE: {"family": "fixed", "first": 0.0},
        Slot.BACKGROUND: {"first": 1e-5},
        Slot.MOVE: {"family": "fixed", "first": 0.3},
    }
    return tuple(replace(row, **changed.get(row.slot, {})) for row in priors_of(Disease.AFB))


def make(seed, kernel_of=None, incubation=None, report=1.0):
    """Return outbreak after outbreak with parameters from the priors."""
    rng = np.random.default_rng(seed)
    while True:
        theta = draw_parameters(priors(), rng)
        reach = theta[Slot.REACH]
        area = 2 * np.pi * reach**2 * (1 - (1 + 10_000 / reach) * np.exp(-10_000 / reach))
        contact = theta[Slot.CASES] / (NODES * 0.97 / SIDE_M**2 * 150.0 * area)
        kernel = (
            kernel_of(reach)
            if kernel_of
            else (lambda d, reach=reach: np.where(d <= 10_000, np.exp(-d / reach), 0))
        )
        theta[Slot.REPORT] *= report
        made = simulate(rng, theta, kernel, contact, incubation or (lambda rng: rng.gamma(*SHAPE_DAYS)))
        if made is not None:
            yield made


def score(count, seed, settings=SETTINGS, **how):
    """Run outbreaks; return figures, truth, the outbreak of each, posterior ranks, and the rule's columns."""
    figures, truth, which, ranks, columns = [], [], [], [], []
    source = make(seed, **how)
    for k in range(count):
        outbreak = next(source)
        w = world_of(outbreak.scene)
        chains, near, far, _ = sample(w, priors(), 100 * seed + k, settings)
        draws = collect(chains, near, far, settings.draws)
        open_ = outbreak.scene.found_how == 0
        figures.append(draws.chance[open_])
        truth.append(outbreak.hidden[open_])
        which.append(np.full(open_.sum(), k))
        columns.append(
            np.stack([np.exp(-outbreak.distance_m / 1500), np.exp(-outbreak.distance_m / 5000), outbreak.same_keeper,
                      outbreak.visited, np.sqrt(outbreak.scene.colonies)], axis=1)[open_]
        )  # fmt: skip
        rank = {row.name: float((draws.theta[:, row.slot] < outbreak.theta[row.slot]).mean())
                for row in priors() if row.family != "fixed"}  # fmt: skip
        total = outbreak.hidden.sum()
        below, same = (draws.unseen < total).mean(), (draws.unseen == total).mean()
        rank["unseen"] = float(below + np.random.default_rng(k).random() * same)
        ranks.append(rank)
    return (
        np.concatenate(figures),
        np.concatenate(truth),
        np.concatenate(which),
        ranks,
        np.concatenate(columns),
    )


BINS = (0.0, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 1.0)


def reliability(figures, truth, which):
    """Return bin by bin: from, number, mean figure, observed share, z clustered by outbreak."""
    table = []
    for low, high in pairwise(BINS):
        inside = (figures >= low) & (figures < high)
        if inside.sum() < 20:
            continue
        excess = np.bincount(which[inside], weights=truth[inside] - figures[inside])
        z = excess.sum() / np.sqrt((excess**2).sum())
        table.append((low, int(inside.sum()), figures[inside].mean(), truth[inside].mean(), z))
    return table


def log_score(p, truth):
    p = np.clip(p, 1e-4, 1 - 1e-4)
    return float(-np.where(truth, np.log(p), np.log1p(-p)).mean())


def fitted_rule(columns, truth, which):
    """Figures of a logistic rule on distance, keeper, visits, size; fitted on one half of outbreaks, used on the other."""
    from scipy.optimize import minimize

    x = np.column_stack([np.ones(len(columns)), columns])
    result = np.zeros(len(truth))
    for half in (0, 1):
        train = which % 2 == half
        fit = minimize(
            lambda b, x=x[train], y=truth[train]: float(np.logaddexp(0, x @ b).sum() - (x @ b)[y].sum() + 0.01 * (b @ b)),
            np.zeros(x.shape[1]), method="BFGS",
        )  # fmt: skip
        result[~train] = 1 / (1 + np.exp(-(x[~train] @ fit.x)))
    return result


def report(name, figures, truth, which, ranks, columns):
    print(
        f"\n{name}: {which.max() + 1} outbreaks, {truth.sum()} hidden, mean figure {figures.mean():.4f}, observed {truth.mean():.4f}"
    )
    for row in reliability(figures, truth, which):
        print("from {:.3f}: n {:6d}, mean figure {:.4f}, observed {:.4f}, clustered z {:+.1f}".format(*row))
    rule = fitted_rule(columns, truth, which)
    print(f"Brier {np.mean((figures - truth) ** 2):.4f} (rule {np.mean((rule - truth) ** 2):.4f}); "
          f"log score {log_score(figures, truth):.4f} (rule {log_score(rule, truth):.4f})")  # fmt: skip
    for key in ranks[0]:
        values = np.array([rank[key] for rank in ranks])
        inside = [np.mean(np.abs(values - 0.5) < share / 2) for share in (0.5, 0.8, 0.95)]
        p = stats.kstest(values, "uniform").pvalue
        print(
            f"{key}: coverage of 50, 80, 95 %: {inside[0]:.2f} {inside[1]:.2f} {inside[2]:.2f}; KS p {p:.3f}"
        )


def test_a_handful_of_outbreaks_is_not_grossly_off():
    """Eight outbreaks with fixed seeds: total hidden against total of figures, and ranks not all at one end."""
    short = replace(SETTINGS, warm_sweeps=800, batch_sweeps=600, least_batches=2, most_batches=2, chains=2)
    figures, truth, which, ranks, _ = score(8, 4, short)
    excess = np.bincount(which, weights=truth - figures)
    assert abs(excess.sum()) < 3.5 * np.sqrt((excess**2).sum())
    unseen = np.array([rank["unseen"] for rank in ranks])
    assert stats.kstest(unseen, "uniform").pvalue > 0.001
    assert np.all((figures >= 0) & (figures <= 1))


@pytest.mark.slow
def test_two_hundred_outbreaks_from_the_priors():
    result = score(200, 7)
    report("from the priors", *result)
    figures, truth, which, ranks, columns = result
    assert all(abs(row[-1]) < 3 for row in reliability(figures, truth, which))
    for key in ranks[0]:
        assert stats.kstest([rank[key] for rank in ranks], "uniform").pvalue > 0.001, key
    assert log_score(figures, truth) < log_score(fitted_rule(columns, truth, which), truth)


@pytest.mark.slow
@pytest.mark.parametrize("wrong", ["kernel", "reporting", "incubation"])
def test_under_a_wrong_model_is_reported(wrong):
    """Reported, not gated but for the sense of it: better than the constant rate."""
    how = {
        "kernel": {"kernel_of": lambda reach: lambda d: (1 + d / reach) ** -3.0},
        "reporting": {"report": 2.0},
        "incubation": {"incubation": lambda rng: rng.lognormal(np.log(60), 0.6)},
    }[wrong]
    result = score(60, 9, **how)
    report(f"wrong {wrong}", *result)
    figures, truth, *_ = result
    assert log_score(figures, truth) < log_score(np.full(len(truth), truth.mean()), truth)
