"""British National Grid and Irish Grid references: a square named by letters and figures.

The named corner of the square is south-west, so its centre is half a side north-east of it. Two to ten
figures, 10 km to 1 m. A bare 100 km square ("SK") is refused: it says too little to sweep by.

References
----------
Letters run A to Z without I in rows of five from north-west; the first letter of a British reference is a
500 km square, the false origin is the south-west corner of SV. The Irish Grid has the 100 km letters only.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from broodsweep.geo.constants import (
    BRITISH_EXTENT_M,
    BRITISH_GRID_EPSG,
    BRITISH_SQUARES_WITH_LAND,
    IRISH_EXTENT_M,
    IRISH_GRID_EPSG,
    IRISH_SQUARES_WITH_LAND,
)
from broodsweep.geo.datum import datum
from broodsweep.geo.place import Place, PlaceError
from broodsweep.words import say

_LETTERS = "ABCDEFGHJKLMNOPQRSTUVWXYZ"
_ROW = 5
_SQUARE_M = 100_000
LEAST_FIGURES, MOST_FIGURES = 2, 10


@dataclass(frozen=True, kw_only=True)
class LetterGrid:
    """A grid whose 100 km squares have letters."""

    notation: str
    epsg: int
    letters: int
    extent_m: tuple[float, float]
    with_land: frozenset[str]
    example: str


BRITISH = LetterGrid(
    notation="british_grid",
    epsg=BRITISH_GRID_EPSG,
    letters=2,
    extent_m=BRITISH_EXTENT_M,
    with_land=BRITISH_SQUARES_WITH_LAND,
    example="TG 514 131",
)
IRISH = LetterGrid(
    notation="irish_grid",
    epsg=IRISH_GRID_EPSG,
    letters=1,
    extent_m=IRISH_EXTENT_M,
    with_land=IRISH_SQUARES_WITH_LAND,
    example="O 159 346",
)


def parse_reference(letters: str, figures: str, grid: LetterGrid, text: str) -> Place:
    """Return the square of a grid reference.

    Raises
    ------
    PlaceError
        Naming the part that is wrong.
    """
    corner_easting, corner_northing = _corner_of(letters.upper(), grid, text)
    digits_easting, digits_northing = split_figures(figures, grid.example, text)
    side = 10 ** (MOST_FIGURES // 2 - len(digits_easting))
    easting = corner_easting + int(digits_easting) * side + side / 2
    northing = corner_northing + int(digits_northing) * side + side / 2
    place = place_on_grid(
        grid.epsg, easting, northing, precision_m=float(side), notation=grid.notation, text=text
    )
    if letters.upper() in grid.with_land:
        return place
    # A square of sea is a likely slip, but islands are not on every list: it is said, not refused.
    return replace(
        place, notes=(*place.notes, say("geo.square_without_land", text=text, letters=letters.upper()))
    )


def place_on_grid(
    epsg: int, easting: float, northing: float, *, precision_m: float, notation: str, text: str
) -> Place:
    """Return the place whose square has its centre at (easting, northing) of a plane grid."""
    way = datum(epsg)
    longitude, latitude = way.to_wgs84(easting, northing)
    if not (math.isfinite(longitude) and math.isfinite(latitude)):
        raise PlaceError("geo.outside_area", text=text, code=str(epsg))
    return Place(
        longitude=float(longitude),
        latitude=float(latitude),
        precision_m=precision_m,
        notation=notation,
        text=text,
        easting=easting,
        northing=northing,
        epsg=epsg,
        datum_accuracy_m=way.accuracy_m,
        datum_shift=way.shift,
    )


def split_figures(figures: str, example: str, text: str) -> tuple[str, str]:
    """Return the figures of the easting and of the northing.

    Raises
    ------
    PlaceError
        If there are none, an odd number, more than ten, groups of unequal length, or something else than figures.
    """
    groups = re.split(r"[\s,]+", figures.strip())
    strange = re.sub(r"[0-9\s,]", "", figures)
    if strange:
        raise PlaceError("geo.not_figures", text=text, part=strange[0], example=example)
    digits = "".join(groups)
    if not digits:
        raise PlaceError("geo.no_figures", text=text, example=example)
    half, odd = divmod(len(digits), 2)
    if odd:
        raise PlaceError("geo.odd_figures", text=text, figures=digits, count=len(digits), example=example)
    if len(digits) > MOST_FIGURES:
        raise PlaceError("geo.many_figures", text=text, figures=digits, count=len(digits), example=example)
    # Spaces may stand anywhere as long as one of them, or none, is in the middle: "SK 12 34 56" says nothing.
    starts = {len("".join(groups[:number])) for number in range(len(groups))}
    if len(groups) > 1 and half not in starts:
        raise PlaceError("geo.unequal_figures", text=text, part=" ".join(groups), example=example)
    return digits[:half], digits[half:]


def _corner_of(letters: str, grid: LetterGrid, text: str) -> tuple[int, int]:
    for letter in letters:
        if letter not in _LETTERS:
            raise PlaceError("geo.letter_not_used", text=text, letter=letter, example=grid.example)
    easting, northing = 0, 0
    if grid.letters > 1:
        row, column = divmod(_LETTERS.index(letters[0]), _ROW)
        easting, northing = (column - 2) * _ROW * _SQUARE_M, (3 - row) * _ROW * _SQUARE_M
    row, column = divmod(_LETTERS.index(letters[-1]), _ROW)
    easting, northing = easting + column * _SQUARE_M, northing + (_ROW - 1 - row) * _SQUARE_M
    if not (0 <= easting < grid.extent_m[0] and 0 <= northing < grid.extent_m[1]):
        raise PlaceError("geo.unknown_letters", text=text, letters=letters, example=grid.example)
    return easting, northing


def write_reference(place: Place, grid: LetterGrid, figures: int | None) -> str:
    """Return the reference of the square that holds the centre of a place, figures cut off, not rounded.

    Raises
    ------
    PlaceError
        If the place is outside the grid.
    ValueError
        If ``figures`` is not even or not 2 to 10.
    """
    half = (figures_for(place.precision_m) if figures is None else require_figures(figures)) // 2
    easting, northing = map(whole_m, on_grid(place, grid.epsg))
    if not (0 <= easting < grid.extent_m[0] and 0 <= northing < grid.extent_m[1]):
        raise PlaceError("geo.not_on_grid", text=place.text, notation=grid.notation)
    letters = _letters_at(easting // _SQUARE_M, northing // _SQUARE_M, grid)
    unit = 10 ** (MOST_FIGURES // 2 - half)
    return f"{letters} {cut(easting, unit):0{half}d} {cut(northing, unit):0{half}d}"


def cut(metres: int, unit: int) -> int:
    """Return the figures below the 100 km square, cut off at a unit of so many metres."""
    return metres % _SQUARE_M // unit


def whole_m(metres: float) -> int:
    """Return whole metres, cut off; what is a micrometre below a whole metre is arithmetic, not place."""
    return math.floor(metres + 1e-6)


def figures_for(precision_m: float) -> int:
    """Return the figures of the smallest square that is not smaller than a precision, 10 to 2."""
    for half in range(MOST_FIGURES // 2, 1, -1):
        if precision_m <= 10 ** (MOST_FIGURES // 2 - half):
            return 2 * half
    return LEAST_FIGURES


def require_figures(figures: int) -> int:
    """Return an even number of figures, 2 to 10.

    Raises
    ------
    ValueError
        If it is anything else.
    """
    if figures % 2 or not LEAST_FIGURES <= figures <= MOST_FIGURES:
        raise ValueError(f"Expected an even number of figures from 2 to {MOST_FIGURES}, got {figures}.")
    return figures


def on_grid(place: Place, epsg: int) -> tuple[float, float]:
    """Return the centre of a place as easting and northing of a plane grid."""
    if place.epsg == epsg and place.easting is not None and place.northing is not None:
        return place.easting, place.northing
    easting, northing = datum(epsg).from_wgs84(place.longitude, place.latitude)
    if not (math.isfinite(easting) and math.isfinite(northing)):
        raise PlaceError("geo.outside_area", text=place.text, code=str(epsg))
    return float(easting), float(northing)


def _letters_at(east: int, north: int, grid: LetterGrid) -> str:
    letters = _LETTERS[(_ROW - 1 - north % _ROW) * _ROW + east % _ROW]
    if grid.letters > 1:
        letters = _LETTERS[(3 - north // _ROW) * _ROW + east // _ROW + 2] + letters
    return letters


def has_british_land(easting: float, northing: float) -> bool:
    """Say whether the 100 km square of the National Grid at a point holds land."""
    letters = _letters_at(int(easting // _SQUARE_M), int(northing // _SQUARE_M), BRITISH)
    return letters in BRITISH_SQUARES_WITH_LAND
