"""The roads as OpenStreetMap data: XML that any reader takes, and the same packed as PBF."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import quoteattr

import numpy as np

from broodsweep.demo.gridref import to_longitude_latitude
from broodsweep.demo.roads import MAXSPEED, Road
from broodsweep.demo.settlements import Village

_STAMP = "2026-07-01T00:00:00Z"
Tags = tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class OsmNode:
    """A node: its number, longitude and latitude (seven decimals) and tags. [degree]"""

    number: int
    longitude: float
    latitude: float
    tags: Tags = ()


@dataclass(frozen=True, kw_only=True)
class OsmWay:
    """A way: its number, the numbers of its nodes and its tags."""

    number: int
    nodes: tuple[int, ...]
    tags: Tags


def as_osm(
    roads: tuple[Road, ...], villages: tuple[Village, ...]
) -> tuple[tuple[OsmNode, ...], tuple[OsmWay, ...]]:
    """Return nodes and ways; roads that meet share the node."""
    numbers: dict[tuple[float, float], int] = {}
    spots, tags, ways = [], dict[int, Tags](), []
    for count, road in enumerate(roads, start=1):
        refs = []
        for point in road.line_m.tolist():
            key = (round(point[0], 3), round(point[1], 3))
            if key not in numbers:
                numbers[key] = len(numbers) + 1
                spots.append(point)
            refs.append(numbers[key])
        if road.gate is not None:
            tags[refs[road.gate]] = (("barrier", "gate"),)
        ways.append(OsmWay(number=count, nodes=tuple(refs), tags=_tags(road)))
    degrees = np.round(to_longitude_latitude(np.array(spots)), 7).tolist()
    nodes = [
        OsmNode(number=n, longitude=lon, latitude=lat, tags=tags.get(n, ()))
        for n, (lon, lat) in enumerate(degrees, start=1)
    ]
    middles = np.round(to_longitude_latitude(np.array([village.at_m for village in villages])), 7).tolist()
    for village, (lon, lat) in zip(villages, middles, strict=True):
        named = (("name", village.name), ("place", village.rank), ("population", str(village.people)))
        nodes.append(OsmNode(number=len(nodes) + 1, longitude=lon, latitude=lat, tags=named))
    return tuple(nodes), tuple(ways)


def _tags(road: Road) -> Tags:
    tags = (
        {"route": "ferry", "duration": "00:25", "motor_vehicle": "yes"}
        if road.kind == "ferry"
        else {"highway": road.kind}
    )
    if road.kind in MAXSPEED:
        tags["maxspeed"] = f"{MAXSPEED[road.kind]} mph"
    if road.name:
        tags["name"] = road.name
    if road.is_oneway:
        tags["oneway"] = "yes"
    if road.kind == "track":
        tags["surface"] = "gravel"
    return tuple(sorted(tags.items()))


def osm_xml(nodes: tuple[OsmNode, ...], ways: tuple[OsmWay, ...]) -> str:
    """Return the data as OSM XML, version 0.6."""
    lines = ['<?xml version="1.0" encoding="UTF-8"?>', '<osm version="0.6" generator="broodsweep">']
    for node in nodes:
        head = f'  <node id="{node.number}" version="1" timestamp="{_STAMP}" lat="{node.latitude:.7f}" lon="{node.longitude:.7f}"'
        lines += [head + "/>"] if not node.tags else [head + ">", *_xml_tags(node.tags), "  </node>"]
    for way in ways:
        lines.append(f'  <way id="{way.number}" version="1" timestamp="{_STAMP}">')
        lines += [f'    <nd ref="{ref}"/>' for ref in way.nodes]
        lines += [*_xml_tags(way.tags), "  </way>"]
    return "\n".join([*lines, "</osm>", ""])


def _xml_tags(tags: Tags) -> list[str]:
    return [f"    <tag k={quoteattr(key)} v={quoteattr(value)}/>" for key, value in tags]


def write_pbf(path: Path, nodes: tuple[OsmNode, ...], ways: tuple[OsmWay, ...]) -> None:
    """Write the data as PBF; an existing file is replaced."""
    import osmium

    path.unlink(missing_ok=True)
    with osmium.SimpleWriter(str(path)) as writer:
        for node in nodes:
            writer.add_node(
                osmium.osm.mutable.Node(
                    id=node.number,
                    version=1,
                    timestamp=_STAMP,
                    location=(node.longitude, node.latitude),
                    tags=dict(node.tags),
                )
            )
        for way in ways:
            writer.add_way(
                osmium.osm.mutable.Way(
                    id=way.number, version=1, timestamp=_STAMP, nodes=list(way.nodes), tags=dict(way.tags)
                )
            )
