"""What we chose for the island Skarnsey: every number here is invented or a project choice."""

from __future__ import annotations

from datetime import date

from broodsweep.sources import Sourced

DEMO_DAY = date(2026, 7, 8)
"""The day on which the demonstration is played: an outbreak of American foulbrood is in progress."""
FIRST_DAY = date(2024, 3, 1)
"""First day of the three seasons that the tables tell."""
DEFAULT_SEED = 7

EPSG = 27700
SQUARE = "OV"
SQUARE_EASTING_M, SQUARE_NORTHING_M = 500_000.0, 500_000.0
"""The 100 km square OV of the National Grid: sea but for a strip of coast in its south-western corner. [m]"""
CENTRE_EASTING_M, CENTRE_NORTHING_M = 560_000.0, 565_000.0
WIDTH_M, HEIGHT_M = 38_000.0, 31_000.0
"""The sheet that holds the island and its islets."""
CELL_M = 100.0

REGISTERED, UNREGISTERED, KEEPERS = 360, 60, 260
REGISTERED_KEEPERS_TWICE = 2
"""Keepers (and apiaries) that stand on the register twice, spelt a little differently."""


def _chosen(value: float, unit: str, reason: str) -> Sourced:
    return Sourced(value=value, unit=unit, source="project choice", locator=reason, standing="project choice")


CONTACT_PER_DAY = _chosen(0.0046, "1/day", "near contact at no distance; gives a few cases in a year")
KERNEL_SCALE_KM = _chosen(
    1.3, "km", "scale of the power-law kernel: half the contacts on even ground lie within about 2.4 km"
)
KERNEL_POWER = _chosen(3.2, "1", "power of the kernel: a fat tail, unlike an exponential one")
KEEPER_PER_DAY = _chosen(
    0.0034, "1/day", "hive tool, gloves and comb carried between a keeper's own apiaries"
)
MOVED_INFECTS = _chosen(0.55, "probability", "that brood, comb or bees from an infected apiary carry it")
KIT_INFECTS = _chosen(0.12, "probability", "that boxes or an extractor from an infected apiary carry it")
AFB_SIGNS_SHAPE = _chosen(2.2, "1", "log-logistic days until signs; deliberately not a gamma")
AFB_SIGNS_DAYS = _chosen(48.0, "day", "median of the days until signs")
EFB_SIGNS_DAYS = _chosen(18.0, "day", "median of the days until signs; EFB shows sooner")
HIDDEN_SHARE = _chosen(0.35, "1", "infectiousness before signs, as a share of that with signs")
COLONY_SENSITIVITY = _chosen(0.82, "probability", "an opened colony with signs is recognised")
WITHIN_DAYS = _chosen(70.0, "day", "days with signs until another colony of the apiary has them")
REPORT_PER_DAY = _chosen(0.0055, "1/day", "a keeper sees the signs and telephones, while hives are opened")
UNREGISTERED_REPORT_PER_DAY = _chosen(0.0006, "1/day", "someone who never registered seldom telephones")
