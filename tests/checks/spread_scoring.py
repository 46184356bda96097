"""Run outbreaks through the sampler and score its figures against the truth and against a fitted rule.

Everything is clustered by outbreak: figures of one outbreak share its fate. Several processes share the outbreaks when
asked; each outbreak has its own seeds, so that the result does not depend on how many there are.
"""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from functools import partial
from itertools import pairwise
from typing import Any

import numpy as np
from scipy import stats
from scipy.optimize import minimize
from tests.checks.spread_outbreaks import Course, District, Truth, courses

from broodsweep.spread import Prior, Settings
from broodsweep.spread.draws import collect, none_left
from broodsweep.spread.engine import sample
from broodsweep.spread.scene import world_of

SETTINGS = Settings(chains=2, threads=1, warm_sweeps=1500, batch_sweeps=1000, least_batches=2, most_batches=6)
"""Shorter than the product's own, for many runs; the same limits of error and agreement end a run. Four chains of twice
the length gave the same score on the same hundred outbreaks (0.1710 against 0.1714)."""
BINS = (0.0, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 1.0)
SHARES = (0.5, 0.8, 0.95)


@dataclass(frozen=True, kw_only=True)
class Scored:
    """Figures and truth of many outbreaks, apiary by apiary; ``which`` is the outbreak.

    ``ranks`` by name and outbreak: share of the posterior below the truth; ``inside`` the same for whether the
    50, 80 and 95 % ranges hold it. ``none`` and ``is_clear``: chance that nothing is left, and whether it was so.
    """

    figures: np.ndarray
    truth: np.ndarray
    which: np.ndarray
    columns: np.ndarray
    names: tuple[str, ...]
    ranks: np.ndarray
    none: np.ndarray
    is_clear: np.ndarray
    unseen: np.ndarray
    rhat: np.ndarray
    mcse: np.ndarray

    @property
    def outbreaks(self) -> int:
        """How many outbreaks there are."""
        return len(self.none)


def run_one(
    course: Course,
    seed: int,
    *,
    priors: tuple[Prior, ...] | Callable[[Course], tuple[Prior, ...]],
    settings: Settings,
) -> dict[str, Any]:
    """Return the figures of one outbreak with its truth."""
    priors = priors(course) if callable(priors) else priors
    w = world_of(course.scene())
    chains, near, far, state = sample(w, priors, seed, settings)
    draws = collect(chains, near, far, settings.draws)
    open_ = ~course.is_found
    total = course.hidden.sum()
    below, same = (draws.unseen < total).mean(), (draws.unseen == total).mean()
    free = [row for row in priors if row.family != "fixed"]
    ranks = [float((draws.theta[:, row.slot] < course.theta[row.slot]).mean()) for row in free]
    # A whole number is ranked by chance within its ties.
    ranks.append(float(below + np.random.default_rng(seed).random() * same))
    return {
        "names": (*(row.name for row in free), "unseen"), "figures": draws.chance[open_], "truth": course.hidden[open_], "columns": course.columns()[open_],
        "ranks": np.array(ranks), "none": np.array(none_left(chains)[0]), "is_clear": np.array(total == 0),
        "unseen": np.array([draws.unseen.mean(), total]), "rhat": np.array(state.rhat_max),
        "mcse": np.array(state.mcse_max),
    }  # fmt: skip


def _share_of(
    part: int,
    parts: int,
    count: int,
    seed: int,
    district: District,
    truth: Truth,
    task: Callable[[Course, int], Any],
) -> list[Any]:
    source = courses(seed, district, truth)
    made = []
    for k in range(count):
        course = next(source)
        if k % parts == part:
            made.append(task(course, 1000 * seed + k))
    return made


def each_outbreak(
    task: Callable[[Course, int], Any],
    count: int,
    seed: int,
    district: District,
    truth: Truth | None = None,
    processes: int | None = None,
) -> list[Any]:
    """Return what the task makes of each outbreak and its seed, in order; outbreaks are shared among processes."""
    parts = min(count, processes or min(2, os.cpu_count() or 1))
    more = (count, seed, district, truth or Truth(), task)
    if parts == 1:
        return _share_of(0, 1, *more)
    with multiprocessing.get_context("spawn").Pool(parts) as pool:
        lists = pool.starmap(_share_of, [(part, parts, *more) for part in range(parts)])
    return [lists[k % parts][k // parts] for k in range(count)]


def score(
    count: int,
    seed: int,
    district: District,
    truth: Truth | None = None,
    *,
    priors: tuple[Prior, ...] | Callable[[Course], tuple[Prior, ...]] | None = None,
    settings: Settings = SETTINGS,
    processes: int | None = None,
) -> Scored:
    """Run outbreaks and return their scores; ``priors`` of the sampler may differ from the district's."""
    task = partial(run_one, priors=priors or district.priors, settings=settings)
    rows = each_outbreak(task, count, seed, district, truth, processes)
    sizes = [len(row["truth"]) for row in rows]
    whole = {name: np.concatenate([row[name] for row in rows]) for name in ("figures", "truth", "columns")}
    single = ("none", "is_clear", "unseen", "rhat", "mcse", "ranks")
    each = {name: np.stack([row[name] for row in rows]) for name in single}
    return Scored(**whole, **each, which=np.repeat(np.arange(count), sizes), names=rows[0]["names"])


@dataclass(frozen=True, kw_only=True)
class Followed:
    """An outbreak followed until the chance that nothing is left was shown to be enough; None where it never was."""

    after_days: int | None
    shown: float
    is_clear: bool
    looks: int


def follow(
    course: Course,
    seed: int,
    *,
    priors: tuple[Prior, ...],
    settings: Settings,
    target: float,
    every: int = 60,
) -> Followed:
    """Follow an outbreak from its first finding, looking every so many days, until the target is shown."""
    assert course.index_day is not None
    shown, looks = 0.0, 0
    for day in range(course.index_day + 60, course.index_day + course.district.after[0], every):
        course.advance(day)
        chains, *_ = sample(world_of(course.scene()), priors, seed, settings)
        shown, looks = none_left(chains)[0], looks + 1
        if shown >= target:
            break
    return Followed(
        after_days=day - course.index_day if shown >= target else None, shown=shown,
        is_clear=not course.hidden.any(), looks=looks,
    )  # fmt: skip


def at_the_truth(course: Course) -> tuple[Prior, ...]:
    """Return priors that know the parameters: what no sampler can beat."""
    return tuple(
        replace(row, family="fixed", first=float(course.theta[row.slot]), second=0.0)
        for row in course.district.priors
    )


def reliability(scored: Scored) -> list[tuple[float, int, float, float, float]]:
    """Return bin by bin: from, number, mean figure, observed share, z clustered by outbreak."""
    table = []
    for low, high in pairwise(BINS):
        inside = (scored.figures >= low) & (scored.figures < high)
        if inside.sum() < 20:
            continue
        truth, figures = scored.truth[inside], scored.figures[inside]
        z = clustered_z(truth - figures, scored.which[inside])
        table.append((low, int(inside.sum()), float(figures.mean()), float(truth.mean()), z))
    return table


def clustered_z(excess: np.ndarray, which: np.ndarray) -> float:
    """Return the sum of an excess over its standard error when outbreaks are independent and what is in one is not."""
    by_outbreak = np.bincount(which, weights=excess)
    spread = np.sqrt((by_outbreak**2).sum())
    return float(by_outbreak.sum() / spread) if spread > 0 else 0.0


def log_losses(p: np.ndarray, truth: np.ndarray) -> np.ndarray:
    """Return minus the log of the chance given to what happened; chances are kept within 1e-4 of 0 and 1."""
    p = np.clip(p, 1e-4, 1 - 1e-4)
    return np.where(truth, -np.log(p), -np.log1p(-p))


def fitted_rule(scored: Scored) -> np.ndarray:
    """Return figures of a logistic rule on distance, keeper, visits, size, fitted to the other half of the outbreaks."""
    x = np.column_stack([np.ones(len(scored.truth)), scored.columns])
    result = np.zeros(len(x))
    for half in (0, 1):
        train = scored.which % 2 == half
        here, seen = x[train], scored.truth[train]

        def loss(b: np.ndarray, here: np.ndarray = here, seen: np.ndarray = seen) -> float:
            return float(np.logaddexp(0, here @ b).sum() - (here @ b)[seen].sum() + 0.01 * (b @ b))

        result[~train] = 1 / (
            1 + np.exp(-(x[~train] @ minimize(loss, np.zeros(x.shape[1]), method="BFGS").x))
        )
    return result


def better_by(
    ours: np.ndarray, other: np.ndarray, which: np.ndarray, seed: int = 0
) -> tuple[float, float, float]:
    """Return by which share our losses are less than others, with a 95 % interval over outbreaks drawn anew."""
    a, b = np.bincount(which, weights=ours), np.bincount(which, weights=other)
    pick = np.random.default_rng(seed).integers(0, len(a), (2000, len(a)))
    low, high = np.quantile(1 - a[pick].sum(1) / b[pick].sum(1), [0.025, 0.975])
    return float(1 - a.sum() / b.sum()), float(low), float(high)


def coverage(ranks: np.ndarray) -> tuple[float, ...]:
    """Return how often the 50, 80 and 95 % ranges hold the truth."""
    return tuple(float(np.mean(np.abs(ranks - 0.5) < share / 2)) for share in SHARES)


def within_band(held: float, share: float, runs: int, sure: float = 0.999) -> bool:
    """Say whether a coverage may be chance: inside the binomial range of that certainty."""
    low, high = stats.binom.interval(sure, runs, share)
    return bool(low <= held * runs <= high)


def area_under(figures: np.ndarray, truth: np.ndarray) -> float:
    """Return the chance that an infected apiary has a higher figure than one that is not."""
    rank = stats.rankdata(figures)
    n, m = int(truth.sum()), int((~truth).sum())
    return float((rank[truth].sum() - n * (n + 1) / 2) / (n * m))


def written(name: str, scored: Scored) -> str:
    """Return the whole report in lines."""
    rule = fitted_rule(scored)
    truth, which = scored.truth, scored.which
    ours, other = log_losses(scored.figures, truth), log_losses(rule, truth)
    flat = log_losses(np.full(len(truth), truth.mean()), truth)
    gain, low, high = better_by(ours, other, which)
    z = clustered_z(truth - scored.figures, which)
    lines = [
        f"{name}: {scored.outbreaks} outbreaks, {len(truth)} apiaries, {truth.sum()} hidden; mean figure "
        f"{scored.figures.mean():.4f}, observed {truth.mean():.4f}, clustered z {z:+.1f}",
        f"log score {ours.mean():.4f}, rule {other.mean():.4f}, constant {flat.mean():.4f}: {gain:+.1%} against the rule "
        f"({low:+.1%} to {high:+.1%})",
        f"Brier {np.mean((scored.figures - truth) ** 2):.5f}, rule {np.mean((rule - truth) ** 2):.5f}; area under the "
        f"curve {area_under(scored.figures, truth):.3f}, rule {area_under(rule, truth):.3f}",
        f"R-hat at most 1.05 in {np.mean(scored.rhat < 1.05):.0%}, error at most 0.01 in {np.mean(scored.mcse < 0.01):.0%}",
    ]
    lines += [
        "from {:.3f}: n {:6d}, mean figure {:.4f}, observed {:.4f}, clustered z {:+.1f}".format(*row)
        for row in reliability(scored)
    ]
    for low, high in pairwise((0.0, 0.1, 0.3, 0.5, 0.7, 0.85, 0.95, 1.0001)):
        inside = (scored.none >= low) & (scored.none < high)
        if inside.any():
            lines.append(
                f"nothing left from {low:.2f}: n {inside.sum():4d}, mean {scored.none[inside].mean():.3f}, "
                f"observed {scored.is_clear[inside].mean():.3f}"
            )
    for k, key in enumerate(scored.names):
        held = coverage(scored.ranks[:, k])
        p = stats.kstest(scored.ranks[:, k], "uniform").pvalue
        lines.append(
            f"{key}: 50, 80, 95 % ranges hold {held[0]:.2f} {held[1]:.2f} {held[2]:.2f}; KS p {p:.3f}"
        )
    return "\n".join(lines)


def keep(scored: Scored, path: str) -> None:
    """Write the scores to a file."""
    np.savez_compressed(path, **{row.name: getattr(scored, row.name) for row in fields(scored)})
