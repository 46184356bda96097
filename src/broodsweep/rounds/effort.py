"""How long a visit takes: setting up and washing, and minutes a colony; learned from this team's past visits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from broodsweep.rounds.constants import COLONY_TIME, LEAST_TIMED_VISITS, SETUP_TIME


@dataclass(frozen=True, kw_only=True)
class VisitTime:
    """Minutes of a visit: a fixed part and a part for each colony. ``visits`` tells from how many it was learned."""

    setup_minutes: float = SETUP_TIME.value
    colony_minutes: float = COLONY_TIME.value
    visits: int = 0

    def minutes(self, colonies: int) -> int:
        """Return the minutes for a visit, in whole minutes, at least one."""
        return max(1, round(self.setup_minutes + self.colony_minutes * colonies))


def learn_visit_time(visits: Sequence[tuple[int, float]]) -> VisitTime:
    """Return the times that past visits tell, or the defaults when there are too few or they tell nothing.

    Least absolute deviations over the visits, so that a visit with a long talk does not count double; both parts
    are kept from zero on.

    Parameters
    ----------
    visits
        Colonies inspected and minutes taken of each visit.
    """
    rows = np.array([(colonies, minutes) for colonies, minutes in visits if minutes > 0], dtype=np.float64)
    if len(rows) < LEAST_TIMED_VISITS.value or np.ptp(rows[:, 0]) == 0.0:
        return VisitTime()
    weight = np.ones(len(rows))
    table = np.stack([np.ones(len(rows)), rows[:, 0]], axis=1)
    setup = each = 0.0
    for _ in range(50):  # reweighted least squares; settles in far fewer
        root = np.sqrt(weight)
        setup, each = np.linalg.lstsq(table * root[:, None], rows[:, 1] * root, rcond=None)[0]
        weight = 1.0 / np.maximum(np.abs(rows[:, 1] - table @ (setup, each)), 0.5)
    if setup < 0.0 or each <= 0.0:
        return VisitTime()
    return VisitTime(setup_minutes=float(setup), colony_minutes=float(each), visits=len(rows))
