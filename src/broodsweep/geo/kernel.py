"""The distance to give a spread kernel when places are squares."""

from __future__ import annotations

from typing import Any

import numpy as np

from broodsweep.geo.constants import KERNEL_BLEND, KERNEL_SHARE_AT_ZERO


def kernel_distance_m(
    centre_distance_m: Any, side_a_m: Any, side_b_m: Any = 0.0, *, scale_m: float | None = None
) -> Any:
    """Return the one distance at which a kernel is nearest to its mean over two squares, numbers or arrays. [m]

    Without ``scale_m`` it is the root mean square distance: a point uniform in a square of side L lies L²/6
    (mean square) from its centre, so that d² becomes d² + L_a²/6 + L_b²/6. An exponential kernel of
    scale 1.2 km is then too small by at most 0.7 % (squares of 100 m), 4.2 % (500 m), 10 % (1 km), 27 % (2 km),
    worst when the squares are about a side apart.

    With ``scale_m`` it is made for the kernel exp(-d / scale): the mean distance less half its variance over
    the scale (the first two cumulants). At 1.2 km it is wrong by at most 0.1 %, 0.5 %, 1.1 %, 2.8 %. Beyond
    2 km squares draw the place instead.

    Parameters
    ----------
    centre_distance_m
        Distance between the centres. [m]
    side_a_m, side_b_m
        Sides of the squares. [m]
    scale_m
        Scale of an exponential kernel, > 0. [m]

    Raises
    ------
    ValueError
        If ``scale_m`` is not positive.
    """
    d, a, b = (np.asarray(value, dtype=np.float64) for value in (centre_distance_m, side_a_m, side_b_m))
    per_axis = (a * a + b * b) / 12.0  # variance of the difference of the eastings, and of the northings
    mean_square = d * d + 2.0 * per_axis
    if scale_m is None:
        result = np.sqrt(mean_square)
    else:
        if not scale_m > 0:
            raise ValueError(f"Expected scale_m > 0, got {scale_m}.")
        # Far apart only the difference along the line counts; at no distance a share of it is left.
        far = d * d / np.maximum(d * d + KERNEL_BLEND.value * per_axis, np.finfo(float).tiny)
        variance = per_axis * (KERNEL_SHARE_AT_ZERO.value + (1.0 - KERNEL_SHARE_AT_ZERO.value) * far)
        result = np.maximum(np.sqrt(mean_square - variance) - variance / (2.0 * scale_m), 0.0)
    return float(result) if result.ndim == 0 else result
