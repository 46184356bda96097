"""Numbers of the register's own, each with its reason."""

from __future__ import annotations

from broodsweep.sources import Sourced


def _ours(value: float, unit: str, reason: str) -> Sourced:
    return Sourced(value=value, unit=unit, source="this project", locator=reason, standing="project choice")


EARLIEST_YEAR = _ours(1900, "year", "no living register reaches further back; an earlier year is a slip")
LATEST_YEAR = _ours(2200, "year", "a later year is a slip of the pen")
POINT_PRECISION_M = _ours(
    10, "m", "a point of a map layer without a stated precision: a hand-held receiver is good to 5 to 8 m"
)
AGREE_SLACK_M = _ours(
    10, "m", "place and longitude/latitude of one row may differ by rounding and by the datum shift"
)
SWAPPED_FAR_KM = _ours(
    2000, "km", "farther from the middle of the other apiaries than any one district is wide"
)
SWAPPED_NEAR_KM = _ours(
    500, "km", "a swapped pair that falls among the others was written the wrong way round"
)

NEAR_M = _ours(250, "m", "two entries for one apiary: the gate and the hives, or two readings of one map")
NAME_ALIKE = _ours(0.85, "share", "two spellings of one name share at least this much; see tests/register")
COARSE_M = _ours(1000, "m", "a coarser square is near too much to say anything by itself")
CROWD = _ours(200, "rows", "more rows than this under one word of a name say nothing about any two of them")

WEIGHT_SAME_KEEPER = _ours(
    0.5, "share", "weight of the reason in the score, combined as 1 - product(1 - weight)"
)
WEIGHT_LIKE_KEEPER = _ours(0.4, "share", "weight of the reason, times how alike the names are")
WEIGHT_NO_KEEPER = _ours(0.2, "share", "weight when one of the two has no keeper: nothing speaks against it")
WEIGHT_NEAR = _ours(0.6, "share", "weight of nearness, falling to nothing at the distance asked for")
WEIGHT_SAME_COLONIES = _ours(0.15, "share", "weight of the reason: small numbers of colonies agree by chance")
WEIGHT_SAME_CONTACT = _ours(
    0.6, "share", "weight of the reason: a telephone or an address may be a household's"
)
WEIGHT_LIKE_NAME = _ours(0.6, "share", "weight of the reason, times how alike the names are")
OFFER_SCORE = _ours(
    0.6, "share", "same keeper within about 300 m, or one name twice, is worth a look; less is not"
)
MANY_PAIRS = _ours(
    2_000_000, "pairs", "more neighbours than this is a crowd on one spot: distance says nothing there"
)
PUBLIC_SQUARE_M = Sourced(
    value=10_000,
    unit="m",
    source="trade reference, section 8 (privacy): published disease reports by 10 km square, England",
    locator="S114",
)
