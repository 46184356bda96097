"""Calibration on simulated outbreaks whose truth is known, from a simulator that shares no code with the sampler.

With everything drawn from the priors this is simulation-based calibration (Talts et al. 2018, arXiv 1804.06788): ranks of
the truth are uniform, ranges hold what they should, figures are as frequent as they say; what differs by more than chance
allows is an error of the computation. `make check-slow` runs all of it on two cores and prints the tables; what came out
is in docs/spread-checks.md. The gating run has a handful of outbreaks.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from scipy import stats
from tests.checks.spread_outbreaks import DENSE, FOLLOWED, OWN, WRONG, believing
from tests.checks.spread_scoring import (
    SETTINGS,
    SHARES,
    Scored,
    at_the_truth,
    better_by,
    clustered_z,
    coverage,
    each_outbreak,
    fitted_rule,
    follow,
    log_losses,
    reliability,
    score,
    within_band,
    written,
)

SURE = 0.001
"""Chance at which a right sampler fails a check of one parameter."""


def test_a_handful_of_outbreaks_is_not_grossly_off():
    """Eight outbreaks with fixed seeds: total hidden against total of figures, and ranks not all at one end."""
    short = replace(SETTINGS, warm_sweeps=800, batch_sweeps=600, most_batches=2)
    scored = score(8, 4, OWN, settings=short, processes=1)
    assert abs(clustered_z(scored.truth - scored.figures, scored.which)) < 3.5
    assert stats.kstest(scored.ranks[:, scored.names.index("unseen")], "uniform").pvalue > SURE
    assert np.all((scored.figures >= 0) & (scored.figures <= 1))


def check_calibration(scored: Scored) -> None:
    """Every bin of figures, every parameter and the unseen number: off by no more than chance allows."""
    for low, _, mean, seen, z in reliability(scored):
        assert abs(z) < 3, (low, mean, seen, z)
    for k, name in enumerate(scored.names):
        assert stats.kstest(scored.ranks[:, k], "uniform").pvalue > SURE, name
        for held, share in zip(coverage(scored.ranks[:, k]), SHARES, strict=True):
            assert within_band(held, share, scored.outbreaks), (name, share, held)


def gain_on_the_rule(scored: Scored) -> tuple[float, float, float]:
    rule = fitted_rule(scored)
    return better_by(log_losses(scored.figures, scored.truth), log_losses(rule, scored.truth), scored.which)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["own", "dense"])
def test_two_hundred_outbreaks_are_calibrated_and_better_than_the_rule(name):
    district = {"own": OWN, "dense": DENSE}[name]
    scored = score(200, 7, district)
    print(f"\n{written(name, scored)}")
    check_calibration(scored)
    gain, low, _ = gain_on_the_rule(scored)
    assert gain > 0
    assert low > -0.01


@pytest.mark.slow
def test_nobody_who_does_not_know_the_parameters_beats_one_who_does():
    """The ceiling: the same outbreaks with the true parameters; how much of it is reached is reported."""
    best = score(100, 7, DENSE, priors=at_the_truth)
    print(f"\n{written('dense, true parameters', best)}")
    ours = score(100, 7, DENSE)
    losses = [log_losses(one.figures, one.truth).mean() for one in (best, ours)]
    assert losses[0] < losses[1]


@pytest.mark.slow
@pytest.mark.parametrize("wrong", sorted(WRONG))
def test_under_a_wrong_model_is_reported(wrong):
    """Reported, and gated only for the sense of it: better than the constant rate, which knows the true mean."""
    scored = score(100, 9, DENSE, WRONG[wrong])
    print(f"\n{written(f'dense, wrong {wrong}', scored)}")
    flat = np.full(len(scored.truth), scored.truth.mean())
    assert log_losses(scored.figures, scored.truth).mean() < log_losses(flat, scored.truth).mean()


@pytest.mark.slow
def test_under_the_products_priors_where_more_is_infected_is_reported():
    """Outbreaks three times as infectious as the product believes at first, in a district with more background."""
    scored = score(100, 7, DENSE, priors=believing())
    print(f"\n{written('dense, priors of the product', scored)}")
    flat = np.full(len(scored.truth), scored.truth.mean())
    assert log_losses(scored.figures, scored.truth).mean() < log_losses(flat, scored.truth).mean()


@pytest.mark.slow
def test_when_the_all_clear_is_shown_it_is_as_true_as_it_says():
    """Outbreaks followed, looked at every 90 days, until the chance that nothing is left is shown as 0.95 or more."""
    task = partial(follow, priors=FOLLOWED.priors, settings=SETTINGS, target=0.95)
    ended = [row for row in each_outbreak(task, 150, 21, FOLLOWED) if row.after_days is not None]
    clear, shown = sum(row.is_clear for row in ended), float(np.mean([row.shown for row in ended]))
    low, high = stats.binomtest(clear, len(ended)).proportion_ci(0.95, "wilson")
    print(f"\nall-clear shown in {len(ended)} of 150 outbreaks, {np.median([row.after_days for row in ended]):.0f} days "
          f"after the first finding: shown {shown:.3f}, true in {clear}, {clear / len(ended):.3f} ({low:.3f} to {high:.3f})")  # fmt: skip
    assert len(ended) > 75
    assert low < shown < high
