"""Why the answer is what it is: what each finding carries, and which number of the model matters most."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import log2

import numpy as np

from broodsweep.diagnosis.conditions import NOTHING_WRONG, Condition, name_of
from broodsweep.diagnosis.infer import (
    group_results,
    group_weights,
    marginals,
    prior_weights,
    sign_weights,
    state_weights,
)
from broodsweep.diagnosis.network import Network, numbers, point_network
from broodsweep.diagnosis.observations import Observations, Prior
from broodsweep.diagnosis.reading import Result
from broodsweep.units import FloatArray
from broodsweep.words import Message, say

_TINY = 1e-300
_HIGHEST = 0.999


@dataclass(frozen=True, kw_only=True)
class Reason:
    """What one finding does to one answer: its weight in bits, positive when it speaks for the answer.

    The weight compares the answer with everything else on the table as it stands: log2 of the odds with
    the finding over the odds without it.
    """

    finding: str
    condition: str
    bits: float
    text: Message


@dataclass(frozen=True, kw_only=True)
class Assumption:
    """A number of the model and how far the answer moves when the number goes to the ends of its interval."""

    where: str
    source: str
    is_published: bool
    value: float
    at_low: float
    at_high: float

    @property
    def swing(self) -> float:
        """How far the probability moves between the two ends."""
        return abs(self.at_high - self.at_low)


def _log_odds(weights: FloatArray, condition: str) -> float:
    row = [*Condition, NOTHING_WRONG].index(condition)
    p = float(marginals(weights / weights.sum(axis=0))[row, 0])
    return log2(max(p, _TINY)) - log2(max(1.0 - p, _TINY))


def explain(
    observed: Observations, results: tuple[Result, ...], condition: str, *, seed: int
) -> tuple[Reason, ...]:
    """Return what each finding does to the answer, the heaviest first, each left out in turn."""
    network = point_network()
    named = list(observed.signs.items())
    factors = [sign_weights(network, [pair], observer=observed.observer) for pair in named]
    groups = group_results(results)
    group_factors = [group_weights(network, group) for group in groups]
    base = prior_weights(network, observed, seed=seed)
    everything = base * np.prod([*factors, *group_factors], axis=0) if (factors or groups) else base
    here = _log_odds(everything, condition)
    found = []
    for (sign, is_seen), factor in zip(named, factors, strict=True):
        bits = here - _log_odds(everything / factor, condition)
        found.append(_reason(sign, condition, bits, _sign_text(sign, is_seen)))
    for group, factor in zip(groups, group_factors, strict=True):
        rest = everything / factor
        for result in group:
            others = tuple(other for other in group if other is not result)
            without = rest * group_weights(network, others) if others else rest
            bits = here - _log_odds(without, condition)
            found.append(_reason(result.method.name, condition, bits, result_text(result)))
    return tuple(sorted(found, key=lambda reason: -abs(reason.bits)))


def _reason(finding: str, condition: str, bits: float, what: Message) -> Reason:
    key = "diagnosis.reason_for" if bits >= 0 else "diagnosis.reason_against"
    text = say(key, what=what, condition=name_of(condition), bits=round(abs(bits), 1))
    return Reason(finding=finding, condition=condition, bits=bits, text=text)


def _sign_text(sign: str, is_seen: bool) -> Message:
    return say("diagnosis.seen" if is_seen else "diagnosis.not_seen", sign=say(f"diagnosis.sign.{sign}"))


def result_text(result: Result) -> Message:
    """Return a result in words: the test and what it said."""
    return say(
        "diagnosis.result",
        test=say(f"diagnosis.test.{result.method.name}"),
        outcome=say(f"diagnosis.outcome.{result.outcome or 'invalid'}"),
    )


def relevant_slots(observed: Observations, results: tuple[Result, ...]) -> tuple[int, ...]:
    """Return the slots of the numbers that this evidence touches."""
    tests = {result.method.name for result in results if result.outcome is not None}
    samples = {f"{r.method.target}/{r.method.sample}" for r in results if r.outcome is not None}
    found = []
    for slot, number in enumerate(numbers()):
        kind, _, rest = number.where.partition("/")
        first = rest.split("/")[0]
        touched = (
            (kind == "sign" and first in observed.signs)
            or (kind == "prior" and first not in observed.prior)
            or (kind == "season" and observed.season is not None and rest.endswith(f"/{observed.season}"))
            or (kind == "stage" and f"/{observed.season or 'any'}/" in number.where)
            or (kind == "context" and observed.context.touches(first))
            or (kind == "sample" and any(rest.startswith(sample) for sample in samples))
            or (kind == "test" and first in tests)
            or (kind == "misread" and observed.observer == "untrained")
        )
        if touched and number.high > number.low:
            found.append(slot)
    return tuple(found)


def assumptions(
    observed: Observations,
    results: tuple[Result, ...],
    condition: str,
    *,
    seed: int,
    change: float | None = None,
) -> tuple[Assumption, ...]:
    """Return the numbers that matter most to an answer, the widest swing first.

    Parameters
    ----------
    change
        When given, every number is moved by this share of itself (0.5 is ±50 %, at most to 0.999)
        instead of to the ends of its own interval, and published numbers are left out.
    """
    slots = relevant_slots(observed, results)
    if change is not None:
        slots = tuple(slot for slot in slots if not numbers()[slot].is_published)
    if not slots:
        return ()
    # a prior from outside stays at its point: here one number moves at a time
    held = {
        name: Prior(probability=prior.probability, beside=prior.beside)
        for name, prior in observed.prior.items()
    }
    observed = replace(observed, prior=held)
    ends = _ends(slots, change, observed, results, condition, seed=seed)
    found = [
        Assumption(
            where=numbers()[slot].where,
            source=numbers()[slot].source,
            is_published=numbers()[slot].is_published,
            value=numbers()[slot].value,
            at_low=ends[slot][0],
            at_high=ends[slot][1],
        )
        for slot in slots
    ]
    return tuple(sorted(found, key=lambda assumption: -assumption.swing))


def _ends(
    slots: tuple[int, ...],
    change: float | None,
    observed: Observations,
    results: tuple[Result, ...],
    condition: str,
    *,
    seed: int,
) -> dict[int, tuple[float, float]]:
    """Return the answer with each number at its two ends.

    A number of a sign moves the factor of that sign alone, so that only this factor is computed for it.
    """
    row = [*Condition, NOTHING_WRONG].index(condition)
    by_sign: dict[str | None, list[int]] = {}
    for slot in slots:
        kind, _, rest = numbers()[slot].where.partition("/")
        by_sign.setdefault(rest.split("/")[0] if kind == "sign" else None, []).append(slot)
    point = state_weights(point_network(), observed, results, seed=seed)
    found: dict[int, tuple[float, float]] = {}
    for sign, members in by_sign.items():
        network = moved(tuple(members), change)
        if sign is None:
            weights = state_weights(network, observed, results, seed=seed)
        else:
            factor = sign_weights(network, [(sign, observed.signs[sign])], observer=observed.observer)
            weights = factor * (point / factor[:, :1])
            weights /= weights.sum(axis=0)
        chance = marginals(weights)[row]
        for index, slot in enumerate(members):
            found[slot] = (float(chance[1 + 2 * index]), float(chance[2 + 2 * index]))
    return found


def moved(slots: tuple[int, ...], change: float | None) -> Network:
    """Return a network whose row 0 stands as it is and whose further rows move one number down, then up."""
    point = np.array([number.value for number in numbers()])
    values = np.tile(point, (1 + 2 * len(slots), 1))
    for index, slot in enumerate(slots):
        number = numbers()[slot]
        low, high = number.low, number.high
        if change is not None:
            low, high = number.value * (1.0 - change), number.value * (1.0 + change)
        if number.kind == "probability":
            high = min(high, _HIGHEST)
        values[1 + 2 * index, slot], values[2 + 2 * index, slot] = low, high
    return Network(values=values)
