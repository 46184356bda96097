"""Builds tests from published sensitivity and specificity, split into the sample and the device."""

from __future__ import annotations

from broodsweep.diagnosis import constants as c
from broodsweep.diagnosis.conditions import Condition
from broodsweep.diagnosis.methods import POOLS, ByStage, Evidence, Method, Sample
from broodsweep.sources import Sourced

_TOP, _FLOOR = 0.995, 0.0005
_LIMIT = 0.9995


def _derived(value: float, of: Sourced, *, is_complement: bool = False) -> Sourced:
    """Return a value computed from a published one, the interval kept at the same odds distance."""
    published = 1.0 - of.value if is_complement else of.value
    low, high = (of.value if end is None else end for end in (of.low, of.high))
    if is_complement:
        low, high = 1.0 - high, 1.0 - low
    value = min(max(value, _FLOOR), _TOP)

    def moved(end: float) -> float:
        end, middle = (min(max(p, _FLOOR), _LIMIT) for p in (end, published))
        odds = value / (1.0 - value) * (end / (1.0 - end)) / (middle / (1.0 - middle))
        return odds / (1.0 + odds)

    standing = "computed" if of.standing in ("read", "computed") else of.standing
    return Sourced(
        value=value,
        unit="1",
        source=of.source,
        locator=f"{of.locator}; given the sample",
        standing=standing,
        low=min(moved(low), value),
        high=max(min(moved(high), _LIMIT), value),
    )


def yes_no(
    name: str,
    target: Condition,
    sample: Sample,
    sensitivity: Sourced,
    false_positive: Sourced,
    *,
    by_stage: tuple[float, float, float, float] = (1.0, 1.0, 1.0, 1.0),
    is_specificity: bool = False,
    evidence: Evidence,
    minutes: float,
    cost: float,
    waiting_days: float = 0.0,
    confirms: bool = False,
) -> Method:
    """Return a test that answers positive or negative, split into sample and device.

    The published sensitivity is that of the advanced stage: share of good samples times sensitivity on a
    good sample, plus the false positives on the others.
    """
    pool = POOLS[target, sample]
    good, stray = pool.with_disease[1].value, pool.without.value
    if sample is Sample.COMB:
        good = 1.0  # figures for scale are for scale that is there
    wrong = 1.0 - false_positive.value if is_specificity else false_positive.value
    on_good = (sensitivity.value - (1.0 - good) * wrong / 2.0) / good
    on_good = min(on_good, _TOP)
    device = max((wrong - stray * on_good) / (1.0 - stray), wrong / 4.0, _FLOOR)
    held: ByStage = tuple(_derived(on_good * factor, sensitivity) for factor in by_stage)  # type: ignore[assignment]
    return Method(
        name=name,
        target=target,
        sample=sample,
        outcomes=("positive", "negative"),
        held=(held,),
        not_held=(_derived(device, false_positive, is_complement=is_specificity),),
        evidence=evidence,
        minutes=minutes,
        cost=cost,
        waiting_days=waiting_days,
        confirms=confirms,
    )


def count_test(
    name: str, sample: Sample, sensitivity: Sourced, false_positive: Sourced, cost: float
) -> Method:
    """Return a quantitative test of bees or debris: high load, low load or none."""
    plain = yes_no(
        name,
        Condition.AFB,
        sample,
        sensitivity,
        false_positive,
        evidence=Evidence.LABORATORY,
        minutes=15,
        cost=cost,
        waiting_days=4,
    )
    high, carrier = c.HIGH_LOAD_WHEN_SICK, c.HIGH_LOAD_WHEN_CARRIER
    any_held, any_not = plain.held[0][1].value, plain.not_held[0].value

    def split(any_positive: float, share: float, of: Sourced) -> tuple[Sourced, Sourced]:
        first = any_positive * share
        return _derived(first, of), _derived((any_positive - first) / (1.0 - first), of)

    held, free = split(any_held, high.value, sensitivity), split(any_not, carrier.value, false_positive)
    return Method(
        name=name,
        target=Condition.AFB,
        sample=sample,
        outcomes=("high", "low", "negative"),
        held=((held[0],) * 4, (held[1],) * 4),
        not_held=free,
        positives=frozenset({"high", "low"}),
        evidence=Evidence.LABORATORY,
        minutes=15,
        cost=cost,
        waiting_days=4,
    )
