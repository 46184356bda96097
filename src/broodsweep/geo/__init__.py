"""Where is it, how far apart, how precisely known? Knows no apiaries."""

from __future__ import annotations

from broodsweep.geo.angles import Order
from broodsweep.geo.bounds import distance_bounds
from broodsweep.geo.circle import circle
from broodsweep.geo.geodesy import bearing, distance_between, distance_m, travel
from broodsweep.geo.kernel import kernel_distance_m
from broodsweep.geo.neighbours import Neighbours
from broodsweep.geo.notation import NOTATIONS, as_record, format_place, locate, parse_place
from broodsweep.geo.place import Place, PlaceError
from broodsweep.geo.places import Places
from broodsweep.geo.ring import Answer, Ring, ring
from broodsweep.geo.squares import corners

__all__ = [
    "NOTATIONS",
    "Answer",
    "Neighbours",
    "Order",
    "Place",
    "PlaceError",
    "Places",
    "Ring",
    "as_record",
    "bearing",
    "circle",
    "corners",
    "distance_between",
    "distance_bounds",
    "distance_m",
    "format_place",
    "kernel_distance_m",
    "locate",
    "parse_place",
    "ring",
    "travel",
]
