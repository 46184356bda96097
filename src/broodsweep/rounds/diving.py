"""A plan out of the rounds that the bound was made from: the linear programme solved again and again, rounds fixed.

Each time the rounds that the programme takes (nearly) whole are fixed, or the one it takes most of; what they visit
goes out, and the rest is solved again. What comes out is a start for the solver or a plan of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
from scipy.optimize import linprog

from broodsweep.rounds.columns import Column, Prepared, incidence
from broodsweep.units import FloatArray

NEARLY_WHOLE = 0.9
AS_PLACED = 0.5
"""A round is fixed beside the leading one when the programme takes at least this much of it."""


def dive(prepared: Prepared, columns: Sequence[Column]) -> dict[tuple[str, date], list[str]]:
    """Return orders of apiaries by inspector and day put together from the rounds given."""
    rows = [(column, frozenset(column.order)) for column in columns]
    orders: dict[tuple[str, date], list[str]] = {}
    while rows:
        share = _shares(prepared, rows)
        taken_days: set[int] = set()
        taken: set[int] = set()
        best = float(share.max())
        for number in np.argsort(-share, kind="stable"):
            column, stops = rows[number]
            if share[number] < min(best, NEARLY_WHOLE) or share[number] < min(best, AS_PLACED):
                break
            if column.day in taken_days or stops & taken:
                continue
            key, names = prepared.named(column)
            orders[key] = list(names)
            taken_days.add(column.day)
            taken |= stops
        if not taken_days or best <= 0.0:
            break
        rows = [row for row in rows if row[0].day not in taken_days and not row[1] & taken]
    return orders


def _shares(prepared: Prepared, rows: Sequence[tuple[Column, frozenset[int]]]) -> FloatArray:
    """Return how much of each round the linear programme takes."""
    matrix = incidence(prepared, [column for column, _ in rows])
    value = np.array([column.value for column, _ in rows])
    found = linprog(-value, A_ub=matrix, b_ub=np.ones(matrix.shape[0]), method="highs")
    return np.asarray(found.x)
