"""The all-clear: three figures, the legal conditions, what binds and what would help. It lifts nothing itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.rules import book_of
from broodsweep.desk.sweeping import question_of
from broodsweep.outbreak import DueState, Outbreak, due, is_open, progress_of
from broodsweep.register import Visit
from broodsweep.spread import constants as spread_constants
from broodsweep.surveillance import sweep
from broodsweep.surveillance.constants import CLEAN_VISIT_WEIGHT, PRIOR_INFECTED
from broodsweep.surveillance.detection import group_sensitivity
from broodsweep.surveillance.stop import (
    AtRisk,
    Figure,
    FigureName,
    Targets,
    TimeToSigns,
    binding,
    freedom_figure,
    shown_figure,
    visits_that_help,
)
from broodsweep.words import Message, say

if TYPE_CHECKING:
    from broodsweep.spread.engine import Hidden

RELEASE_KEY = "release"
ERROR_90 = 1.6449
"""Standard normal 95 % point: the figure is read at the lower end of its Monte-Carlo error."""


@dataclass(frozen=True, kw_only=True)
class LegalCondition:
    """A condition of the rulebook that must be met before a release."""

    name: str
    apiary: str
    what: Message
    rule: Message
    is_met: bool
    due_on: date | None


@dataclass(frozen=True, kw_only=True)
class AllClear:
    """What is laid before the person who may lift the standstill."""

    disease: Disease
    on: date
    figures: tuple[Figure, ...]
    legal: tuple[LegalCondition, ...]
    binding: str | None
    would_help: tuple[tuple[str, float], ...]
    is_enough: bool
    notes: tuple[Message, ...]


def all_clear(
    desk: Desk, disease: Disease, on: date, found: Hidden, *, targets: Targets | None = None
) -> AllClear:
    """Return the stop rule's figures for a disease on a day.

    Parameters
    ----------
    desk
        The desk.
    disease, on
        What is asked.
    found
        The run of `look_for_hidden` for the same disease and day.
    targets
        What is enough.
    """
    targets = targets or Targets()
    outbreaks = [row for row in desk.snapshot().outbreaks if row.disease == disease]
    legal = _legal(desk, outbreaks, on)
    curve = time_to_signs(disease)
    rows = _at_risk(desk, outbreaks, on, curve)
    figures = (
        _none_left(found, targets),
        freedom_figure(rows, PRIOR_INFECTED.value, targets),
        shown_figure(rows, last_exposure(outbreaks, on), curve, targets),
    )
    binds = binding(figures, {row.name: row.is_met for row in legal})
    return AllClear(
        disease=disease,
        on=on,
        figures=figures,
        legal=legal,
        binding=binds,
        would_help=visits_that_help(rows, CLEAN_VISIT_WEIGHT.value, PRIOR_INFECTED.value, targets),
        is_enough=binds is None,
        notes=(say("stop.drafts_only"), *found.answer.notes),
    )


def time_to_signs(disease: Disease) -> TimeToSigns:
    """Return the share of infections that show signs within so many days, by the curve of the spread model."""
    from scipy.stats import gamma

    is_american = disease is Disease.AFB
    shape = spread_constants.SIGNS_SHAPE_AFB if is_american else spread_constants.SIGNS_SHAPE_EFB
    scale = spread_constants.SIGNS_SCALE_AFB if is_american else spread_constants.SIGNS_SCALE_EFB
    return lambda days: float(gamma.cdf(days, shape.value, scale=scale.value))


def _none_left(found: Hidden, targets: Targets) -> Figure:
    unseen, trusted = found.answer.unseen, found.answer.diagnostics.converged
    return Figure(
        name=FigureName.NONE_LEFT,
        value=unseen.none_probability,
        low=max(0.0, unseen.none_probability - ERROR_90 * unseen.none_mcse) if trusted else 0.0,
        target=targets.none_left,
        why=None if trusted else say("stop.not_converged"),
    )


def _legal(desk: Desk, outbreaks: Sequence[Outbreak], on: date) -> tuple[LegalCondition, ...]:
    found = []
    for outbreak in outbreaks:
        for line in due(outbreak, book_of(desk, outbreak), on):
            if line.key == RELEASE_KEY:
                continue
            found.append(
                LegalCondition(
                    name=line.key,
                    apiary=line.apiary,
                    what=line.what,
                    rule=line.rule_text,
                    is_met=line.state is DueState.DONE,
                    due_on=line.due_on,
                )
            )
    return tuple(found)


def last_exposure(outbreaks: Sequence[Outbreak], on: date) -> date:
    """Return the last day on which a known case could infect: the last clearance, or today while one is open."""
    days = []
    for outbreak in outbreaks:
        for case in outbreak.cases:
            progress = progress_of(case, on)
            if progress.confirmed_on is not None:
                days.append(progress.cleared_on or (on if is_open(case, on) else progress.confirmed_on))
    return max(days, default=on)


def first_exposure(outbreaks: Sequence[Outbreak], on: date) -> date:
    """Return the first day on which a known case was found."""
    return min((outbreak.opened_on for outbreak in outbreaks if outbreak.opened_on <= on), default=on)


def _at_risk(desk: Desk, outbreaks: Sequence[Outbreak], on: date, curve: TimeToSigns) -> tuple[AtRisk, ...]:
    """Gather everyone on the sweep lists, weighed by the documented rule before any visit, with their visits since."""
    kept = desk.snapshot()
    weights: dict[str, float] = {}
    for outbreak in outbreaks:
        question = question_of(desk, outbreak, on)
        if not question.cases:
            continue
        for row in sweep(question, kept.ground, kept.places):
            name = row.apiary.apiary
            weights[name] = max(weights.get(name, 0.0), row.pressure)
    opened_on, exposed_on = first_exposure(outbreaks, on), last_exposure(outbreaks, on)
    rows = []
    for name, weight in sorted(weights.items()):
        visits = [v for v in kept.visits.get(name, ()) if opened_on <= v.visited_on <= on]
        colonies = kept.apiaries[name].colonies
        rows.append(
            AtRisk(
                apiary=name,
                weight=weight,
                sensitivity=_sensitivity(visits, colonies, exposed_on, curve),
                last_visited_on=visits[-1].visited_on if visits else None,
            )
        )
    return tuple(rows)


def _sensitivity(visits: Sequence[Visit], colonies: int, exposed_on: date, curve: TimeToSigns) -> float:
    """Return the chance that the visits would have found one sick colony.

    The infection is taken to be as late as the last exposure, so that a visit before it counts for nothing: the
    cautious end. Within the apiary one colony is sick (design prevalence of one).
    """
    missed = 1.0
    for visit in visits:
        age_days = (visit.visited_on - exposed_on).days
        present = max(colonies, visit.colonies_present or 0, visit.colonies_inspected, 1)
        opened = group_sensitivity(present, 1, visit.colonies_inspected, CLEAN_VISIT_WEIGHT.value)
        missed *= 1.0 - opened * (curve(float(age_days)) if age_days > 0 else 0.0)
    return 1.0 - missed
