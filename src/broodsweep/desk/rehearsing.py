"""Rehearse strategies for an outbreak: what would come of each, and how surely one is better than another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from broodsweep.errors import BroodsweepError
from broodsweep.spread.rehearsal import Client, Futures, Strategy, rehearse
from broodsweep.units import FloatArray
from broodsweep.words import Message, say

if TYPE_CHECKING:
    from broodsweep.desk.ports import Progress
    from broodsweep.spread.engine import Hidden

NORMAL_95 = 1.959964
CHECK_DAYS = (90, 180, 365)
"""Days at which the chance of being over is given."""
STANDARD = (
    Strategy(name="narrow_once", radius_m=3000.0),
    Strategy(name="wide_once", radius_m=5000.0),
    Strategy(name="wide_twice", radius_m=5000.0, rounds=2),
    Strategy(name="wide_stopped", radius_m=5000.0, movement_stop=True),
)
"""What is compared when the user names nothing; `strategy_said` puts these names into words."""


def strategy_said(name: str) -> Message | str:
    """Return the words for a strategy of ours; a user's own name stays as it is."""
    key = f"hidden.strategy_{name}"
    return say(key) if name in {row.name for row in STANDARD} else name


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """A number of interest over all futures: mean, 5th and 95th percentile."""

    mean: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Difference:
    """Mean paired difference from the first strategy with its 95 % interval (futures met with the same luck)."""

    mean: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Rehearsed:
    """What came of one strategy; ``differences`` are None for the first.

    ``release_days`` counts only the futures that were released, a share of ``released_share``.
    """

    strategy: Strategy
    infected: Outcome
    destroyed: Outcome
    inspector_days: Outcome
    release_days: Outcome | None
    released_share: float
    over_probability: dict[int, float]
    active_mean: tuple[float, ...]
    differences: dict[str, Difference] | None


def strategies_from(rows: Sequence[dict[str, Any]]) -> tuple[Strategy, ...]:
    """Return strategies from plain tables (JSON).

    Raises
    ------
    BroodsweepError
        If a name is not one of a strategy's, or a value does not fit; the sentence says which.
    """
    found = []
    for number, row in enumerate(rows, start=1):
        unknown = sorted(set(row) - set(Strategy.__dataclass_fields__))
        if unknown or "name" not in row:
            known = ", ".join(Strategy.__dataclass_fields__)
            raise BroodsweepError(
                "desk.bad_strategy_field", number=number, unknown=unknown or ["name"], known=known
            )
        try:
            found.append(Strategy(**row))
        except (TypeError, ValueError) as error:
            raise BroodsweepError("desk.bad_strategy", number=number, why=str(error)) from error
    return tuple(found)


def rehearse_strategies(
    found: Hidden,
    strategies: Sequence[Strategy] = STANDARD,
    *,
    days: int = 365,
    futures: int = 1000,
    seed: int = 1,
    client: Client | None = None,
    progress: Progress | None = None,
) -> tuple[Rehearsed, ...]:
    """Return what would come of each strategy, from the posterior of a run on.

    Raises
    ------
    ValueError
        If there is no strategy, no future or no day.
    """
    from broodsweep.spread.staging import open_futures

    if days < 1:
        raise ValueError(f"Expected days >= 1, got {days}.")
    opening = open_futures(found, days)
    made = rehearse(
        opening.stage,
        opening.starts,
        strategies,
        futures=futures,
        seed=seed,
        client=client,
        progress=progress,
    )
    return tuple(_summary(row, None if row is made[0] else made[0]) for row in made)


def _summary(row: Futures, first: Futures | None) -> Rehearsed:
    released = row.released_day[~np.isnan(row.released_day)]
    last = len(row.over_probability)
    checks = sorted({day for day in (*CHECK_DAYS, last) if day <= last})
    return Rehearsed(
        strategy=row.strategy,
        infected=_outcome(row.infected),
        destroyed=_outcome(row.destroyed),
        inspector_days=_outcome(row.inspector_days),
        release_days=_outcome(released) if len(released) else None,
        released_share=len(released) / len(row.infected),
        over_probability={day: float(row.over_probability[day - 1]) for day in checks},
        active_mean=tuple(float(value) for value in row.active_mean),
        differences=None
        if first is None
        else {
            name: _difference(getattr(row, name), getattr(first, name))
            for name in ("infected", "destroyed", "inspector_days")
        },
    )


def _outcome(values: Any) -> Outcome:
    numbers: FloatArray = np.asarray(values, dtype=np.float64)
    low, high = np.percentile(numbers, [5.0, 95.0])
    return Outcome(mean=float(numbers.mean()), low=float(low), high=float(high))


def _difference(ours: Any, first: Any) -> Difference:
    gap: FloatArray = np.asarray(ours, dtype=np.float64) - np.asarray(first, dtype=np.float64)
    error = float(gap.std(ddof=1)) / np.sqrt(len(gap)) if len(gap) > 1 else float("inf")
    mean = float(gap.mean())
    return Difference(mean=mean, low=mean - NORMAL_95 * error, high=mean + NORMAL_95 * error)
