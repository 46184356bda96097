"""In which order a comb is looked at, and how the result of each test is entered: the same at the desk and on the phone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from broodsweep.diagnosis.reading import LATERAL_FLOW, LOADS

LOOKING: Mapping[str, tuple[str, ...]] = {
    name: tuple(signs.split())
    for name, signs in {
        "caps": "caps_sunken caps_perforated caps_greasy lone_sealed_cell dead_under_caps "
        "domed_worker_caps bare_pupae_line",
        "larva": "dead_in_open larva_twisted larva_stretched head_raised_sac tracheae_show half_moon_shape "
        "pupal_tongue chewed_brood eggs_several",
        "colour": "larva_yellow coffee_brown green_powder",
        "consistency": "watery comes_out_whole mummies",
        "smell": "smell_sour smell_putrid",
        "scale": "hard_scale loose_scale",
        "pattern": "patchy whole_patch_dead edge_of_nest",
        "pests": "mites_seen fast_mites silk_tunnels beetle_slime",
        "hive": "mummies_entrance dead_bee_heaps few_stores few_nurses several_colonies",
    }.items()
}
"""The signs in the order of looking, from the cap inwards, then the comb, then the hive. Project choice."""

Entry = Literal["rope", "lines", "count", "mites", "outcome"]


def entry_of(test: str) -> Entry:
    """Return what is written down of a test: a length, lines, a count, mites and bees, or its outcome."""
    if test in LATERAL_FLOW:
        return "lines"
    if test in LOADS:
        return "count"
    if test == "ropiness":
        return "rope"
    return "mites" if test == "sugar_roll" else "outcome"
