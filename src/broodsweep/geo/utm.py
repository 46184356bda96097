"""UTM coordinates and MGRS references, between 80° south and 84° north.

In "32N 395201 5673135" N is read as the band and means the north either way. S is both a band (32 to 40
north) and the southern hemisphere: it is the hemisphere when the northing does not fit the band, else the
band, with a note. "32 south" is never in doubt. A whole number of metres is a square of 1 m, named by its
south-west corner like every reference; so are the squares of MGRS.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

from broodsweep.geo.constants import UTM_NORTH_EPSG, UTM_SOUTH_EPSG
from broodsweep.geo.datum import datum
from broodsweep.geo.place import Place, PlaceError
from broodsweep.geo.square_letters import (
    MOST_FIGURES,
    cut,
    figures_for,
    on_grid,
    place_on_grid,
    require_figures,
    split_figures,
    whole_m,
)
from broodsweep.words import Message, say

UTM_EXAMPLE = "32U 395201 5673135"
MGRS_EXAMPLE = "32U LB 952 731"
BANDS = "CDEFGHJKLMNPQRSTUVWX"
_SOUTH_END, _NORTH_END, _BAND_DEGREE, _ZONE_DEGREE = -80.0, 84.0, 8.0, 6.0
_ZONES = 60
_COLUMNS = ("STUVWXYZ", "ABCDEFGH", "JKLMNPQR")
_ROWS = "ABCDEFGHJKLMNPQRSTUV"
_EVEN_ZONE_ROW = 5
_SQUARE_M = 100_000
_CYCLE_M = _SQUARE_M * len(_ROWS)
_LEAST_EASTING_M, _MOST_EASTING_M = 100_000.0, 900_000.0
_MOST_NORTHING_M = 10_000_000.0


def utm_epsg(zone: int, *, is_north: bool) -> int:
    """Return the EPSG code of a UTM zone on WGS84."""
    return (UTM_NORTH_EPSG if is_north else UTM_SOUTH_EPSG) + zone


def zone_of(longitude: float, latitude: float) -> int:
    """Return the UTM zone of a place, with the exceptions of western Norway and Svalbard."""
    zone = min(int((longitude + 180.0) // _ZONE_DEGREE) + 1, _ZONES)
    if 56.0 <= latitude < 64.0 and 3.0 <= longitude < 12.0:  # noqa: PLR2004
        return 32
    if latitude >= 72.0 and 0.0 <= longitude < 42.0:  # noqa: PLR2004
        return 31 + 2 * int((longitude + 3.0) // 12.0)
    return zone


def is_polar(latitude: float) -> bool:
    """Say whether UTM has ended at this latitude."""
    return not _SOUTH_END <= latitude <= _NORTH_END


def band_of(latitude: float, text: str = "") -> str:
    """Return the letter of the band of a latitude.

    Raises
    ------
    PlaceError
        If the latitude is in a polar region, where UTM ends.
    """
    if is_polar(latitude):
        raise PlaceError("geo.polar_region", text=text)
    return BANDS[min(int((latitude - _SOUTH_END) // _BAND_DEGREE), len(BANDS) - 1)]


def _band_limits(band: str) -> tuple[float, float]:
    south = _SOUTH_END + _BAND_DEGREE * BANDS.index(band)
    return south, _NORTH_END if band == BANDS[-1] else south + _BAND_DEGREE


@cache
def _band_northings(zone: int, band: str) -> tuple[float, float]:
    """Northings between which the band lies, as far as they go on or off the central meridian."""
    is_north = band >= "N"
    way = datum(utm_epsg(zone, is_north=is_north))
    middle = zone * _ZONE_DEGREE - 183.0
    ends = [
        way.from_wgs84(middle + off, latitude)[1] for latitude in _band_limits(band) for off in (0.0, 3.0)
    ]
    return min(ends), max(ends)


def _require_zone(zone: int, letter: str, text: str, example: str) -> None:
    if not 1 <= zone <= _ZONES:
        raise PlaceError("geo.zone_out_of_range", text=text, zone=str(zone), example=example)
    if letter in "ABYZ":
        raise PlaceError("geo.polar_region", text=text)
    if letter not in BANDS:
        raise PlaceError("geo.unknown_band", text=text, letter=letter, example=example)


def parse_utm(zone: int, letter: str, easting: str, northing: str, text: str) -> Place:
    """Return the square of UTM coordinates; ``letter`` is a band, or "north" or "south".

    Raises
    ------
    PlaceError
        Naming the part that is wrong.
    """
    word = letter.lower()
    band = "" if word in ("north", "south") else letter.upper()
    _require_zone(zone, band or "N", text, UTM_EXAMPLE)
    if not _LEAST_EASTING_M <= float(easting) < _MOST_EASTING_M:
        raise PlaceError("geo.easting_out_of_range", text=text, part=easting, example=UTM_EXAMPLE)
    if not 0.0 <= float(northing) < _MOST_NORTHING_M:
        raise PlaceError("geo.northing_out_of_range", text=text, part=northing, example=UTM_EXAMPLE)
    notes: tuple[Message, ...] = ()
    is_north = word == "north" or band >= "N"
    if band:
        low, high = _band_northings(zone, band)
        fits = low - _SQUARE_M <= float(northing) <= high + _SQUARE_M
        if band == "S":
            is_north = fits
            notes = (say("geo.note_band_s", text=text),) if fits else ()
        elif band != "N" and not fits:
            raise PlaceError(
                "geo.band_does_not_fit", text=text, letter=band, part=northing, example=UTM_EXAMPLE
            )
    place = plane_place(utm_epsg(zone, is_north=is_north), easting, northing, notation="utm", text=text)
    return replace(place, notes=notes)


def plane_place(epsg: int, easting: str, northing: str, *, notation: str, text: str) -> Place:
    """Return the square that plane coordinates as written name: 1 m, or 1 in their last decimal."""
    decimals = max(len(number.partition(".")[2]) for number in (easting, northing))
    unit = 10.0**-decimals
    return place_on_grid(
        epsg,
        float(easting) + unit / 2,
        float(northing) + unit / 2,
        precision_m=unit * datum(epsg).unit_m,
        notation=notation,
        text=text,
    )


def parse_mgrs(zone: int, band: str, letters: str, figures: str, text: str) -> Place:
    """Return the square of an MGRS reference with 2 to 10 figures.

    Raises
    ------
    PlaceError
        Naming the part that is wrong.
    """
    band, letters = band.upper(), letters.upper()
    _require_zone(zone, band, text, MGRS_EXAMPLE)
    digits_easting, digits_northing = split_figures(figures, MGRS_EXAMPLE, text)
    columns = _COLUMNS[zone % len(_COLUMNS)]
    if letters[0] not in columns or letters[1] not in _ROWS:
        raise PlaceError(
            "geo.mgrs_letters", text=text, letters=letters, zone=f"{zone}{band}", example=MGRS_EXAMPLE
        )
    easting = (columns.index(letters[0]) + 1) * _SQUARE_M
    row = (_ROWS.index(letters[1]) - (0 if zone % 2 else _EVEN_ZONE_ROW)) % len(_ROWS)
    low, high = _band_northings(zone, band)
    # The rows repeat every 2,000 km; a band is 900 km high, so that at most one of them meets it.
    northing = row * _SQUARE_M + _CYCLE_M * math.ceil((low - (row + 1) * _SQUARE_M) / _CYCLE_M)
    if northing > high:
        raise PlaceError(
            "geo.mgrs_letters", text=text, letters=letters, zone=f"{zone}{band}", example=MGRS_EXAMPLE
        )
    side = 10 ** (MOST_FIGURES // 2 - len(digits_easting))
    return place_on_grid(
        utm_epsg(zone, is_north=band >= "N"),
        easting + int(digits_easting) * side + side / 2,
        northing + int(digits_northing) * side + side / 2,
        precision_m=float(side),
        notation="mgrs",
        text=text,
    )


def write_utm(place: Place) -> str:
    """Return UTM coordinates of the centre with the band, decimals cut off at a metre (finer if known finer)."""
    zone, band, easting, northing = _on_utm(place)
    return f"{zone}{band} {write_plane(easting, northing, place.precision_m)}"


def write_plane(easting: float, northing: float, precision_m: float) -> str:
    """Return "easting northing", cut off at the metre or at the decimal of the precision."""
    decimals = max(0, math.ceil(-math.log10(precision_m) - 1e-9))
    scale = 10**decimals
    return " ".join(f"{math.floor(v * scale + 1e-6) / scale:.{decimals}f}" for v in (easting, northing))


def write_mgrs(place: Place, figures: int | None) -> str:
    """Return the MGRS reference of the square that holds the centre, figures cut off, not rounded."""
    half = (figures_for(place.precision_m) if figures is None else require_figures(figures)) // 2
    zone, band, *centre = _on_utm(place)
    easting, northing = map(whole_m, centre)
    column = _COLUMNS[zone % len(_COLUMNS)][easting // _SQUARE_M - 1]
    row = _ROWS[(northing // _SQUARE_M + (0 if zone % 2 else _EVEN_ZONE_ROW)) % len(_ROWS)]
    unit = 10 ** (MOST_FIGURES // 2 - half)
    return f"{zone}{band}{column}{row}{cut(easting, unit):0{half}d}{cut(northing, unit):0{half}d}"


def _on_utm(place: Place) -> tuple[int, str, float, float]:
    band = band_of(place.latitude, place.text)
    for base, is_north in ((UTM_NORTH_EPSG, True), (UTM_SOUTH_EPSG, False)):
        if base < place.epsg <= base + _ZONES and is_north == (band >= "N"):
            zone = place.epsg - base  # a reference keeps its zone, also just outside it
            return zone, band, *on_grid(place, place.epsg)
    zone = zone_of(place.longitude, place.latitude)
    return zone, band, *on_grid(place, utm_epsg(zone, is_north=band >= "N"))
