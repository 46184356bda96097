"""Eastings and northings with an EPSG code: "EPSG:27700 651409 313177". Easting first, whatever the code says.

Codes for longitude and latitude ("EPSG:4258 52.65 1.71") are read latitude first, as the EPSG register has
them. Coordinates far outside the grid's area of use are refused: nearly always the code is wrong, or the two
numbers are swapped.
"""

from __future__ import annotations

from dataclasses import replace

from broodsweep.geo.constants import (
    AREA_MARGIN,
    BRITISH_EXTENT_M,
    BRITISH_GRID_EPSG,
    IRISH_EXTENT_M,
    IRISH_GRID_EPSG,
)
from broodsweep.geo.datum import datum
from broodsweep.geo.place import Place, PlaceError
from broodsweep.geo.square_letters import on_grid
from broodsweep.geo.utm import plane_place, write_plane

EXAMPLE = "EPSG:27700 651409 313177"
_EXTENTS = {BRITISH_GRID_EPSG: BRITISH_EXTENT_M, IRISH_GRID_EPSG: IRISH_EXTENT_M}


def parse_projected(code: int, easting: str, northing: str, text: str) -> Place:
    """Return the square that eastings and northings name: 1 m, or 1 in their last decimal.

    Raises
    ------
    PlaceError
        If the code is unknown or the coordinates are outside its area.
    """
    extent = _EXTENTS.get(code)
    if extent and not (0 <= float(easting) < extent[0] and 0 <= float(northing) < extent[1]):
        raise PlaceError("geo.outside_grid", text=text, code=str(code), example=EXAMPLE)
    place = plane_place(code, easting, northing, notation="projected", text=text)
    west, south, east, north = datum(code).bounds
    margin = AREA_MARGIN.value
    in_latitude = south - margin <= place.latitude <= north + margin
    wraps = west > east
    after_west, before_east = place.longitude >= west - margin, place.longitude <= east + margin
    if not in_latitude or not ((after_west or before_east) if wraps else (after_west and before_east)):
        raise PlaceError("geo.outside_grid", text=text, code=str(code), example=EXAMPLE)
    return place


def shift_geographic(code: int, place: Place) -> Place:
    """Return a place whose longitude and latitude are of another datum, moved to WGS84."""
    way = datum(code)
    longitude, latitude = way.to_wgs84(place.longitude, place.latitude)
    return replace(
        place,
        longitude=float(longitude),
        latitude=float(latitude),
        datum_accuracy_m=way.accuracy_m,
        datum_shift=way.shift,
        notes=(),
    )


def write_projected(place: Place, epsg: int) -> str:
    """Return "EPSG:code easting northing" of the centre, cut off at the metre (finer if known finer)."""
    easting, northing = on_grid(place, epsg)
    return f"EPSG:{epsg} {write_plane(easting, northing, place.precision_m / datum(epsg).unit_m)}"
