"""Step-by-step guides to the tests, with a timer where a step has to last, and the cautions that belong to it."""

from __future__ import annotations

from dataclasses import dataclass

from broodsweep.diagnosis import constants as c
from broodsweep.words import Message, say


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step of a guide; ``timer_s`` is how long it lasts, None when it takes as long as it takes. [s]"""

    text: Message
    timer_s: float | None = None


@dataclass(frozen=True, kw_only=True)
class Guide:
    """How a test is done: cautions first, then the steps."""

    test: str
    cautions: tuple[Message, ...]
    steps: tuple[Step, ...]


_FLOW_WAIT = "flow.wait"
_TIMERS: dict[str, float] = {
    "flow.shake": c.SHAKE_S.value,
    _FLOW_WAIT: c.READ_AFTER_MIN.value * 60,
    "holst.wait": c.HOLST_WAIT_S.value,
    "mites.stand": c.STAND_S.value,
}
_FLOW = (
    "gloves maker local",
    "flow.check flow.larva flow.bottle flow.shake flow.drops flow.wait flow.read flow.keep",
)
_BROOD = ("gloves local", "brood.piece brood.wrap brood.label brood.send")
_SMEAR = ("gloves local", "smear.make smear.send brood.label")
_BEES = ("bees alcohol local", "bees.take bees.cool bees.count brood.label")
_HONEY = ("local", "honey.take honey.tube brood.label")
_DEBRIS = ("local", "debris.take brood.label")
_PLANS: dict[str, tuple[str, str]] = {
    "ropiness": (
        "gloves burn_stick no_drip lungs",
        "rope.choose rope.stir rope.draw rope.measure rope.read rope.again",
    ),
    "lateral_flow_afb": _FLOW,
    "lateral_flow_efb": _FLOW,
    "isothermal_afb": ("gloves maker", "dna.larva dna.run dna.read brood.label"),
    "holst_milk": ("gloves hot", "holst.mix holst.scale holst.wait holst.read"),
    "scale_uv": ("eyes", "uv.shade uv.look uv.read"),
    "microscopy_afb": _SMEAR,
    "microscopy_efb": _SMEAR,
    "culture_afb": _BROOD,
    "culture_efb": _BROOD,
    "pcr_brood_afb": _BROOD,
    "pcr_brood_efb": _BROOD,
    "pcr_bees_afb": _BEES,
    "pcr_bees_efb": _BEES,
    "culture_bees_afb": _BEES,
    "culture_honey_afb": _HONEY,
    "pcr_honey_afb": _HONEY,
    "pcr_honey_efb": _HONEY,
    "pcr_debris_afb": _DEBRIS,
    "pcr_debris_efb": _DEBRIS,
    "sugar_roll": ("bees", "mites.bees mites.sugar mites.stand mites.shake mites.read"),
    "scale": ("gloves no_drip", "scale.hold scale.look scale.pick"),
}


def guide_to(test: str) -> Guide:
    """Return how a test (or the look for ``scale``) is done.

    Raises
    ------
    ValueError
        If there is no such test.
    """
    if test not in _PLANS:
        raise ValueError(f"Expected one of {sorted(_PLANS)}, got {test!r}.")
    cautions, steps = _PLANS[test]
    return Guide(
        test=test,
        cautions=tuple(say(f"diagnosis.guide.caution.{name}") for name in cautions.split()),
        steps=tuple(
            Step(text=say(f"diagnosis.guide.{name}"), timer_s=_TIMERS.get(name)) for name in steps.split()
        ),
    )


def guides() -> tuple[Guide, ...]:
    """Return every guide."""
    return tuple(guide_to(test) for test in _PLANS)
