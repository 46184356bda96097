"""Places given by longitude and latitude: range, implied precision, agreement with a place in words."""

from __future__ import annotations

import math

from broodsweep.geo import Place, distance_between
from broodsweep.register.constants import AGREE_SLACK_M, POINT_PRECISION_M
from broodsweep.register.faults import Fault
from broodsweep.words import say

METRES_A_DEGREE = 60 * 1852
"""A minute of latitude is about a sea mile: for precisions and coarse squares, not for distances. [m]"""
DEGREE_DECIMALS, METRE_DECIMALS = 9, 3
"""A tenth of a millimetre, a millimetre: finer figures are noise, and some formats do not keep them."""
_MAX_LATITUDE, _MAX_LONGITUDE = 90, 180


def place_at(
    longitude: tuple[float, str], latitude: tuple[float, str], precision_m: float | None
) -> Place | Fault:
    """Return the place of a pair of degrees, each with the text it was read from, or what is wrong with it.

    Without a stated precision the decimals tell it (the longer of the two, for spreadsheets drop noughts at
    the end), and never finer than a hand-held receiver. Degrees are kept to nine decimals.
    """
    if abs(latitude[0]) > _MAX_LATITUDE:
        swapped = abs(longitude[0]) <= _MAX_LATITUDE and abs(latitude[0]) <= _MAX_LONGITUDE
        way_out = "register.swapped_way_out" if swapped else "register.latitude_way_out"
        what = say("register.latitude_out_of_range")
        return Fault(column="latitude", value=latitude[1], what=what, way_out=say(way_out))
    if abs(longitude[0]) > _MAX_LONGITUDE:
        what, way = say("register.longitude_out_of_range"), say("register.longitude_way_out")
        return Fault(column="longitude", value=longitude[1], what=what, way_out=way)
    if precision_m is None:
        decimals = max(_decimals(longitude[1]), _decimals(latitude[1]))
        precision_m = max(POINT_PRECISION_M.value, METRES_A_DEGREE * 10.0**-decimals)
    return Place(
        longitude=round(longitude[0], DEGREE_DECIMALS),
        latitude=round(latitude[0], DEGREE_DECIMALS),
        precision_m=max(round(precision_m, METRE_DECIMALS), 10**-METRE_DECIMALS),
    )


def _decimals(text: str) -> int:
    mantissa, _, exponent = text.lower().replace(",", ".").partition("e")
    return max(0, len(mantissa.partition(".")[2]) - int(exponent or 0))


def check_agreement(place: Place, at: Place, column: str, words: str) -> list[Fault]:
    """Return a fault when a place in words and the coordinates beside it are not the same place."""
    slack_m = AGREE_SLACK_M.value + place.datum_accuracy_m + half_diagonal_m(place) + half_diagonal_m(at)
    apart_m = distance_between(place, at)
    if apart_m <= slack_m:
        return []
    what, way = say("register.places_disagree", apart_m=apart_m), say("register.places_disagree_way_out")
    return [Fault(column=column, value=words, what=what, way_out=way)]


def half_diagonal_m(place: Place) -> float:
    """Distance from the centre of the square to its corner. [m]"""
    return place.precision_m / math.sqrt(2)
