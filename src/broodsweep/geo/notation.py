"""Reads and writes a place in any notation."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from broodsweep.geo.angles import Order, parse_angles, write_decimal, write_sexagesimal
from broodsweep.geo.areas import plane_grid_of
from broodsweep.geo.constants import COARSEST_PRECISION, IRISH_TRANSVERSE_MERCATOR_EPSG, MAX_TEXT_LENGTH
from broodsweep.geo.datum import datum
from broodsweep.geo.geo_uri import parse_geo_uri, write_geo_uri
from broodsweep.geo.place import Place, PlaceError
from broodsweep.geo.projected import parse_projected, shift_geographic, write_projected
from broodsweep.geo.square_letters import BRITISH, IRISH, on_grid, parse_reference, write_reference
from broodsweep.geo.utm import parse_mgrs, parse_utm, write_mgrs, write_utm
from broodsweep.words import say

NOTATIONS = (
    "british_grid",
    "irish_grid",
    "utm",
    "mgrs",
    "projected",
    "latitude_longitude",
    "sexagesimal",
    "geo_uri",
)
_SQUARES = frozenset({"british_grid", "irish_grid", "utm", "mgrs", "projected"})
_SHOWN = 40

_FOLD = str.maketrans(
    {
        **dict.fromkeys("º˚∘", "°"),
        **dict.fromkeys("′’‘ʹ´`‵＇", "'"),
        **dict.fromkeys("″”“ʺ„＂", '"'),
        **dict.fromkeys("−–—‐‑‒﹣－", "-"),
        **dict.fromkeys("\u200b\u200c\u200d\u200e\u200f\u2060\ufeff"),
    }
)
_NUMBER = r"-?\d+(?:\.\d+)?"
_PAIR = rf"(?P<first>{_NUMBER})\s*(?:mE|m|E)?(?:\s*[,;]\s*|\s+)(?P<second>{_NUMBER})\s*(?:mN|m|N)?"
_PROJECTED = re.compile(r"(?:EPSG\s*:?\s*(?P<a>\d+)|(?P<b>\d{4,6})\s*:)(?P<rest>.*)", re.I | re.S)
_PLANE_PAIR = re.compile(rf"[\s,;:]*{_PAIR}\s*", re.I)
_UTM = re.compile(
    rf"(?P<utm>UTM)?\s*(?:zone)?\s*(?P<zone>\d{{1,2}})\s*(?P<letter>north|south|[A-Z])\b\s*,?\s*{_PAIR}", re.I
)
_MGRS = re.compile(
    r"(?:MGRS\s*)?(?P<zone>\d{1,2})\s*(?!deg)(?P<band>[A-Z])\s*(?P<letters>[A-Z]{2})(?P<rest>.*)", re.I
)
_POLAR = re.compile(r"[ABYZ]\s?[A-Z]{2}[\d\s]*\d[\d\s]*", re.I)
_BRITISH = re.compile(r"(?P<letters>[A-Z]{2})(?P<figures>|[\s,]*\d.*)", re.I | re.S)
_IRISH = re.compile(r"(?P<letters>[A-Z])(?P<figures>[\d\s,]*)", re.I)
_NAMED_GRIDS = re.compile(rf"(?P<name>ITM)\b[\s:,]*{_PAIR}", re.I)
_UTM_LEAST_DIGITS = 4


def parse_place(text: str | None, *, precision_m: float | None = None, order: Order | None = None) -> Place:
    """Return the place that a text names, in whatever notation it is written.

    British and Irish grid references, UTM, MGRS, eastings and northings with an EPSG code, latitude and
    longitude (decimal or sexagesimal) and ``geo:`` URIs; see the modules of the same names for what each
    means. The notation implies a precision.

    Parameters
    ----------
    text
        What was written.
    precision_m
        How well the place is known, when that is known: replaces the precision implied by degrees. A
        square can only get wider, as the figures left out are not known. [m]
    order
        Order of two bare numbers; by default latitude first where either is possible, with a note.

    Raises
    ------
    PlaceError
        If it cannot be read; the sentence names the part that is wrong and shows a good example.
    """
    if not isinstance(text, str) or not text.strip().translate(_FOLD).strip():
        raise PlaceError("geo.no_place")
    if len(text) > MAX_TEXT_LENGTH.value:
        raise PlaceError("geo.text_too_long", text=text[:_SHOWN] + "…", limit=int(MAX_TEXT_LENGTH.value))
    shown = " ".join(text.split())
    clean = unicodedata.normalize("NFKC", shown.translate(_FOLD)).strip()
    place = _dispatch(shown, clean, order)
    return place if precision_m is None else _with_precision(place, precision_m)


def locate(text: str | None) -> Place:
    """Return the place that a text names: ``parse_place`` without options."""
    return parse_place(text)


def _with_precision(place: Place, precision_m: float) -> Place:
    if not (math.isfinite(precision_m) and 0 < precision_m <= COARSEST_PRECISION.value):
        raise PlaceError("geo.bad_precision", text=place.text, precision=f"{precision_m:g}")
    if place.notation in _SQUARES and precision_m < place.precision_m:
        note = say("geo.note_square_stays", text=place.text, square_m=place.precision_m)
        return replace(place, notes=(*place.notes, note))
    return replace(place, precision_m=float(precision_m))


def _dispatch(text: str, clean: str, order: Order | None) -> Place:
    if clean.lower().startswith("geo:"):
        return parse_geo_uri(text, clean)
    if found := _PROJECTED.fullmatch(clean):
        return _projected(text, int(found["a"] or found["b"]), found["rest"])
    if found := _NAMED_GRIDS.fullmatch(clean):
        return parse_projected(IRISH_TRANSVERSE_MERCATOR_EPSG, found["first"], found["second"], text)
    if (found := _UTM.fullmatch(clean)) and _is_utm(found):
        return parse_utm(int(found["zone"]), found["letter"], found["first"], found["second"], text)
    if (found := _MGRS.fullmatch(clean)) and re.fullmatch(r"\s*(?:\d.*)?", found["rest"]):
        return parse_mgrs(int(found["zone"]), found["band"], found["letters"], found["rest"], text)
    if _POLAR.fullmatch(clean):
        raise PlaceError("geo.polar_region", text=text)
    if found := _BRITISH.fullmatch(clean):
        return parse_reference(found["letters"], found["figures"], BRITISH, text)
    if found := _IRISH.fullmatch(clean):
        return parse_reference(found["letters"], found["figures"], IRISH, text)
    return parse_angles(text, clean, order)


def _is_utm(found: re.Match[str]) -> bool:
    """Tell UTM from "52 N 1.5 43" and the like: the letter is a band, or the numbers are of metres."""
    if found["utm"] or found["letter"].upper() not in "NSEW":
        return True
    return len(found["first"].partition(".")[0]) >= _UTM_LEAST_DIGITS


def _projected(text: str, code: int, rest: str) -> Place:
    if datum(code).is_geographic:
        place = parse_angles(text, rest.strip(" ,;:"), "latitude_first")
        return shift_geographic(code, place)
    found = _PLANE_PAIR.fullmatch(rest)
    if not found:
        raise PlaceError("geo.two_numbers_wanted", text=text, code=str(code))
    return parse_projected(code, found["first"], found["second"], text)


_WRITERS: dict[str, Callable[[Place, int | None], str]] = {
    "british_grid": lambda place, figures: write_reference(place, BRITISH, figures),
    "irish_grid": lambda place, figures: write_reference(place, IRISH, figures),
    "utm": lambda place, _figures: write_utm(place),
    "mgrs": write_mgrs,
    "projected": lambda place, _figures: write_projected(
        place, place.epsg if place.is_on_grid else plane_grid_of(place.longitude, place.latitude)
    ),
    "latitude_longitude": write_decimal,
    "sexagesimal": write_sexagesimal,
    "geo_uri": write_geo_uri,
}


def format_place(
    place: Place, notation: str | None = None, *, figures: int | None = None, epsg: int | None = None
) -> str:
    """Return a place written in a notation, by default its own.

    References and metres are cut off, never rounded, so that the square written holds the centre. Degrees
    name a middle and are rounded to the nearest.

    Parameters
    ----------
    place
        What to write.
    notation
        One of ``NOTATIONS``.
    figures
        Figures of a grid or MGRS reference (even, 2 to 10), or decimals of degrees or of seconds. By default
        as many as the precision bears.
    epsg
        The grid for ``projected``; by default the one of the place, or the usual one where it lies.

    Raises
    ------
    PlaceError
        If the place is outside the grid.
    ValueError
        If the notation is none of ours, or ``figures`` is no number of figures.
    """
    chosen = place.notation if notation is None else notation
    if chosen not in _WRITERS:
        raise ValueError(f"Expected one of {', '.join(NOTATIONS)}, got {chosen!r}.")
    if figures is not None and figures < 0:
        raise ValueError(f"Expected figures >= 0, got {figures}.")
    if chosen == "projected" and epsg is not None:
        return write_projected(place, epsg)
    return _WRITERS[chosen](place, figures)


def as_record(place: Place) -> dict[str, Any]:
    """Return a place as a flat record for JSON, with plane coordinates also for longitude and latitude.

    ``easting`` and ``northing`` are the centre of the square in ``epsg``: the grid of the notation, else the
    National Grid in Great Britain, ITM in Ireland, UTM elsewhere (None in the polar regions).
    ``grid_accuracy_m`` is the accuracy of the datum shift between WGS84 and that grid.
    """
    easting, northing, epsg = place.easting, place.northing, place.epsg
    if not place.is_on_grid and (grid := plane_grid_of(place.longitude, place.latitude)):
        epsg = grid
        easting, northing = on_grid(place, epsg)
    return {
        "longitude": place.longitude,
        "latitude": place.latitude,
        "precision_m": place.precision_m,
        "notation": place.notation,
        "easting": easting,
        "northing": northing,
        "epsg": epsg,
        "datum_accuracy_m": place.datum_accuracy_m,
        "datum_shift": place.datum_shift,
        "precision_with_datum_m": place.precision_with_datum_m,
        "grid_accuracy_m": datum(epsg).accuracy_m if easting is not None else None,
    }
