"""How long until signs: the curve as tables of logarithms, fresh and seen from the start of the horizon."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from broodsweep.constants import Disease
from broodsweep.spread import constants
from broodsweep.units import FloatArray


@dataclass(frozen=True, kw_only=True)
class Curves:
    """Log chances of signs after exactly, and after at least, so many days; shape (days + 2,) each.

    The two named ``start`` hold for an apiary already infected on its first day at risk, counted from that day.
    """

    log_signs: FloatArray
    log_unsigned: FloatArray
    log_signs_start: FloatArray
    log_unsigned_start: FloatArray

    @classmethod
    def of(cls, chance: FloatArray, days: int, with_signs_share: float) -> Curves:
        """Return the curves of a distribution of whole days.

        Parameters
        ----------
        chance
            Chance of signs after 0, 1, 2 … days; what is missing to 1 comes later.
        days
            Days of the horizon.
        with_signs_share
            Share of those infected at the start that already have signs.
        """
        table = np.zeros(days + 2)
        table[: min(len(chance), days + 2)] = chance[: days + 2]
        unsigned = 1.0 - np.concatenate([[0.0], np.cumsum(table)[:-1]])
        whole = np.concatenate([1.0 - np.cumsum(chance), [0.0]])
        mean = max(float(whole.sum()), 1e-9)
        # Renewal theory: time left from a moment in steady state has density proportional to P(longer).
        left = np.zeros(days + 2)
        size = min(len(whole), days + 2)
        left[:size] = (1.0 - with_signs_share) * whole[:size] / mean
        left[0] += with_signs_share
        left_unsigned = 1.0 - np.concatenate([[0.0], np.cumsum(left)[:-1]])
        with np.errstate(divide="ignore"):
            return cls(
                log_signs=np.log(table),
                log_unsigned=np.log(np.maximum(unsigned, 0.0)),
                log_signs_start=np.log(left),
                log_unsigned_start=np.log(np.maximum(left_unsigned, 0.0)),
            )


def curves_of(disease: Disease, days: int) -> Curves:
    """Return the curves of a disease, a gamma cut into days."""
    from scipy import stats

    shape, scale = (
        (constants.SIGNS_SHAPE_AFB.value, constants.SIGNS_SCALE_AFB.value)
        if disease is Disease.AFB
        else (constants.SIGNS_SHAPE_EFB.value, constants.SIGNS_SCALE_EFB.value)
    )
    edges = np.arange(days + 3 + int(20 * scale))
    chance = np.diff(stats.gamma.cdf(edges, shape, scale=scale))
    mean_signs_days = constants.SEEDING_DAYS.value - shape * scale
    return Curves.of(chance, days, max(0.0, mean_signs_days / constants.SEEDING_DAYS.value))
