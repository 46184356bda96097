"""Exact inference: the weight of every state, and from it the probability of every condition.

All states of the network are enumerated (about a thousand), so nothing is approximated: the likelihood
of each finding is computed for each state and multiplied.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from broodsweep.diagnosis.conditions import FOULBROODS, NOTHING_WRONG, STAGES, Condition, Stage
from broodsweep.diagnosis.constants import INTERVAL_Z
from broodsweep.diagnosis.context import context_factors, factor_index
from broodsweep.diagnosis.matrix import signs as all_signs
from broodsweep.diagnosis.network import ABSENT, Network, all_states, sample_states
from broodsweep.diagnosis.numbers import logit, normals
from broodsweep.diagnosis.observations import Observations, Prior
from broodsweep.diagnosis.reading import Result
from broodsweep.units import FloatArray

LOW, HIGH = 0.05, 0.95
_PRIOR_SLOT = 2_000_000


@dataclass(frozen=True, kw_only=True)
class Belief:
    """Probability of one answer, with the interval that the uncertainty of the model's numbers gives it."""

    condition: str
    probability: float
    low: float
    high: float


def group_results(results: Iterable[Result]) -> tuple[tuple[Result, ...], ...]:
    """Put results that share a sample together; a result without a sample stands alone, an invalid one falls out."""
    groups: dict[object, list[Result]] = {}
    for index, result in enumerate(results):
        if result.outcome is None:
            continue
        sample = result.reading.sample
        own: object = index if sample is None else sample
        groups.setdefault((result.method.target, result.method.sample, sample is None, own), []).append(
            result
        )
    return tuple(tuple(group) for group in groups.values())


def prior_weights(network: Network, observed: Observations, *, seed: int) -> FloatArray:
    """Return the prior weight of every state, shape (states, rows), not normalised."""
    order = list(Condition)
    factors = np.ones((len(order), network.rows))
    contexts = network.section("contexts").T
    for condition, chosen in context_factors(observed.context).items():
        for index in chosen:
            factors[order.index(condition)] *= contexts[index]
    given = None
    if observed.prior:
        given = np.full((len(order), network.rows), np.nan)
        for condition, prior in observed.prior.items():
            row = _given_odds(prior, network.rows, order.index(condition), seed)
            for name in prior.beside:
                row = row * contexts[factor_index(name)]
            given[order.index(condition)] = row
    odds = network.prior_odds(observed.season, factors, given)
    return _over_states(odds, odds[0])


def _given_odds(prior: Prior, rows: int, slot: int, seed: int) -> FloatArray:
    """Return the odds of a prior from outside: as given in row 0, drawn within its interval in the others."""
    out = np.full(rows, prior.probability / (1.0 - prior.probability))
    if prior.low is not None and prior.high is not None and rows > 1 and rows % 2:
        sd = (logit(prior.high) - logit(prior.low)) / (2.0 * INTERVAL_Z)
        out[1:] *= np.exp(sd * normals(seed, rows - 1, np.array([_PRIOR_SLOT + slot]))[:, 0])
    return out


def _over_states(by_column: FloatArray, first: FloatArray, into: FloatArray | None = None) -> FloatArray:
    """Multiply a factor of each part (columns, rows) over the parts present, and ``first`` in every state.

    The answer has shape (states, rows); it is written into ``into`` when that is given, because fresh
    memory costs more than the multiplication.
    """
    found = all_states()
    out = np.empty((len(found.prefix), by_column.shape[1])) if into is None else into
    out[0] = first
    for group in found.by_size[1:]:  # a state is an earlier one and one more part
        np.take(out, found.prefix[group], axis=0, out=out[group], mode="clip")
        out[group] *= by_column[found.last[group]]
    return out


def sign_weights(network: Network, signs: Iterable[tuple[str, bool]], *, observer: str) -> FloatArray:
    """Return the likelihood of the signs in every state, shape (states, rows)."""
    names, table = all_signs(), network.not_caused
    misread = network.section("misread")[:, 0] if observer == "untrained" else None
    absent, seen = np.ones(table.shape[1:]), []
    for sign, is_seen in signs:
        if not is_seen and misread is None:
            # "not seen" factorises over the parts: one product for all such signs
            absent = absent * table[names.index(sign)]
        else:
            seen.append((table[names.index(sign)], is_seen))
    out = _over_states(absent, absent[0])
    chance = np.empty_like(out)
    for row, is_seen in seen:
        _over_states(row, row[0], chance)  # the chance that nothing causes the sign
        if is_seen:
            np.subtract(1.0, chance, out=chance)
        if misread is not None:
            chance *= 1.0 - 2.0 * misread
            chance += misread
        out *= chance
    return out


def group_weights(network: Network, group: tuple[Result, ...]) -> FloatArray:
    """Return the likelihood in every state of results on one sample, shape (states, rows)."""
    method = group[0].method
    holds = network.pools[method.target, method.sample]
    with_agent = np.ones((ABSENT + 1, network.rows))
    without = np.ones((2, network.rows))
    for result in group:
        held, free = network.steps[result.method.name]
        index = result.method.outcomes.index(result.outcome or "")
        even = (1.0 - result.trust) / len(result.method.outcomes)
        with_agent = with_agent * (result.trust * held[:, index] + even)
        without = without * (result.trust * free[:, index] + even)
    table = holds[:, None] * with_agent[:, None] + (1.0 - holds[:, None]) * without[None, :]
    confusing = next((result.method for result in group if result.method.confuser is not None), method)
    stage, confused = sample_states(confusing)
    return np.asarray(table[stage, confused])


def state_weights(
    network: Network, observed: Observations, results: Iterable[Result], *, seed: int
) -> FloatArray:
    """Return the posterior weight of every state, shape (states, rows), each row summing to 1."""
    weights = prior_weights(network, observed, seed=seed)
    weights = weights * sign_weights(network, observed.signs.items(), observer=observed.observer)
    for group in group_results(results):
        weights = weights * group_weights(network, group)
    return np.asarray(weights / weights.sum(axis=0))


def marginals(weights: FloatArray) -> FloatArray:
    """Return the probability of each condition, and last of nothing wrong, shape (conditions + 1, rows)."""
    has = all_states().has
    nothing = weights[:1]  # the first state is the empty one
    return np.vstack([np.einsum("cs,sr->cr", has, weights), nothing])


def beliefs(weights: FloatArray) -> tuple[Belief, ...]:
    """Return every answer with its interval, the most probable first."""
    table = marginals(weights)
    drawn = table[:, 1:] if table.shape[1] > 1 else table
    low, high = np.quantile(drawn, LOW, axis=1), np.quantile(drawn, HIGH, axis=1)
    names = [*Condition, NOTHING_WRONG]
    found = [
        Belief(
            condition=str(name),
            probability=float(min(max(point, 0.0), 1.0)),
            low=float(min(max(bottom, 0.0), point)),
            high=float(max(min(top, 1.0), point)),
        )
        for name, point, bottom, top in zip(names, table[:, 0], low, high, strict=True)
    ]
    return tuple(sorted(found, key=lambda belief: -belief.probability))


def stage_shares(weights: FloatArray) -> dict[Condition, dict[Stage, float]]:
    """Return for each foulbrood how likely each stage is if the disease is present, by the numbers as they stand."""
    key, order = all_states().stage_key, list(Condition)
    found = {}
    for disease in FOULBROODS:
        row = key[order.index(disease)]
        chance = [float(weights[row == index, 0].sum()) for index in range(len(STAGES))]
        found[disease] = {stage: p / sum(chance) for stage, p in zip(STAGES, chance, strict=True)}
    return found
