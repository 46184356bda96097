"""A finished run brought up to date with visits that it did not know: every figure of its answer re-weighted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from broodsweep.register import Visit
from broodsweep.spread import Reweighted, reweight
from broodsweep.spread.answer import ApiaryFigure, Unseen
from broodsweep.spread.draws import intervals, is_infected, spread_over_parameters
from broodsweep.spread.engine import Hidden
from broodsweep.spread.lives import is_finding
from broodsweep.units import FloatArray
from broodsweep.words import Message, say

_VISIT_REASONS = frozenset(
    {"spread.reason_clean", "spread.reason_never_visited", "spread.reason_suspect", "spread.reason_found"}
)
_LEAST_EFFECTIVE = 0.01
_RANGE_90 = (0.05, 0.95)


@dataclass(frozen=True, kw_only=True)
class Updated:
    """A run with the figures after new visits.

    ``found`` has the re-weighted answer over the draws of the run; ``is_trusted`` is False when the draws no longer
    carry the new findings, ``warnings`` say why then. ``weight`` are the weights of the draws.
    """

    found: Hidden
    visits: tuple[Visit, ...]
    khat: float
    effective_share: float
    is_trusted: bool
    warnings: tuple[Message, ...]
    weight: FloatArray


def can_follow(found: Hidden, visits: Sequence[Visit]) -> bool:
    """Say whether the draws of a run can be re-weighted by these visits: their apiaries stood there in the run."""
    number = {row.apiary: k for k, row in enumerate(found.setup.ground.apiaries)}
    return all(row.apiary in number and found.setup.now[number[row.apiary]] >= 0 for row in visits)


def with_visits(found: Hidden, visits: Sequence[Visit]) -> Updated:
    """Return a run with its answer re-weighted by visits that came after it.

    Parameters
    ----------
    found
        A finished run.
    visits
        Visits that the run did not know, at apiaries that stand there today (see `can_follow`).

    References
    ----------
    See `broodsweep.spread.reweight`. The 90 % ranges are those of the run's own rule over draws resampled by their
    weights, the Monte-Carlo error widened by the share of the draws that still counts.
    """
    made = reweight(found, visits)
    unforeseen = _unforeseen(found, visits)
    warnings = (*made.warnings, *unforeseen)
    is_trusted = not made.needs_run and not unforeseen
    answer, diagnostics = found.answer, found.answer.diagnostics
    if not is_trusted:
        diagnostics = replace(diagnostics, converged=False, reasons=(*diagnostics.reasons, *warnings))
    ranges = _ranges(found, made)
    by_apiary: dict[str, list[Visit]] = {}
    for visit in visits:
        by_apiary.setdefault(visit.apiary, []).append(visit)
    lines = tuple(
        _line(row, made.probability[row.apiary], ranges[k], by_apiary.get(row.apiary, ()), found)
        for k, row in enumerate(answer.apiaries)
    )
    updated = replace(answer, apiaries=lines, unseen=_unseen(found, made, lines), diagnostics=diagnostics)
    return Updated(
        found=replace(found, answer=updated),
        visits=tuple(visits),
        khat=made.khat,
        effective_share=made.effective_share,
        is_trusted=is_trusted,
        warnings=warnings,
        weight=made.weight,
    )


def _unforeseen(found: Hidden, visits: Sequence[Visit]) -> tuple[Message, ...]:
    """Warn of findings where hardly a draw had the disease: no weight can carry them to the neighbours."""
    number = {row.apiary: k for k, row in enumerate(found.setup.ground.apiaries)}
    least = max(1.0, _LEAST_EFFECTIVE * len(found.draws))
    rows = []
    for visit in visits:
        node = int(found.setup.now[number[visit.apiary]])
        if not is_finding(visit, found.setup.disease) or found.world.node["found_how"][node] > 0:
            continue
        if is_infected(found.draws, node).sum() < least:
            rows.append(say("hidden.unforeseen", apiary=visit.apiary))
    return tuple(rows)


def _ranges(found: Hidden, made: Reweighted) -> list[tuple[float, float, float]]:
    """Low, high and Monte-Carlo error of every apiary's figure after the visits."""
    draws, setup = found.draws, found.setup
    chosen = _resampled(made.weight)
    again = replace(draws, theta=draws.theta[chosen], rows=draws.rows[chosen])
    spread = np.zeros(len(draws.chance))
    spread[draws.near] = spread_over_parameters(again, found.priors)
    error = draws.error / np.sqrt(max(made.effective_share, 1.0 / len(draws)))
    chance = draws.chance.copy()
    for k, row in enumerate(found.answer.apiaries):
        given = made.probability[row.apiary]
        if given is not None:
            chance[setup.now[k]] = given
    low, high = intervals(chance, spread, error)
    return [(float(low[node]), float(high[node]), float(error[node])) for node in setup.now]


def _resampled(weight: FloatArray) -> np.ndarray:
    """Numbers of draws, each as often as its weight says (systematic, without chance)."""
    at = (np.arange(len(weight)) + 0.5) / len(weight)
    return np.minimum(np.searchsorted(np.cumsum(weight), at), len(weight) - 1)


def _line(
    row: ApiaryFigure,
    probability: float | None,
    span: tuple[float, float, float],
    visits: Sequence[Visit],
    found: Hidden,
) -> ApiaryFigure:
    finding = next((visit for visit in visits if is_finding(visit, found.setup.disease)), None)
    if finding is not None and row.probability is not None:
        return replace(
            row,
            state="found",
            probability=None,
            low=None,
            high=None,
            mcse=None,
            found_on=finding.visited_on,
            reasons=(say("spread.reason_found", visited_on=finding.visited_on),),
        )
    if probability is None:
        return row
    low, high, error = span
    reasons = row.reasons
    if visits:
        last = max(visits, key=lambda visit: (visit.visited_on, visit.visit))
        kept = tuple(one for one in reasons if one.key not in _VISIT_REASONS)
        reasons = (_seen(last, found.setup.on), *kept)
    return replace(row, probability=probability, low=low, high=high, mcse=error, reasons=reasons)


def _seen(visit: Visit, on: date) -> Message:
    if visit.colonies_suspect:
        return say("spread.reason_suspect", visited_on=visit.visited_on)
    present = max(visit.colonies_present or 0, visit.colonies_inspected)
    ago = say("common.days", count=max(0, (on - visit.visited_on).days))
    return say("spread.reason_clean", inspected=visit.colonies_inspected, present=present, ago=ago)


def _unseen(found: Hidden, made: Reweighted, lines: Sequence[ApiaryFigure]) -> Unseen:
    before = found.answer.unseen
    newly = sum(
        row.state == "found" and old.state != "found"
        for row, old in zip(lines, found.answer.apiaries, strict=True)
    )
    left = np.maximum(found.draws.unseen - newly, 0.0)
    order = np.argsort(left, kind="stable")
    reached = np.cumsum(made.weight[order])
    low, high = (
        float(left[order][min(int(np.searchsorted(reached, share)), len(left) - 1)]) for share in _RANGE_90
    )
    registered = sum(row.probability or 0.0 for row in lines)
    return replace(
        before,
        mean=made.unseen_mean,
        low=low,
        high=high,
        registered_mean=registered,
        unregistered_mean=max(0.0, made.unseen_mean - registered),
        none_probability=made.none_probability,
        none_mcse=before.none_mcse / float(np.sqrt(max(made.effective_share, 1.0 / len(found.draws)))),
    )
