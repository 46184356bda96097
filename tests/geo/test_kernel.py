"""The kernel distance of uncertain squares against exact averaging over both squares."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from broodsweep.geo import kernel_distance_m

SCALE_M = 1200.0


def averaged_kernel(d_m: float, side_a: float, side_b: float) -> float:
    """Mean of exp(-distance / 1.2 km) over two squares: Gauss-Legendre over the difference of the coordinates.

    The difference of two uniform coordinates has a trapezoid density, integrated piece by piece.
    """
    wide, narrow = max(side_a, side_b), min(side_a, side_b)
    knots = np.array([-(wide + narrow), -(wide - narrow), 0.0, wide - narrow, wide + narrow]) / 2
    x, w = np.polynomial.legendre.leggauss(60)
    at, weight = [], []
    for low, high in pairwise(knots):
        if high > low:
            u = (high - low) / 2 * x + (high + low) / 2
            density = np.minimum(1.0, ((wide + narrow) / 2 - np.abs(u)) / narrow) / wide
            at.append(u)
            weight.append(w * (high - low) / 2 * density)
    u, p = np.concatenate(at), np.concatenate(weight)
    assert p.sum() == pytest.approx(1.0, abs=1e-9)
    distance = np.hypot(d_m + u[:, None], u[None, :])
    return float(p @ np.exp(-distance / SCALE_M) @ p)


DISTANCES = (0.0, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0, 1.5, 2.0, 4.0)
"""In sides of the wider square: past that the error falls for good."""


@pytest.mark.parametrize(
    ("side_m", "of_root_mean_square", "with_scale"),
    [(100.0, 0.007, 0.001), (500.0, 0.042, 0.005), (1000.0, 0.104, 0.011), (2000.0, 0.27, 0.028)],
)
@pytest.mark.parametrize("other", [0.0, 0.5, 1.0])
def test_kernel_at_the_distance_is_the_averaged_kernel(
    side_m: float, of_root_mean_square: float, with_scale: float, other: float
) -> None:
    side_b = max(other * side_m, 1e-3)
    for d_m in np.array(DISTANCES) * side_m:
        exact = averaged_kernel(d_m, side_m, side_b)
        plain = np.exp(-kernel_distance_m(d_m, side_m, side_b) / SCALE_M)
        made = np.exp(-kernel_distance_m(d_m, side_m, side_b, scale_m=SCALE_M) / SCALE_M)
        assert plain == pytest.approx(exact, rel=of_root_mean_square)
        assert made == pytest.approx(exact, rel=with_scale)


@pytest.mark.parametrize(
    ("side_m", "stated"), [(100.0, 0.01), (500.0, 0.03), (1000.0, 0.07), (2000.0, 0.165)]
)
def test_root_mean_square_at_no_distance_has_the_error_our_design_states(
    side_m: float, stated: float
) -> None:
    # shared spread design, section 8: 1, 3, 6 (6.5 here) and 16 %; it holds at no distance only
    exact = averaged_kernel(0.0, side_m, side_m)
    assert np.exp(-kernel_distance_m(0.0, side_m, side_m) / SCALE_M) == pytest.approx(exact, rel=stated)


def test_scale_that_is_no_scale_is_refused() -> None:
    for bad in (0.0, -1.0, float("nan")):
        with pytest.raises(ValueError, match="scale_m"):
            kernel_distance_m(100.0, 10.0, scale_m=bad)


def test_centres_alone_would_be_much_worse_at_no_distance() -> None:
    exact = averaged_kernel(0.0, 1000.0, 1000.0)
    assert 1.0 / exact - 1.0 > 0.3  # +37 % in the design


def test_distance_is_the_root_mean_square_of_drawn_points() -> None:
    rng = np.random.default_rng(4)
    a, b = rng.uniform(-0.5, 0.5, (2, 2, 400_000))
    drawn = np.hypot(1500 + 800 * a[0] - 300 * b[0], 800 * a[1] - 300 * b[1])
    assert kernel_distance_m(1500.0, 800.0, 300.0) == pytest.approx(np.sqrt(np.mean(drawn**2)), rel=2e-3)


def test_points_keep_their_distance_and_arrays_are_taken() -> None:
    assert kernel_distance_m(1234.0, 0.0) == 1234.0
    np.testing.assert_allclose(kernel_distance_m(np.array([0.0, 3.0]), 0.0, 0.0), [0.0, 3.0])
