"""Apiaries that no register knows: how many, and the cells in which they are looked for.

References
----------
Chapman 1951, Univ Calif Publ Stat 1:131 (estimate); Seber 1970, J Wildl Manage 34:292 (variance);
Burnham et al. 1987, Am Fish Soc Monogr 5:212 (log-normal interval for what was not counted).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from broodsweep.spread import constants
from broodsweep.spread.settings import Coverage
from broodsweep.units import FloatArray

_NORMAL_95 = 1.959963984540054
_MOST_CELLS = 1500


@dataclass(frozen=True, kw_only=True)
class Unregistered:
    """How many apiaries stand beside the register, with a 95 % interval, and how that was reckoned."""

    count: float
    low: float
    high: float
    per_registered: float
    by_sweeps: bool


def chapman(registered: int, seen: int, both: int) -> tuple[float, float]:
    """Return Chapman's estimate of all apiaries and Seber's variance of it.

    Parameters
    ----------
    registered, seen, both
        Apiaries on the register, apiaries that sweeps saw, and those on both lists.
    """
    estimate = (registered + 1) * (seen + 1) / (both + 1) - 1
    variance = (
        (registered + 1) * (seen + 1) * (registered - both) * (seen - both) / ((both + 1) ** 2 * (both + 2))
    )
    return estimate, variance


def count_unregistered(registered: int, coverage: Coverage | None) -> Unregistered:
    """Return the number of unregistered apiaries in the district.

    With coverage by Chapman's estimate for the swept area, carried over to the register in proportion; without it
    from the prior Beta(2, 8) for the share that is not registered.
    """
    if coverage is None:
        from scipy import stats

        a, b = constants.UNREGISTERED_SHARE_A.value, constants.UNREGISTERED_SHARE_B.value
        mean = a / (b - 1)  # of the odds u / (1 - u)
        low, high = (float(share / (1 - share)) for share in stats.beta.ppf([0.025, 0.975], a, b))
        return Unregistered(
            count=registered * mean,
            low=registered * low,
            high=registered * high,
            per_registered=mean,
            by_sweeps=False,
        )
    estimate, variance = chapman(coverage.registered, coverage.seen, coverage.seen_registered)
    extra = max(estimate - coverage.registered, 0.0)
    known = coverage.seen - coverage.seen_registered
    scale = registered / max(coverage.registered, 1)
    rest = max(extra - known, 1e-9)
    spread = float(np.exp(_NORMAL_95 * np.sqrt(np.log1p(variance / rest**2)))) if extra > known else 1.0
    return Unregistered(
        count=extra * scale,
        low=(known + rest / spread) * scale if extra > known else extra * scale,
        high=(known + rest * spread) * scale if extra > known else extra * scale,
        per_registered=extra / max(coverage.registered, 1),
        by_sweeps=True,
    )


@dataclass(frozen=True, kw_only=True)
class Cells:
    """Squares round known cases with the expected number of unregistered apiaries in each, shape (cells,)."""

    east_m: FloatArray
    north_m: FloatArray
    side_m: float
    expected: FloatArray


def cells_round(
    case_east_m: FloatArray,
    case_north_m: FloatArray,
    east_m: FloatArray,
    north_m: FloatArray,
    per_registered: float,
) -> Cells:
    """Return the cells round the cases; the expected number follows the registered density near each cell.

    Parameters
    ----------
    case_east_m, case_north_m
        Known cases, shape (cases,). [m]
    east_m, north_m
        Registered apiaries, shape (apiaries,). [m]
    per_registered
        Unregistered apiaries per registered one.
    """
    from scipy.spatial import cKDTree

    side, radius = constants.UNREGISTERED_CELL_M.value, constants.UNREGISTERED_RADIUS_M.value
    if len(case_east_m) == 0 or per_registered <= 0:
        return Cells(east_m=np.zeros(0), north_m=np.zeros(0), side_m=side, expected=np.zeros(0))
    cases = np.stack([case_east_m, case_north_m], axis=1)
    while True:
        corners = [
            np.arange(np.floor((v.min() - radius) / side), np.ceil((v.max() + radius) / side))
            for v in cases.T
        ]
        if len(corners[0]) * len(corners[1]) > 200 * _MOST_CELLS:
            side *= 2.0
            continue
        grid = np.stack(np.meshgrid(*corners, indexing="ij"), axis=-1).reshape(-1, 2)
        middle = (grid + 0.5) * side
        middle = middle[cKDTree(cases).query(middle)[0] <= radius]
        if len(middle) <= _MOST_CELLS:
            break
        side *= np.sqrt(2.0)
    reach = constants.DENSITY_RADIUS_M.value
    near = cKDTree(np.stack([east_m, north_m], axis=1)).query_ball_point(middle, reach, return_length=True)
    expected = per_registered * np.asarray(near, float) / (np.pi * reach**2) * side**2
    keep = expected > 0
    return Cells(east_m=middle[keep, 0], north_m=middle[keep, 1], side_m=float(side), expected=expected[keep])
