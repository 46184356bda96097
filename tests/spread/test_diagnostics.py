"""R-hat, effective size and smoothed weights against theory."""

from __future__ import annotations

import numpy as np
import pytest

from broodsweep.spread import Coverage
from broodsweep.spread.diagnostics import batch_error, effective_size, rhat
from broodsweep.spread.reweighing import fit_tail, smoothed
from broodsweep.spread.unregistered import chapman, count_unregistered


def walk(rng, rho, chains, length):
    x = np.zeros((chains, length))
    x[:, 0] = rng.standard_normal(chains)
    for t in range(1, length):
        x[:, t] = rho * x[:, t - 1] + np.sqrt(1 - rho**2) * rng.standard_normal(chains)
    return x


def test_effective_size_of_a_known_process():
    # Check 102 of the reference: N (1 - rho) / (1 + rho) = 526.3 for rho 0.9 and 10,000 draws, 15 %.
    x = walk(np.random.default_rng(1), 0.9, 4, 2500)
    assert effective_size(x) == pytest.approx(526.3, rel=0.25)
    assert effective_size(np.random.default_rng(2).standard_normal((4, 2500))) == pytest.approx(
        10_000, rel=0.1
    )


def test_rhat_sees_chains_that_disagree_in_place_or_in_width():
    rng = np.random.default_rng(3)
    x = rng.standard_normal((4, 1000))
    assert rhat(x) == pytest.approx(1.0, abs=0.01)
    moved, wide = x.copy(), x.copy()
    moved[0] += 1.0
    wide[0] *= 5.0
    assert rhat(moved) > 1.05
    assert rhat(wide) > 1.05


def test_rhat_refuses_too_few_draws():
    with pytest.raises(ValueError, match="at least 4"):
        rhat(np.zeros((2, 3)))


def test_batch_error_is_that_of_independent_batches():
    rng = np.random.default_rng(4)
    means = rng.normal(0, 0.1, (400, 3))
    assert batch_error(means) == pytest.approx(np.full(3, 0.005), rel=0.1)


@pytest.mark.parametrize(("shape", "limit"), [(0.2, 0.15), (0.9, 0.2)])
def test_tail_fit_finds_the_shape_of_a_pareto_sample(shape, limit):
    u = np.random.default_rng(5).random(4000)
    excess = np.sort(2.0 * ((1 - u) ** -shape - 1) / shape)
    k, sigma = fit_tail(excess)
    assert k == pytest.approx(shape, abs=limit)
    assert sigma == pytest.approx(2.0, rel=0.15)


def test_smoothed_weights_add_up_and_warn_of_a_heavy_tail():
    rng = np.random.default_rng(6)
    weight, khat = smoothed(np.zeros(2000))
    assert khat == -np.inf
    assert weight == pytest.approx(np.full(2000, 1 / 2000))
    weight, khat = smoothed(3.0 * rng.standard_exponential(2000))
    assert weight.sum() == pytest.approx(1.0)
    assert khat > 0.7


def test_chapman_by_hand():
    # (n1 + 1)(n2 + 1) / (m + 1) - 1 with 200, 100, 80: 201 x 101 / 81 - 1.
    estimate, variance = chapman(200, 100, 80)
    assert estimate == pytest.approx(201 * 101 / 81 - 1)
    assert variance == pytest.approx(201 * 101 * 120 * 20 / (81**2 * 82))


def test_unregistered_apiaries_with_and_without_sweeps():
    prior = count_unregistered(400, None)
    assert prior.low < prior.count < prior.high
    assert not prior.by_sweeps
    swept = count_unregistered(400, Coverage(registered=200, seen=100, seen_registered=80))
    assert swept.low <= swept.count <= swept.high
    assert swept.count == pytest.approx(2 * (201 * 101 / 81 - 1 - 200))
    all_known = count_unregistered(400, Coverage(registered=200, seen=100, seen_registered=100))
    assert all_known.count == pytest.approx(0.0, abs=1e-9)


def test_coverage_that_cannot_be_is_refused():
    with pytest.raises(ValueError, match="seen_registered"):
        Coverage(registered=5, seen=10, seen_registered=7)
