"""What a comb can suffer from: conditions, their stages, and the ways they can be present together."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

from broodsweep.constants import Disease
from broodsweep.diagnosis.constants import MOST_CONDITIONS_TOGETHER
from broodsweep.words import Message, say


class Condition(StrEnum):
    """A condition of the brood that can be present, alone or with others."""

    AFB = Disease.AFB.value
    EFB = Disease.EFB.value
    SACBROOD = "sacbrood"
    CHALKBROOD = "chalkbrood"
    STONEBROOD = "stonebrood"
    MITE_SYNDROME = "mite_syndrome"
    CHILLED = "chilled"
    DRONE_LAYER = "drone_layer"
    BALD = "bald"
    POISONING = "poisoning"
    STARVED = "starved"
    WAX_MOTH = "wax_moth"
    HIVE_BEETLE = "hive_beetle"
    TROPILAELAPS = "tropilaelaps"
    HALF_MOON = "half_moon"


NOTHING_WRONG = "nothing_wrong"
"""Name of the answer that none of the conditions is present."""

FOULBROODS = (Condition.AFB, Condition.EFB)
EXOTICS = (Condition.HIVE_BEETLE, Condition.TROPILAELAPS)
"""Pests that most of Europe does not have: to be excluded, and notifiable on suspicion."""


class Stage(StrEnum):
    """How far a foulbrood has gone in the cells that are looked at."""

    EARLY = "early"
    ADVANCED = "advanced"
    DRIED = "dried"
    ATYPICAL = "atypical"
    """American foulbrood that kills before capping; European foulbrood that looks like American."""


class Season(StrEnum):
    """Season at the place, not the month: south of the equator January is summer."""

    SPRING = "spring"
    SUMMER = "summer"
    AUTUMN = "autumn"
    WINTER = "winter"


STAGES = tuple(Stage)
SEASONS = tuple(Season)


@dataclass(frozen=True, kw_only=True)
class Part:
    """A condition as it shows on the comb: with its stage where stages differ."""

    condition: Condition
    stage: Stage | None = None


PARTS: tuple[Part, ...] = tuple(
    Part(condition=condition, stage=stage)
    for condition in Condition
    for stage in (STAGES if condition in FOULBROODS else (None,))
)
"""The parts in order; in tables column 0 is the healthy colony and part i stands in column i + 1."""


def states() -> tuple[tuple[int, ...], ...]:
    """List every way in which parts can be present together, as columns; the empty tuple is a healthy colony.

    At most ``MOST_CONDITIONS_TOGETHER`` conditions at once, each in one stage.
    """
    most = int(MOST_CONDITIONS_TOGETHER.value)
    columns = range(1, len(PARTS) + 1)
    return tuple(
        chosen
        for size in range(most + 1)
        for chosen in combinations(columns, size)
        if len({PARTS[column - 1].condition for column in chosen}) == size
    )


def name_of(condition: str) -> Message:
    """Return the name of a condition (or of ``nothing_wrong``) in words."""
    if condition in FOULBROODS:
        return say(f"disease.{condition}")
    return say(f"diagnosis.condition.{condition}")
