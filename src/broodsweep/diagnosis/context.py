"""What is known besides the comb: known outbreaks nearby, what was bought, what was fed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

from broodsweep.constants import Disease
from broodsweep.diagnosis import constants as c
from broodsweep.diagnosis.conditions import Condition
from broodsweep.diagnosis.numbers import Number, from_sourced

_NAMES = ("near", "neighbourhood", "bought_in", "fed_honey")


@dataclass(frozen=True, kw_only=True)
class Context:
    """What is known of the surroundings; None is unknown, and unknown changes nothing.

    ``outbreak_m`` is the distance to the nearest known outbreak of a disease. [m]
    """

    outbreak_m: Mapping[Disease, float] = field(default_factory=dict)
    bought_in: bool | None = None
    fed_honey: bool | None = None

    def touches(self, name: str) -> bool:
        """Say whether one of the context numbers plays a part."""
        return any(_NAMES.index(name) in chosen for chosen in context_factors(self).values())


@cache
def context_numbers() -> tuple[Number, ...]:
    """Return the odds ratios of what is known besides the comb."""
    return tuple(
        from_sourced(sourced, where=f"context/{name}", kind="ratio")
        for name, sourced in zip(
            _NAMES, (c.NEAR_ODDS, c.NEIGHBOURHOOD_ODDS, c.BOUGHT_ODDS, c.FED_ODDS), strict=True
        )
    )


def factor_index(name: str) -> int:
    """Return the place of one of the context numbers."""
    return _NAMES.index(name)


def context_factors(context: Context) -> dict[Condition, tuple[int, ...]]:
    """Return for each foulbrood which of the context numbers multiply its odds."""
    found = {}
    for disease in Disease:
        chosen = []
        distance_m = context.outbreak_m.get(disease)
        if distance_m is not None and distance_m <= c.NEAR_M.value:
            chosen.append(0)
        elif distance_m is not None and distance_m <= c.NEIGHBOURHOOD_M.value:
            chosen.append(1)
        if context.bought_in:
            chosen.append(2)
        if context.fed_honey and disease is Disease.AFB:
            chosen.append(3)
        found[Condition(disease.value)] = tuple(chosen)
    return found
