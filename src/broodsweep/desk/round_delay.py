"""What of the infection is expected to be unseen on the evening of each day, by a plan and by the plan made by hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from broodsweep.rounds.model import Task

Chosen = Mapping[str, tuple[str, date]]
"""Who makes each visit when."""


@dataclass(frozen=True, kw_only=True)
class Evening:
    """Expected infected apiaries not yet seen or dealt with after the visits of a day; None: not known."""

    on: date
    this_plan: float
    by_hand: float | None = None


def evenings(task: Task, days: Sequence[date], plan: Chosen, by_hand: Chosen | None) -> tuple[Evening, ...]:
    """Return the evenings of the days; what is left out stays unseen on all of them.

    The sum over the days is the part of the plan's cost that delay makes up, visits left out after the last day aside.
    """

    def left(chosen: Chosen, on: date) -> float:
        return sum(
            row.worth for row in task.candidates if row.apiary not in chosen or chosen[row.apiary][1] > on
        )

    return tuple(
        Evening(on=on, this_plan=left(plan, on), by_hand=None if by_hand is None else left(by_hand, on))
        for on in days
    )


def evenings_plain(rows: Sequence[Evening]) -> list[list[Any]]:
    """Return the evenings as JSON."""
    return [[row.on.isoformat(), row.this_plan, row.by_hand] for row in rows]


def evenings_of(record: Sequence[Sequence[Any]]) -> tuple[Evening, ...]:
    """Return the evenings of a JSON record."""
    return tuple(
        Evening(on=date.fromisoformat(on), this_plan=plan, by_hand=hand) for on, plan, hand in record
    )
