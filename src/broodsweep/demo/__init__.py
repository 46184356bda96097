"""The invented island Skarnsey, and registers of any size: what to show and measure the desk with."""

from __future__ import annotations

from broodsweep.demo.benchmark import make_register, write_register
from broodsweep.demo.constants import DEFAULT_SEED, DEMO_DAY
from broodsweep.demo.files import write_ground, write_island
from broodsweep.demo.island import Island, make_island

__all__ = [
    "DEFAULT_SEED",
    "DEMO_DAY",
    "Island",
    "make_island",
    "make_register",
    "write_ground",
    "write_island",
    "write_register",
]
