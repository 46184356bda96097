"""The map and the roads: sound GeoJSON, one connected network, read by osmium."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import networkx
import osmium
import pytest
import shapely

from broodsweep.demo import Island

LAYERS = {"land", "lakes", "woods", "heath", "built", "contours", "roads", "places"}


class Network(osmium.SimpleHandler):
    """Collects what a route planner would read."""

    def __init__(self) -> None:
        super().__init__()
        self.graph = networkx.Graph()
        self.kinds: Counter[str] = Counter()
        self.at: dict[int, tuple[float, float]] = {}
        self.tags: Counter[str] = Counter()
        self.villages: dict[str, tuple[float, float]] = {}

    def node(self, node: osmium.osm.Node) -> None:
        self.at[node.id] = (node.location.lon, node.location.lat)
        self.tags.update(f"{tag.k}={tag.v}" for tag in node.tags)
        if "place" in node.tags:
            self.villages[node.tags["name"]] = self.at[node.id]

    def way(self, way: osmium.osm.Way) -> None:
        refs = [node.ref for node in way.nodes]
        self.kinds[way.tags.get("highway", "") or "ferry"] += 1
        self.tags.update(f"{tag.k}={tag.v}" for tag in way.tags)
        networkx.add_path(self.graph, refs, kind=way.tags.get("highway", "ferry"))


@pytest.fixture(scope="module")
def network(folder: Path) -> Network:
    found = Network()
    found.apply_file(str(folder / "roads.osm"))
    return found


def test_layers_are_sound_geojson(folder: Path) -> None:
    """RFC 7946: types (1.4), closed rings of four or more positions (3.1.6), right-hand rule (3.1.6), no crs (4)."""
    assert {path.stem for path in (folder / "basemap").iterdir()} == LAYERS
    for path in (folder / "basemap").iterdir():
        layer = json.loads(path.read_text(encoding="utf-8"))
        assert layer["type"] == "FeatureCollection"
        assert "crs" not in layer
        assert layer["features"]
        for feature in layer["features"]:
            assert feature["type"] == "Feature"
            assert isinstance(feature["properties"], dict)
            shape = shapely.from_geojson(json.dumps(feature["geometry"]))
            assert shape.is_valid, (path, shapely.is_valid_reason(shape))
            west, south, east, north = shape.bounds
            assert -180 <= west <= east <= 180
            assert -90 <= south <= north <= 90
            if feature["geometry"]["type"] == "Polygon":
                outer, *holes = feature["geometry"]["coordinates"]
                assert all(len(ring) >= 4 and ring[0] == ring[-1] for ring in (outer, *holes))
                assert shapely.is_ccw(shapely.linearrings(outer))
                assert not any(shapely.is_ccw(shapely.linearrings(hole)) for hole in holes)
            for longitude, latitude in shapely.get_coordinates(shape).tolist():
                assert longitude == round(longitude, 6)
                assert latitude == round(latitude, 6)


def test_the_map_is_small(folder: Path) -> None:
    assert sum(path.stat().st_size for path in (folder / "basemap").iterdir()) < 2_000_000


def test_cover_lies_on_the_land(folder: Path) -> None:
    def layer(name: str) -> shapely.Geometry:
        features = json.loads((folder / "basemap" / f"{name}.geojson").read_text(encoding="utf-8"))[
            "features"
        ]
        return shapely.union_all([shapely.from_geojson(json.dumps(one["geometry"])) for one in features])

    land, lakes = layer("land"), layer("lakes")
    assert len(shapely.get_parts(land)) == 3
    assert len(shapely.get_parts(lakes)) == 2
    for name in ("lakes", "woods", "heath", "built", "places"):
        assert shapely.covers(land.buffer(1e-5), layer(name)), name
    for name in ("woods", "heath"):
        assert shapely.intersection(lakes, layer(name)).area < 1e-9
    west, south, east, north = land.bounds
    assert 0.35 < east - west < 0.7  # 0.5 degrees of longitude are 32 km here
    assert 0.15 < north - south < 0.3


def test_roads_keep_to_dry_land(folder: Path) -> None:
    def shapes(name: str) -> list[tuple[dict[str, object], shapely.Geometry]]:
        features = json.loads((folder / "basemap" / f"{name}.geojson").read_text(encoding="utf-8"))[
            "features"
        ]
        return [(one["properties"], shapely.from_geojson(json.dumps(one["geometry"]))) for one in features]

    land = shapely.union_all([shape for _, shape in shapes("land")])
    dry = land.difference(shapely.union_all([shape for _, shape in shapes("lakes")]))
    shapely.prepare(dry)
    roads = shapes("roads")
    assert {str(properties["class"]) for properties, _ in roads} >= {
        "primary",
        "secondary",
        "tertiary",
        "track",
        "ferry",
    }
    for properties, line in roads:
        if properties["class"] != "ferry":
            assert shapely.covers(dry, line), properties


def test_every_road_can_be_reached(network: Network) -> None:
    """With the ferry the network is one piece; without it, two: the main island and the islet."""
    assert networkx.is_connected(network.graph)
    dry = network.graph.copy()
    dry.remove_edges_from([(a, b) for a, b, kind in network.graph.edges(data="kind") if kind == "ferry"])
    pieces = [piece for piece in networkx.connected_components(dry) if len(piece) > 1]
    assert len(pieces) == 2


def test_every_village_has_a_road(network: Network) -> None:
    spots = shapely.STRtree(shapely.points([network.at[number] for number in network.graph.nodes]))
    assert len(network.villages) == 27
    for name, spot in network.villages.items():
        near = spots.query_nearest(shapely.Point(spot), return_distance=True)[1][0]
        assert near < 0.004, name  # about 250 m


def test_osm_has_the_tags_a_planner_needs(network: Network) -> None:
    assert {"primary", "secondary", "tertiary", "unclassified", "residential", "track"} <= set(network.kinds)
    assert network.tags["route=ferry"] == 1
    assert network.tags["barrier=gate"] >= 1
    assert network.tags["oneway=yes"] >= 1
    assert any(tag.startswith("maxspeed=") and tag.endswith(" mph") for tag in network.tags)


def test_the_packed_file_says_the_same(folder: Path, network: Network) -> None:
    packed = Network()
    packed.apply_file(str(folder / "roads.osm.pbf"))
    assert packed.at == network.at
    assert packed.kinds == network.kinds
    assert packed.tags == network.tags
    assert set(packed.graph.edges) == set(network.graph.edges)


def test_roads_on_the_map_are_those_of_the_network(island: Island) -> None:
    assert len(island.basemap["roads"]["features"]) == len(island.osm_ways)
