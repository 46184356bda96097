"""The list of tests, their figures derived from the published ones in ``constants``."""

from __future__ import annotations

from broodsweep.diagnosis import constants as c
from broodsweep.diagnosis.conditions import Condition
from broodsweep.diagnosis.methods import POOLS, ByStage, Evidence, Method, Sample, ours
from broodsweep.sources import Sourced

_TOP, _FLOOR = 0.995, 0.0005
_LIMIT = 0.9995
AFB, EFB = Condition.AFB, Condition.EFB


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


def _yes_no(
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


_ROPE = "split of the matrix row for ropes by length and stage; no figure found"
ROPINESS = Method(
    name="ropiness",
    target=AFB,
    sample=Sample.LARVA,
    outcomes=("long", "positive", "doubtful", "negative"),
    held=(
        (
            ours(0.22, 0.08, 0.4, _ROPE),
            ours(0.70, 0.5, 0.88, _ROPE),
            ours(0.06, 0.02, 0.15, _ROPE),
            ours(0.15, 0.05, 0.3, _ROPE),
        ),
        (
            ours(0.20, 0.08, 0.4, _ROPE),
            ours(0.60, 0.35, 0.8, _ROPE),
            ours(0.14, 0.06, 0.25, _ROPE),
            ours(0.18, 0.08, 0.35, _ROPE),
        ),
        (
            ours(0.30, 0.12, 0.5, _ROPE),
            ours(0.50, 0.25, 0.75, _ROPE),
            ours(0.20, 0.08, 0.4, _ROPE),
            ours(0.3, 0.12, 0.5, _ROPE),
        ),
    ),
    not_held=(
        ours(0.001, 0.0003, 0.004, "nothing else ropes 2.5 cm"),
        ours(0.005, 0.0015, 0.015, "over 2 cm: no other disease (Milbrath)"),
        ours(0.04, 0.015, 0.1, _ROPE),
    ),
    confuser=EFB,
    confused=(
        ours(0.003, 0.001, 0.012, "nothing but American foulbrood ropes 2.5 cm"),
        ours(0.06, 0.02, 0.12, "European foulbrood rarely ropes; matrix letter R"),
        ours(0.25, 0.12, 0.45, "European foulbrood is rarely sticky"),
    ),
    positives=frozenset({"long", "positive"}),
    evidence=Evidence.FIELD_LOOK,
    minutes=2,
    cost=0,
)


def _load(name: str, sample: Sample, sensitivity: Sourced, false_positive: Sourced, cost: float) -> Method:
    """Return a quantitative test of bees or debris: high load, low load or none."""
    plain = _yes_no(
        name,
        AFB,
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
        target=AFB,
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


_LAB = Evidence.LABORATORY
_LARVA, _COMB, _BEES, _HONEY, _DEBRIS = Sample
CATALOGUE: tuple[Method, ...] = (
    ROPINESS,
    _yes_no(
        "lateral_flow_afb",
        AFB,
        _LARVA,
        c.AFB_LATERAL_FLOW_SENSITIVITY,
        c.AFB_LATERAL_FLOW_FALSE_POSITIVE,
        by_stage=(0.9, 1.0, 0.55, 0.95),
        evidence=Evidence.FIELD_TEST,
        minutes=6,
        cost=1,
        confirms=True,
    ),
    _yes_no(
        "lateral_flow_efb",
        EFB,
        _LARVA,
        c.EFB_LATERAL_FLOW_SENSITIVITY,
        c.EFB_LATERAL_FLOW_FALSE_POSITIVE,
        by_stage=(0.97, 1.0, 0.6, 0.8),
        evidence=Evidence.FIELD_TEST,
        minutes=6,
        cost=1,
        confirms=True,
    ),
    _yes_no(
        "isothermal_afb",
        AFB,
        _LARVA,
        c.AFB_ISOTHERMAL_SENSITIVITY,
        c.NEVER_QUITE_FALSE_POSITIVE,
        by_stage=(0.95, 1.0, 0.9, 0.9),
        evidence=Evidence.FIELD_TEST,
        minutes=40,
        cost=2,
        confirms=True,
    ),
    _yes_no(
        "holst_milk",
        AFB,
        _COMB,
        c.HOLST_SENSITIVITY,
        c.HOLST_FALSE_POSITIVE,
        by_stage=(0.6, 1.0, 1.0, 0.9),
        evidence=Evidence.FIELD_LOOK,
        minutes=25,
        cost=0.2,
    ),
    _yes_no(
        "scale_uv",
        AFB,
        _COMB,
        c.UV_SENSITIVITY,
        c.UV_FALSE_POSITIVE,
        evidence=Evidence.FIELD_LOOK,
        minutes=4,
        cost=0,
    ),
    _yes_no(
        "microscopy_afb",
        AFB,
        _LARVA,
        c.AFB_MICROSCOPY_SENSITIVITY,
        c.MICROSCOPY_FALSE_POSITIVE,
        by_stage=(0.7, 1.0, 1.0, 0.9),
        evidence=_LAB,
        minutes=10,
        cost=2,
        waiting_days=2,
        confirms=True,
    ),
    _yes_no(
        "microscopy_efb",
        EFB,
        _LARVA,
        c.EFB_MICROSCOPY_SENSITIVITY,
        c.MICROSCOPY_FALSE_POSITIVE,
        by_stage=(1.0, 1.0, 0.6, 0.9),
        evidence=_LAB,
        minutes=10,
        cost=2,
        waiting_days=2,
        confirms=True,
    ),
    _yes_no(
        "culture_afb",
        AFB,
        _LARVA,
        c.AFB_CULTURE_SENSITIVITY,
        c.CULTURE_FALSE_POSITIVE,
        by_stage=(0.95, 1.0, 0.98, 0.9),
        evidence=_LAB,
        minutes=10,
        cost=3,
        waiting_days=6,
        confirms=True,
    ),
    _yes_no(
        "culture_efb",
        EFB,
        _LARVA,
        c.EFB_CULTURE_SENSITIVITY,
        c.CULTURE_FALSE_POSITIVE,
        by_stage=(1.0, 1.0, 0.6, 0.9),
        evidence=_LAB,
        minutes=10,
        cost=3,
        waiting_days=8,
        confirms=True,
    ),
    _yes_no(
        "pcr_brood_afb",
        AFB,
        _LARVA,
        c.BROOD_PCR_SENSITIVITY,
        c.BROOD_PCR_FALSE_POSITIVE,
        evidence=_LAB,
        minutes=10,
        cost=4,
        waiting_days=4,
        confirms=True,
    ),
    _yes_no(
        "pcr_brood_efb",
        EFB,
        _LARVA,
        c.BROOD_PCR_SENSITIVITY,
        c.BROOD_PCR_FALSE_POSITIVE,
        evidence=_LAB,
        minutes=10,
        cost=4,
        waiting_days=4,
        confirms=True,
    ),
    _load("pcr_bees_afb", _BEES, c.AFB_BEES_SENSITIVITY, c.AFB_BEES_FALSE_POSITIVE, 4),
    _load("pcr_debris_afb", _DEBRIS, c.AFB_DEBRIS_SENSITIVITY, c.AFB_DEBRIS_FALSE_POSITIVE, 4),
    _yes_no(
        "culture_bees_afb",
        AFB,
        _BEES,
        c.AFB_BEES_SENSITIVITY,
        c.AFB_BEES_FALSE_POSITIVE,
        evidence=_LAB,
        minutes=15,
        cost=3,
        waiting_days=6,
    ),
    _yes_no(
        "culture_honey_afb",
        AFB,
        _HONEY,
        c.AFB_HONEY_SENSITIVITY,
        c.AFB_HONEY_CARRIAGE,
        evidence=_LAB,
        minutes=15,
        cost=3,
        waiting_days=6,
    ),
    _yes_no(
        "pcr_honey_afb",
        AFB,
        _HONEY,
        c.AFB_HONEY_SENSITIVITY,
        c.AFB_HONEY_CARRIAGE,
        evidence=_LAB,
        minutes=15,
        cost=4,
        waiting_days=4,
    ),
    _yes_no(
        "pcr_bees_efb",
        EFB,
        _BEES,
        c.EFB_BEES_PCR_SENSITIVITY,
        c.EFB_BEES_PCR_SPECIFICITY,
        is_specificity=True,
        evidence=_LAB,
        minutes=15,
        cost=4,
        waiting_days=4,
    ),
    _yes_no(
        "pcr_honey_efb",
        EFB,
        _HONEY,
        c.EFB_HONEY_PCR_SENSITIVITY,
        c.EFB_HONEY_PCR_SPECIFICITY,
        is_specificity=True,
        evidence=_LAB,
        minutes=15,
        cost=4,
        waiting_days=4,
    ),
    _yes_no(
        "pcr_debris_efb",
        EFB,
        _DEBRIS,
        c.EFB_DEBRIS_PCR_SENSITIVITY,
        c.EFB_DEBRIS_PCR_SPECIFICITY,
        is_specificity=True,
        evidence=_LAB,
        minutes=15,
        cost=4,
        waiting_days=4,
    ),
    _yes_no(
        "sugar_roll",
        Condition.MITE_SYNDROME,
        _BEES,
        c.MITE_ROLL_SENSITIVITY,
        c.MITE_ROLL_FALSE_POSITIVE,
        evidence=Evidence.FIELD_LOOK,
        minutes=10,
        cost=0.1,
    ),
)
"""Every test, the field first. Minutes are hands-on, cost is in field kits, both the project's choice."""

METHODS: dict[str, Method] = {method.name: method for method in CATALOGUE}
