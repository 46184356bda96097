"""When may a sweep stop? Three figures from the same posterior, and which one binds.

The figures never lift a standstill: they are the evidence laid before the person who may.

References
----------
The three conditions are the project's own (project choice), built from the spread posterior, the probability of
freedom (Martin, Cameron & Greiner 2007, Prev Vet Med 79:71) and the published time to signs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Protocol

from broodsweep.surveillance.freedom import probability_free
from broodsweep.words import Message, say


class FigureName(StrEnum):
    """The three figures, in the order in which they are shown."""

    NONE_LEFT = "none_left"
    """Chance, from the spread posterior, that no apiary is infected and not yet found."""
    FREE = "free"
    """Probability of freedom after the visits made, at a design prevalence of one infected apiary."""
    SHOWN = "shown"
    """Smallest share, over the apiaries at risk, of infections that would have shown signs by the last visit."""


@dataclass(frozen=True, kw_only=True)
class Figure:
    """One of the three figures with its target; ``value`` is None where it cannot be told, ``why`` says why."""

    name: FigureName
    value: float | None
    target: float
    low: float | None = None
    high: float | None = None
    why: Message | None = None

    @property
    def is_reached(self) -> bool:
        """Say whether the figure, or its cautious end where it has one, reaches the target."""
        cautious = self.low if self.low is not None else self.value
        return cautious is not None and cautious >= self.target


@dataclass(frozen=True, kw_only=True)
class AtRisk:
    """An apiary that may be infected and unseen, with how well it was looked at.

    Parameters
    ----------
    apiary
        Its name.
    weight
        Its share of the risk before the sweep's visits, any positive scale.
    sensitivity
        Chance that the visits made since the outbreak was opened would have found it, had it been infected.
    last_visited_on
        Day of its last visit, None without one.
    """

    apiary: str
    weight: float
    sensitivity: float
    last_visited_on: date | None


class TimeToSigns(Protocol):
    """Cumulative share of infections that show signs within a number of days."""

    def __call__(self, days: float, /) -> float: ...


@dataclass(frozen=True, kw_only=True)
class Targets:
    """What is enough; every one a project choice until an authority sets its own."""

    none_left: float = 0.95
    free: float = 0.95
    shown: float = 0.91

    def __post_init__(self) -> None:
        for name in ("none_left", "free", "shown"):
            if not 0.0 < getattr(self, name) < 1.0:
                raise ValueError(f"Expected {name} strictly between 0 and 1, got {getattr(self, name)}.")


def sweep_sensitivity(rows: Sequence[AtRisk]) -> float:
    """Return the chance that the visits would have found the one infected apiary, wherever it is.

    Exact for a design prevalence of one apiary: the mean of the apiaries' sensitivities, weighted by risk.
    """
    total = sum(row.weight for row in rows)
    return sum(row.weight * row.sensitivity for row in rows) / total if total > 0.0 else 0.0


def freedom_figure(rows: Sequence[AtRisk], prior_infected: float, targets: Targets) -> Figure:
    """Return the probability of freedom after the visits made."""
    return Figure(
        name=FigureName.FREE,
        value=probability_free(prior_infected, sweep_sensitivity(rows)),
        target=targets.free,
    )


def shown_figure(
    rows: Sequence[AtRisk], last_exposure_on: date, time_to_signs: TimeToSigns, targets: Targets
) -> Figure:
    """Return the smallest share of infections that would show by the last visit, over the apiaries at risk."""
    shares = {row.apiary: _share_shown(row, last_exposure_on, time_to_signs) for row in rows}
    if not shares:
        return Figure(name=FigureName.SHOWN, value=None, target=targets.shown, why=say("stop.nobody_at_risk"))
    worst = min(shares, key=lambda name: (shares[name], name))
    behind = sum(share < targets.shown for share in shares.values())
    why = say("stop.shown_worst", apiary=worst, count=behind, exposure_on=last_exposure_on)
    return Figure(name=FigureName.SHOWN, value=shares[worst], target=targets.shown, why=why)


def _share_shown(row: AtRisk, last_exposure_on: date, time_to_signs: TimeToSigns) -> float:
    if row.last_visited_on is None or row.last_visited_on <= last_exposure_on:
        return 0.0
    return time_to_signs(float((row.last_visited_on - last_exposure_on).days))


def binding(figures: Sequence[Figure], legal: Mapping[str, bool]) -> str | None:
    """Return what still stands in the way: a legal condition first, else the figure farthest from its target."""
    for name, is_met in legal.items():
        if not is_met:
            return name
    short = [row for row in figures if not row.is_reached]
    if not short:
        return None
    return str(min(short, key=_reach).name)


def _reach(row: Figure) -> float:
    value = row.low if row.low is not None else row.value
    return (value or 0.0) / row.target


def visits_that_help(
    rows: Sequence[AtRisk], visit_sensitivity: float, prior_infected: float, targets: Targets
) -> tuple[tuple[str, float], ...]:
    """Return the visits that lift the probability of freedom to its target, the most useful first.

    Returns
    -------
    Pairs of apiary and the probability of freedom once it and those before it were visited and found clean; empty
    when the target is reached already; it ends where even every apiary visited does not reach it.
    """
    left = sorted(rows, key=lambda row: -row.weight * (1.0 - row.sensitivity))
    total = sum(row.weight for row in rows)
    found, sensitivity = [], sweep_sensitivity(rows)
    for row in left:
        if total <= 0.0 or probability_free(prior_infected, sensitivity) >= targets.free:
            break
        sensitivity += row.weight / total * (1.0 - row.sensitivity) * visit_sensitivity
        found.append((row.apiary, probability_free(prior_infected, sensitivity)))
    return tuple(found)
