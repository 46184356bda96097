"""Chains of a large district: apiaries far from everything take turns, and every one of them gets its figure."""

from __future__ import annotations

from datetime import date

import numpy as np

from broodsweep.constants import Disease
from broodsweep.geo import Place
from broodsweep.register import Apiary, Ground, Visit
from broodsweep.spread import Settings, hidden

ON = date(2026, 7, 8)
QUICK = Settings(
    chains=2, threads=1, warm_sweeps=100, batch_sweeps=100, least_batches=3, most_batches=3, draws=100, unregistered=False
)  # fmt: skip


def test_every_apiary_of_a_large_register_gets_a_figure_above_zero_with_its_error():
    rng = np.random.default_rng(3)
    rows = tuple(
        Apiary(apiary=f"A{k}", place=Place(longitude=-40 + x, latitude=54 + y, precision_m=100.0), colonies=5)
        for k, (x, y) in enumerate(rng.uniform(0, 4, (11_000, 2)))
    )
    found = Visit(
        visit="V", apiary="A0", visited_on=ON, colonies_inspected=5, colonies_confirmed=1, colonies_present=5,
        disease=Disease.AFB,
    )  # fmt: skip
    run = hidden(Ground(apiaries=rows, visits=(found,)), Disease.AFB, ON, seed=1, settings=QUICK)
    figures = np.array([row.probability for row in run.answer.apiaries[1:]], dtype=float)
    errors = np.array([row.mcse for row in run.answer.apiaries[1:]], dtype=float)
    assert figures.min() > 0.0
    assert figures.max() < 1.0
    # Most have nothing but the background in common: the same figure for all, within the error of a few evaluations
    # under a prior whose logarithm has a standard deviation of 1.2.
    assert np.quantile(figures, 0.9) < 100 * np.quantile(figures, 0.1)
    assert (errors > 0).mean() > 0.99
