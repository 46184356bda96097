"""`geo:` URIs (RFC 5870): latitude, longitude, perhaps altitude, then parameters.

``u`` is how far the true place may be from the one given, so the square has a side of 2 u. Without ``u``
(or with ``u=0``) the decimals count. Only the ``wgs84`` reference system is known, as in the RFC. A query as
telephones append it ("?z=15") is left aside, except that "0,0?q=" names no place.

References
----------
RFC 5870, A Uniform Resource Identifier for Geographic Locations, sections 3.3 to 3.4.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace

from broodsweep.geo.angles import decimals_for, parse_angles
from broodsweep.geo.constants import COARSEST_PRECISION
from broodsweep.geo.place import Place, PlaceError
from broodsweep.words import Message, say

EXAMPLE = "geo:52.6576,1.7179;u=20"
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_LEAST, _MOST = 2, 3


def parse_geo_uri(text: str, clean: str) -> Place:
    """Return the place of a ``geo:`` URI.

    Raises
    ------
    PlaceError
        Naming the part that is wrong.
    """
    body, _, query = clean[len("geo:") :].partition("?")
    coordinates, *parameters = [part.strip() for part in body.split(";")]
    numbers = [part.strip() for part in coordinates.split(",")]
    if not _LEAST <= len(numbers) <= _MOST or not all(_NUMBER.fullmatch(part) for part in numbers):
        raise PlaceError("geo.bad_uri", text=text, part=coordinates, example=EXAMPLE)
    named = _parameters(text, parameters)
    if named.get("crs", "wgs84").lower() != "wgs84":
        raise PlaceError("geo.uri_crs", text=text, part=named["crs"], example=EXAMPLE)
    if not float(numbers[0]) and not float(numbers[1]) and query:
        raise PlaceError("geo.bad_uri", text=text, part=f"{coordinates}?{query}", example=EXAMPLE)
    place = parse_angles(text, "; ".join(numbers[:_LEAST]), "latitude_first")
    notes: tuple[Message, ...] = (say("geo.note_altitude", text=text),) if len(numbers) == _MOST else ()
    uncertainty_m = _uncertainty_m(text, named)
    return replace(
        place,
        notation="geo_uri",
        precision_m=2.0 * uncertainty_m if uncertainty_m else place.precision_m,
        notes=notes,
    )


def _parameters(text: str, parameters: list[str]) -> dict[str, str]:
    named: dict[str, str] = {}
    for parameter in parameters:
        name, _, value = parameter.partition("=")
        if not re.fullmatch(r"[A-Za-z0-9-]+", name):
            raise PlaceError("geo.bad_uri", text=text, part=parameter, example=EXAMPLE)
        named[name.lower()] = value
    return named


def _uncertainty_m(text: str, named: dict[str, str]) -> float:
    if "u" not in named:
        return 0.0
    if not re.fullmatch(r"\d+(?:\.\d+)?", named["u"]) or 2 * float(named["u"]) > COARSEST_PRECISION.value:
        raise PlaceError("geo.uri_uncertainty", text=text, part=named["u"], example=EXAMPLE)
    return float(named["u"])


def write_geo_uri(place: Place, figures: int | None) -> str:
    """Return the ``geo:`` URI of the centre with the uncertainty; never less than half the precision."""
    # One decimal more than the precision asks for, so that rounding does not move the square noticeably.
    decimals = decimals_for(place.precision_m, place.latitude) + 1 if figures is None else figures
    latitude, longitude = (
        f"{value:.{decimals}f}".rstrip("0").rstrip(".") if decimals else f"{value:.0f}"
        for value in (place.latitude, place.longitude)
    )
    half = f"{math.ceil(place.precision_m / 2 * 1000 - 1e-6) / 1000:.3f}".rstrip("0").rstrip(".")
    return f"geo:{_plain_zero(latitude)},{_plain_zero(longitude)};u={half}"


def _plain_zero(number: str) -> str:
    return "0" if number == "-0" else number
