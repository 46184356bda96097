"""The tests: what each looks for, on which sample, how it answers and how good it is.

A test does not look at the disease but at a sample. Whether the sample holds the agent is a node of its
own between disease and results: results on the same larva share it, so a second test on the same larva
says less than one on a second larva.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from broodsweep.diagnosis import constants as c
from broodsweep.diagnosis.conditions import Condition
from broodsweep.sources import Sourced


class Sample(StrEnum):
    """What a test is made on."""

    LARVA = "larva"
    COMB = "comb"
    BEES = "bees"
    HONEY = "honey"
    DEBRIS = "debris"


class Evidence(StrEnum):
    """What kind of evidence a result is, in the words of the rulebooks."""

    FIELD_LOOK = "signs"
    FIELD_TEST = "field_kit"
    LABORATORY = "laboratory"
    VETERINARY = "veterinary_examination"


ByStage = tuple[Sourced, Sourced, Sourced, Sourced]
"""Values for the early, the advanced, the dried and the atypical stage."""


@dataclass(frozen=True, kw_only=True)
class Pool:
    """How often a sample holds what the tests look for: by stage with the disease, and without it."""

    with_disease: ByStage
    without: Sourced


@dataclass(frozen=True, kw_only=True)
class Method:
    """A test.

    ``outcomes`` stand in order; step i of ``held``, ``not_held`` and ``confused`` is the chance of
    outcome i when none of the earlier outcomes came (the last outcome takes the rest). ``held`` is for a
    sample that holds the agent (by stage), ``not_held`` for one that does not, ``confused`` for one that
    does not in a colony with the ``confuser``.
    """

    name: str
    target: Condition
    sample: Sample
    outcomes: tuple[str, ...]
    held: tuple[ByStage, ...]
    not_held: tuple[Sourced, ...]
    evidence: Evidence
    minutes: float
    cost: float
    waiting_days: float = 0.0
    positives: frozenset[str] = frozenset({"positive"})
    confirms: bool = False
    confuser: Condition | None = None
    confused: tuple[Sourced, ...] = field(default=())

    @property
    def is_specific(self) -> bool:
        """Say whether a positive alone makes a suspicion: confirming tests, and the rope."""
        return self.confirms or self.name == "ropiness"

    def __post_init__(self) -> None:
        steps = len(self.outcomes) - 1
        if len(self.held) != steps or len(self.not_held) != steps:
            raise ValueError(f"Expected {steps} steps for {self.name}.")
        if (self.confuser is None) != (not self.confused) or len(self.confused) not in (0, steps):
            raise ValueError(f"Expected {steps} confused steps with a confuser for {self.name}.")


def ours(value: float, low: float, high: float, reason: str) -> Sourced:
    """Return a number that the project chose, with its interval and the reason."""
    return c.choice(value, reason, low, high)


_PICK = "share of picked samples that hold the agent, by stage; no figure found"
POOLS: dict[tuple[Condition, Sample], Pool] = {
    (Condition.AFB, Sample.LARVA): Pool(
        with_disease=(
            ours(0.88, 0.70, 0.96, _PICK),
            ours(0.97, 0.90, 0.99, _PICK),
            ours(0.80, 0.55, 0.93, _PICK),
            ours(0.80, 0.50, 0.93, _PICK),
        ),
        without=ours(0.003, 0.001, 0.01, "half of the false positives lie in the larva"),
    ),
    (Condition.EFB, Sample.LARVA): Pool(
        with_disease=(
            ours(0.92, 0.75, 0.97, _PICK),
            ours(0.97, 0.90, 0.99, _PICK),
            ours(0.65, 0.40, 0.85, _PICK),
            ours(0.90, 0.70, 0.97, _PICK),
        ),
        without=ours(0.005, 0.001, 0.015, "half of the false positives lie in the larva"),
    ),
    (Condition.AFB, Sample.COMB): Pool(
        with_disease=(
            ours(0.10, 0.03, 0.25, _PICK),
            ours(0.70, 0.45, 0.87, _PICK),
            ours(0.96, 0.88, 0.99, _PICK),
            ours(0.10, 0.03, 0.25, _PICK),
        ),
        without=ours(0.02, 0.005, 0.06, _PICK),
    ),
    (Condition.AFB, Sample.BEES): Pool(
        with_disease=(
            ours(0.85, 0.65, 0.95, _PICK),
            ours(0.96, 0.88, 0.99, _PICK),
            ours(0.93, 0.80, 0.98, _PICK),
            ours(0.93, 0.80, 0.98, _PICK),
        ),
        without=ours(0.05, 0.02, 0.15, "spores without signs; half of the false positives"),
    ),
    (Condition.AFB, Sample.HONEY): Pool(
        with_disease=(
            ours(0.80, 0.60, 0.92, _PICK),
            ours(0.95, 0.85, 0.99, _PICK),
            ours(0.95, 0.85, 0.99, _PICK),
            ours(0.90, 0.75, 0.97, _PICK),
        ),
        without=c.AFB_HONEY_CARRIAGE,
    ),
    (Condition.AFB, Sample.DEBRIS): Pool(
        with_disease=(
            ours(0.70, 0.45, 0.87, _PICK),
            ours(0.90, 0.75, 0.97, _PICK),
            ours(0.90, 0.75, 0.97, _PICK),
            ours(0.85, 0.65, 0.95, _PICK),
        ),
        without=ours(0.06, 0.02, 0.15, "half of the false positives"),
    ),
    (Condition.EFB, Sample.BEES): Pool(
        with_disease=(
            ours(0.93, 0.80, 0.98, _PICK),
            ours(0.97, 0.90, 0.99, _PICK),
            ours(0.90, 0.70, 0.97, _PICK),
            ours(0.95, 0.85, 0.99, _PICK),
        ),
        without=ours(0.25, 0.08, 0.40, "none without history, about 30 % near sick apiaries (Belloy 2007)"),
    ),
    (Condition.EFB, Sample.HONEY): Pool(
        with_disease=(
            ours(0.90, 0.70, 0.97, _PICK),
            ours(0.93, 0.80, 0.98, _PICK),
            ours(0.90, 0.70, 0.97, _PICK),
            ours(0.90, 0.70, 0.97, _PICK),
        ),
        without=ours(0.08, 0.03, 0.20, "half of the false positives"),
    ),
    (Condition.EFB, Sample.DEBRIS): Pool(
        with_disease=(
            ours(0.80, 0.55, 0.92, _PICK),
            ours(0.85, 0.65, 0.95, _PICK),
            ours(0.80, 0.55, 0.92, _PICK),
            ours(0.82, 0.60, 0.93, _PICK),
        ),
        without=ours(0.10, 0.04, 0.22, "half of the false positives"),
    ),
    (Condition.MITE_SYNDROME, Sample.BEES): Pool(
        with_disease=(ours(0.98, 0.93, 0.995, _PICK),) * 4,
        without=ours(0.12, 0.05, 0.25, "many mites without brood damage"),
    ),
}
"""How often a sample holds the agent."""
