"""At once after a visit: the draws of the last run, weighted by what the visit found.

References
----------
Vehtari, Simpson, Gelman, Yao & Gabry 2024, Pareto smoothed importance sampling, JMLR 25(72);
Zhang & Stephens 2009, Technometrics 51:316 (fit of the generalised Pareto). Both from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from broodsweep.register import Visit
from broodsweep.spread import constants
from broodsweep.spread.arrays import World
from broodsweep.spread.draws import Draws
from broodsweep.spread.engine import Hidden
from broodsweep.spread.lives import is_finding
from broodsweep.spread.observation import overlooked
from broodsweep.spread.priors import Slot
from broodsweep.units import FloatArray
from broodsweep.words import Message, say

_LEAST_TAIL = 5
_MOST_TAIL_SHARE = 0.2
_FEW = 20
_TINY = 1e-300
_NO_TAIL = 1e-9


@dataclass(frozen=True, kw_only=True)
class Reweighted:
    """Figures after new visits, by apiary; None for apiaries that are found now or were before.

    ``effective_share`` is the share of the draws that still counts, ``khat`` the tail of their weights;
    ``needs_run`` says that a full run is needed before the figures are used.
    """

    probability: dict[str, float | None]
    unseen_mean: float
    none_probability: float
    effective_share: float
    khat: float
    needs_run: bool
    warnings: tuple[Message, ...]
    weight: FloatArray


def reweight(hidden: Hidden, visits: Sequence[Visit]) -> Reweighted:
    """Return the figures of a run after visits that it did not know.

    Parameters
    ----------
    hidden
        A finished run.
    visits
        New visits, on the day of the run or some days later; what is infected is taken as it stood on that day.

    Raises
    ------
    ValueError
        If a visit names an apiary that is not there today.
    """
    setup, w, draws = hidden.setup, hidden.world, hidden.draws
    number = {row.apiary: k for k, row in enumerate(setup.ground.apiaries)}
    by_node: dict[int, FloatArray] = {}
    chance: dict[int, list[float]] = {}
    found: set[int] = set()
    for visit in visits:
        node = int(setup.now[number[visit.apiary]]) if visit.apiary in number else -1
        if node < 0:
            raise ValueError(f"Expected an apiary that is there today, got {visit.apiary!r}.")
        if w.node["found_how"][node] > 0 or visit.colonies_inspected <= 0:
            continue
        none = _overlooked(w, draws, node, visit, setup.on)
        is_positive = is_finding(visit, setup.disease)
        inside = none >= 0.0
        factor = np.where(inside, none, 1.0)
        if is_positive:
            factor = np.where(inside, 1.0 - none, 0.0)
            found.add(node)
        else:
            chance.setdefault(node, []).append(_mean_overlooked(draws, none))
        by_node[node] = by_node.get(node, 0.0) + np.log(np.maximum(factor, _TINY))
    log_weight = sum(by_node.values(), np.zeros(len(draws)))
    weight, khat = smoothed(log_weight)
    share = float(1.0 / (weight**2).sum() / len(weight))
    figures = draws.chance.copy()
    # Single precision keeps the rows as they are: the sum is good to about 1e-6.
    figures[draws.near] = weight.astype(np.float32) @ draws.rows
    for node, values in chance.items():
        # Its rows are chances given all others: weigh them by the others' visits only, then let its own speak once.
        others = np.exp(log_weight - by_node[node])
        column = np.searchsorted(draws.near, node)
        before = draws.chance[node]
        if column < len(draws.near) and draws.near[column] == node and len(by_node) > 1:
            before = float(others @ draws.rows[:, column] / max(others.sum(), _TINY))
        odds = before / max(1.0 - before, 1e-12) * float(np.prod(values))
        figures[node] = odds / (1.0 + odds)
    return _answer(hidden, figures, found, weight, khat, share)


def _overlooked(w: World, draws: Draws, node: int, visit: Visit, on: date) -> FloatArray:
    """Return, draw by draw, the chance that the visit sees nothing if infected; -1 where not infected."""
    none = np.full(len(draws), -1.0)
    entries = np.flatnonzero(draws.node == node)
    present = float(max(visit.colonies_present or 0, visit.colonies_inspected, 1))
    later = (visit.visited_on - on).days
    for entry, draw in zip(entries, draws.draw_of[entries], strict=True):
        signs = draws.days[entry, 1]
        age = w.days - 1 + later - signs
        none[draw] = 1.0
        if signs < w.days and age >= 0:
            sensitivity = float(draws.theta[draw, Slot.SENSITIVITY])
            opened = float(visit.colonies_inspected)
            none[draw] = overlooked(w.growth, w.mending, sensitivity, float(age), present, opened)
    return none


def _mean_overlooked(draws: Draws, none: FloatArray) -> float:
    """Return the mean over the draws in which it is infected, drawn to a half where they are few."""
    inside = none[none >= 0.0]
    return float((inside.sum() + 0.5 * _FEW / 10) / (len(inside) + _FEW / 10))


def _answer(
    hidden: Hidden, figures: FloatArray, found: set[int], weight: FloatArray, khat: float, share: float
) -> Reweighted:
    setup, w, draws = hidden.setup, hidden.world, hidden.draws
    probability: dict[str, float | None] = {}
    for line, node in zip(hidden.answer.apiaries, setup.now, strict=True):
        is_open = line.probability is not None and int(node) not in found
        probability[line.apiary] = float(figures[node]) if is_open else None
    is_today = (w.node["found_how"] == 0) & (w.node["stop"] == w.days)
    is_today[list(found)] = False
    left = np.zeros(len(draws))
    np.add.at(left, draws.draw_of, is_today[draws.node].astype(float))
    warnings = []
    if khat > constants.KHAT_LIMIT.value:
        warnings.append(say("spread.khat_warning", khat=round(khat, 2)))
    if share < constants.EFFECTIVE_SHARE_LIMIT.value:
        warnings.append(say("spread.few_draws_warning", effective_share=share))
    return Reweighted(
        probability=probability,
        unseen_mean=float(figures[is_today].sum()),
        none_probability=float(weight @ (left == 0)),
        effective_share=share,
        khat=khat,
        needs_run=bool(warnings),
        warnings=tuple(warnings),
        weight=weight,
    )


def smoothed(log_weight: FloatArray) -> tuple[FloatArray, float]:
    """Return normalised weights with a smoothed tail, and the tail's k-hat (-inf when all are equal)."""
    size = len(log_weight)
    shifted = log_weight - log_weight.max()
    weight = np.exp(shifted)
    tail = int(min(_MOST_TAIL_SHARE * size, 3.0 * np.sqrt(size)))
    khat = -np.inf
    if tail >= _LEAST_TAIL:
        order = np.argsort(shifted, kind="stable")
        cut = weight[order[-tail - 1]]
        excess = weight[order[-tail:]] - cut
        if excess[-1] > 0.0:
            positive = np.maximum(excess, _TINY)
            khat, sigma = fit_tail(positive)
            points = (np.arange(tail) + 0.5) / tail
            quantile = (
                -np.log1p(-points) if abs(khat) < _NO_TAIL else np.expm1(-khat * np.log1p(-points)) / khat
            )
            weight[order[-tail:]] = np.minimum(cut + sigma * quantile, 1.0)
    return weight / weight.sum(), float(khat)


def fit_tail(excess: FloatArray) -> tuple[float, float]:
    """Return shape and scale of a generalised Pareto distribution fitted to sorted excesses.

    Zhang and Stephens' quasi-Bayesian estimate, the shape drawn weakly to 0.5 as Vehtari et al. do.
    """
    n = len(excess)
    grid = 30 + int(np.sqrt(n))
    quarter = excess[int(n / 4 + 0.5) - 1]
    steps = np.arange(1, grid + 1)
    theta = 1.0 / excess[-1] + (1.0 - np.sqrt(grid / (steps - 0.5))) / (3.0 * max(quarter, _TINY))
    shape = np.log1p(-theta[:, None] * excess[None, :]).mean(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        height = n * (np.log(-theta / shape) - shape - 1.0)
    height = np.where(np.isfinite(height), height, -np.inf)
    share = np.exp(height - height.max())
    best = float((theta * share).sum() / share.sum())
    k = float(np.log1p(-best * excess).mean())
    sigma = -k / best
    return (k * n + 0.5 * 10) / (n + 10), sigma
