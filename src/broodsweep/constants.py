"""Words of the trade with a closed set of values, one list each, and plain conversions."""

from __future__ import annotations

from enum import StrEnum


class Disease(StrEnum):
    """The two bacterial brood diseases that the law acts on."""

    AFB = "AFB"
    """American foulbrood (*Paenibacillus larvae*)."""
    EFB = "EFB"
    """European foulbrood (*Melissococcus plutonius*)."""


class Goods(StrEnum):
    """What can be moved between apiaries and carry infection."""

    COLONIES = "colonies"
    NUCLEI = "nuclei"
    QUEENS = "queens"
    BROOD_COMB = "brood_comb"
    DRAWN_COMB = "drawn_comb"
    BOXES = "boxes"
    EXTRACTOR = "extractor"
    HONEY = "honey"


class Clearance(StrEnum):
    """How diseased colonies were dealt with."""

    DESTROYED = "destroyed"
    SHOOK_SWARM = "shook_swarm"
    TREATED = "treated"
