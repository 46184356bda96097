"""A real epidemic, under a model made for another: foot-and-mouth disease on the farms of Cumbria, 2001.

Data: Debian package r-cran-sparr 2.2, `fmd`: 410 farms found infected, by day (counted from 1 February 2001), and 1,866
others, with coordinates in kilometres; read from the installed package, no part of this project. On three days the
sampler sees what had been found until then, and its figures for the farms not yet found are scored against what was
found in the days that follow. It is told the time scale of this disease (all of it from memory, written down before the
first run: signs some 9 days after infection, reported some 2 days later, killed 2 days after that), and nothing else of
the outcome. Farms culled as neighbours are not marked in the data: some that were infected are never found.

The rule it is measured against is fitted in the same way as a user could: to what the ten days before the day brought.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import minimize
from tests.checks.r_data import data_file, load
from tests.checks.spread_scoring import area_under, log_losses

from broodsweep.constants import Disease
from broodsweep.spread import Kernel, Settings, pin, priors_of
from broodsweep.spread.draws import collect
from broodsweep.spread.engine import sample
from broodsweep.spread.incubation import Curves
from broodsweep.spread.scene import Scene, world_of

DAYS = (45, 60, 140)
"""Days on which one stands: rising, just behind the peak, and in the long tail."""
AHEAD = 10
"""Days in which what is infected now will mostly have been found."""
SIGNS, REPORT, REMOVAL = (4.0, 2.2), 1 / 2, 2
"""Gamma of the days until signs, reports a day with signs, days until removal."""


def farms():
    data = load(data_file("sparr", "fmd.rda"))["fmd"]
    found, other = data["cases"], data["controls"]
    east, north = (np.concatenate([found[k].values, other[k].values]) * 1000.0 for k in ("x", "y"))
    day = np.concatenate([found["marks"].values.astype(float), np.full(len(other["x"].values), np.inf)])
    return east, north, day


def scene_on(today):
    """Return what was known on a day, found until the day before."""
    east, north, day = farms()
    n = len(day)
    is_found = day < today
    found = np.where(is_found, day, 0).astype(np.int64)
    removed = np.where(is_found, np.minimum(found + REMOVAL, today), today)
    chance = np.diff(stats.gamma.cdf(np.arange(today + 80), SIGNS[0], scale=SIGNS[1]))
    ones, whole = np.ones(n), np.zeros(n, np.int64)
    return Scene(
        days=today, east_m=east, north_m=north, precision_m=np.full(n, 100.0), colonies=5 * ones, susceptible=ones,
        infectious=ones, owner=np.arange(n), start=whole, stop=np.where(is_found, np.maximum(removed, found + 1), today),
        removed=removed, still=np.full(n, today), atom_weight=0 * ones, atom_hazard=0 * ones, reporting=ones,
        found_how=np.where(is_found, 2, 0), found_day=found, found_opened=5 * ones, found_present=5 * ones,
        flight=np.ones(today), looked=np.ones(today), curves=Curves.of(chance, today, 0.5), kernel=Kernel.MIXED,
    )  # fmt: skip


def beliefs():
    """Return the product's priors on this disease's time scale; the unit of `cases` is 150 days of infecting."""
    changed = {
        "background": {"first": 1e-5, "second": 1.0},
        "secondary_apiaries": {"first": 40.0, "second": 1.0},
        "report": {"first": REPORT, "second": 0.5},
        "reach": {"first": 1200.0, "second": 0.6},
    }
    return tuple(
        replace(row, **changed.get(row.name, {}))
        for row in pin(priors_of(Disease.AFB), same_keeper=0.0, moved_colony=0.0, sensitivity=0.8)
    )


def columns(today):
    """Return what a rule of distance knows on a day: the nearest found lately, their number round, all found so far."""
    east, north, day = farms()
    known = day < today
    away = np.hypot(east[:, None] - east[None, known], north[:, None] - north[None, known]) / 1000
    late = np.where(day[known] >= today - 14, 0.0, np.inf)
    nearest = (away + late).min(axis=1)
    return ~known, np.stack(
        [
            np.ones(len(day)), np.exp(-nearest / 1.5), np.exp(-nearest / 5), np.exp(-nearest / 20),
            np.log1p(np.exp(-(away + late) / 3).sum(axis=1)), np.log1p(np.exp(-away / 3).sum(axis=1)),
        ],
        axis=1,
    )  # fmt: skip


def fitted_rule(today):
    """Return the logistic rule's figures for a day, fitted to the days before it."""
    _, _, day = farms()
    open_, x = columns(today - AHEAD)
    seen = (day >= today - AHEAD) & (day < today)
    x, seen = x[open_], seen[open_]
    fit = minimize(
        lambda b: float(np.logaddexp(0, x @ b).sum() - (x @ b)[seen].sum() + 0.01 * (b @ b)), np.zeros(6)
    )
    open_, now = columns(today)
    return (1 / (1 + np.exp(-(now @ fit.x))))[open_]


def calibration(figures, truth):
    """Return by fifths of the figures' sum: how many farms, what was said, what came."""
    order = np.argsort(-figures)
    part = np.minimum((np.cumsum(figures[order]) / figures.sum() * 5).astype(int), 4)
    return [
        (int((part == k).sum()), float(figures[order][part == k].sum()), int(truth[order][part == k].sum()))
        for k in range(5)
    ]


@pytest.mark.slow
@pytest.mark.parametrize("today", DAYS)
def test_figures_of_farms_not_yet_found_against_what_was_found_next(today):
    _, _, day = farms()
    settings = Settings(warm_sweeps=3000, batch_sweeps=1500, least_batches=3, most_batches=8)
    w = world_of(scene_on(today))
    chains, near, far, state = sample(w, beliefs(), 5, settings)
    open_ = day >= today
    figures = collect(chains, near, far, settings.draws).chance[open_]
    rule = fitted_rule(today)
    print(
        f"\nday {today}: {(~open_).sum()} found, figures sum to {figures.sum():.1f}, rule's to {rule.sum():.1f}; "
        f"R-hat {state.rhat_max:.3f}, error {state.mcse_max:.4f}"
    )
    for ahead in (7, AHEAD, 14, 21):
        truth = day[open_] < today + ahead
        flat = np.full(len(truth), truth.mean())
        scores = [
            f"{name} {log_losses(p, truth).mean():.5f} / {np.mean((p - truth) ** 2):.5f} / {area_under(p, truth):.3f}"
            for name, p in (("ours", figures), ("rule", rule))
        ]
        print(f"next {ahead} days {truth.sum()} found: log score / Brier / area {scores[0]}; {scores[1]}; "
              f"constant {log_losses(flat, truth).mean():.5f}")  # fmt: skip
    truth = day[open_] < today + AHEAD
    print(
        "farms, said, found:", *(f"{n}: {said:.1f}, {came}" for n, said, came in calibration(figures, truth))
    )
    # Reported as it is, with its convergence; gated only for its sense: better than a constant that knows the number.
    assert log_losses(figures, truth).mean() < log_losses(np.full(len(truth), truth.mean()), truth).mean()
    assert area_under(figures, truth) > 0.75
