"""The map of Skarnsey as GeoJSON (RFC 7946): WGS84, six decimals, outer rings anticlockwise."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from broodsweep.demo.contours import level_lines
from broodsweep.demo.gridref import to_longitude_latitude
from broodsweep.demo.names import FERRY_ISLET, HILLS, ISLAND, LAKES, LONE_ISLET
from broodsweep.demo.roads import CLASSES, Road
from broodsweep.demo.settlements import Village
from broodsweep.demo.terrain import EASTINGS_M, NORTHINGS_M, Terrain

_DECIMALS = 6
_CONTOURS_M = tuple(range(40, 400, 40))
_RANKS = {"island": 0, "town": 1, "village": 2, "hamlet": 3, "hill": 4, "lake": 4}
Collection = dict[str, Any]


def make_basemap(
    terrain: Terrain, villages: tuple[Village, ...], roads: tuple[Road, ...]
) -> dict[str, Collection]:
    """Return name of the layer → feature collection."""
    land = [
        _feature(shape, name=name)
        for shape, name in (
            (terrain.main, ISLAND),
            (terrain.islets[0], FERRY_ISLET),
            (terrain.islets[1], LONE_ISLET),
        )
    ]
    lakes = sorted(_polygons(terrain.lakes), key=lambda lake: -lake.area)
    return {
        "land": _collection(land),
        "lakes": _collection([_feature(lake, name=name) for lake, name in zip(lakes, LAKES, strict=False)]),
        "woods": _collection([_feature(wood) for wood in _polygons(terrain.woods)]),
        "heath": _collection([_feature(heath) for heath in _polygons(terrain.heath)]),
        "built": _collection(
            [_feature(part, name=village.name) for village in villages for part in _polygons(village.built)]
        ),
        "contours": _collection(_contours(terrain)),
        "roads": _collection(
            [_road(road) for road in sorted(roads, key=lambda road: -CLASSES.index(road.kind))]
        ),
        "places": _collection(_places(terrain, villages, lakes)),
    }


def _polygons(shape: BaseGeometry) -> list[BaseGeometry]:
    return [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]


def _collection(features: list[Collection]) -> Collection:
    return {"type": "FeatureCollection", "features": features}


def _feature(shape: BaseGeometry, **properties: Any) -> Collection:
    """Turn a shape of the National Grid into a feature; polygons follow the right-hand rule of RFC 7946, 3.1.6."""
    degrees = shapely.transform(shape, to_longitude_latitude)
    if shape.geom_type == "Polygon":
        degrees = shapely.orient_polygons(degrees)
        rings = [degrees.exterior, *degrees.interiors]
        geometry: Collection = {"type": "Polygon", "coordinates": [_rounded(ring) for ring in rings]}
    elif shape.geom_type == "LineString":
        geometry = {"type": "LineString", "coordinates": _rounded(degrees)}
    else:
        geometry = {"type": "Point", "coordinates": _rounded(degrees)[0]}
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def _rounded(shape: BaseGeometry) -> list[list[float]]:
    points: list[list[float]] = np.round(shapely.get_coordinates(shape), _DECIMALS).tolist()
    return points


def _road(road: Road) -> Collection:
    properties: dict[str, Any] = {"class": road.kind}
    if road.name:
        properties["name"] = road.name
    return _feature(shapely.linestrings(road.line_m), **properties)


def _contours(terrain: Terrain) -> list[Collection]:
    """Return the contour lines, thinned out, short ones left away."""
    features = []
    for level in _CONTOURS_M:
        if level >= terrain.height_m.max():
            break
        for line in shapely.get_parts(level_lines(terrain.height_m, level, EASTINGS_M, NORTHINGS_M)):
            if line.length > 1_500.0:
                features.append(_feature(line.simplify(20.0), height_m=level))
    return features


def _places(terrain: Terrain, villages: tuple[Village, ...], lakes: list[BaseGeometry]) -> list[Collection]:
    """Return the names to write on the map: villages, islets, hills and lakes, rank 0 the most important."""
    features = [
        _feature(shapely.Point(village.at_m), name=village.name, kind=village.rank, rank=_RANKS[village.rank], population=village.people)
        for village in villages
    ]  # fmt: skip
    built = shapely.union_all([village.built for village in villages]).buffer(500.0)
    for islet, name in zip(terrain.islets, (FERRY_ISLET, LONE_ISLET), strict=True):
        features.append(
            _feature(
                islet.difference(built).representative_point(),
                name=name,
                kind="island",
                rank=_RANKS["village"],
            )
        )
    east, north = np.meshgrid(EASTINGS_M, NORTHINGS_M)
    for name, is_here in zip(HILLS, (east < EASTINGS_M.mean(), east >= EASTINGS_M.mean()), strict=True):
        top = np.unravel_index(int(np.where(is_here, terrain.height_m, -1e9).argmax()), east.shape)
        spot = shapely.Point(east[top], north[top])
        features.append(
            _feature(
                spot,
                name=name,
                kind="hill",
                rank=_RANKS["hill"],
                height_m=round(float(terrain.height_m[top])),
            )
        )
    for lake, name in zip(lakes, LAKES, strict=False):
        features.append(_feature(lake.representative_point(), name=name, kind="lake", rank=_RANKS["lake"]))
    return features
