"""Road matrices against networkx on the same graph, and what the file says against what the net holds.

networkx (BSD) finds the quickest ways over the segments of our net with the same weights; each place is joined to
the two ends of its segment by hand. Times agree to the rounding of our packed numbers: half a tenth of a second a
segment.
"""

from __future__ import annotations

from pathlib import Path

import networkx as nx
import numpy as np
import pytest
from scipy.sparse import csr_array

from broodsweep.rounds.roads import RoadNet, travel_by_roads
from broodsweep.rounds.shortest import shortest_ways
from broodsweep.tables.osm_roads import read_roads

SPACING = 0.01


def grid_net(seed: int, side: int = 14) -> RoadNet:
    """Return a random net: a grid of roads with gaps, one-way streets and unequal speeds."""
    rng = np.random.default_rng(seed)
    number = np.arange(side * side).reshape(side, side)
    pairs = np.concatenate(
        [
            np.stack([number[:, :-1].ravel(), number[:, 1:].ravel()], axis=1),
            np.stack([number[:-1].ravel(), number[1:].ravel()], axis=1),
        ]
    )
    pairs = pairs[rng.random(len(pairs)) > 0.1]
    two_way = rng.random(len(pairs)) > 0.2
    pairs = np.concatenate([pairs, pairs[two_way][:, ::-1]])
    km = rng.uniform(0.8, 3.0, len(pairs)).round(3)
    speed = rng.choice([20.0, 40.0, 60.0], len(pairs))
    row, column = np.divmod(np.arange(side * side), side)
    return RoadNet(
        longitude=column * SPACING,
        latitude=row * SPACING,
        start=pairs[:, 0],
        end=pairs[:, 1],
        minutes=km / speed * 60.0,
        km=km,
        is_stopping_place=np.ones(len(pairs), dtype=bool),
        name="grid",
    )


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_quickest_ways_between_junctions_are_those_of_networkx(seed: int) -> None:
    net = grid_net(seed)
    graph = nx.DiGraph()
    for a, b, minutes, km in zip(net.start, net.end, net.minutes, net.km, strict=True):
        graph.add_edge(int(a), int(b), minutes=minutes, km=km)
    part = sorted(max(nx.strongly_connected_components(graph), key=len))
    chosen = part[:: max(1, len(part) // 12)]
    table = travel_by_roads(net, {str(n): (net.longitude[n], net.latitude[n]) for n in chosen})
    for a in chosen:
        length, path = nx.single_source_dijkstra(graph, a, weight="minutes")
        for b in chosen:
            if a == b:
                continue
            ours = table.minutes_between(str(a), str(b))
            assert ours is not None
            assert ours - 2 == pytest.approx(
                np.ceil(length[b] - 1e-2), abs=1
            )  # 2 min parking; whole minutes up
            km = sum(graph.edges[edge]["km"] for edge in nx.utils.pairwise(path[b]))
            assert table.km_between(str(a), str(b)) == pytest.approx(km, abs=0.05)


OSM = """<?xml version="1.0" encoding="UTF-8"?>
<osm version="0.6">
  <node id="1" lat="0.0" lon="0.00"/><node id="2" lat="0.0" lon="0.01"/><node id="3" lat="0.0" lon="0.02"/>
  <node id="4" lat="0.01" lon="0.01"><tag k="barrier" v="gate"/></node>
  <node id="5" lat="0.02" lon="0.01"/>
  <node id="6" lat="-0.01" lon="0.01"><tag k="barrier" v="bollard"/></node><node id="7" lat="-0.02" lon="0.01"/>
  <node id="8" lat="0.0" lon="0.10"/><node id="9" lat="0.0" lon="0.11"/>
  <way id="1"><nd ref="1"/><nd ref="2"/><nd ref="3"/><tag k="highway" v="primary"/><tag k="maxspeed" v="30 mph"/></way>
  <way id="2"><nd ref="2"/><nd ref="4"/><nd ref="5"/><tag k="highway" v="track"/></way>
  <way id="3"><nd ref="2"/><nd ref="6"/><nd ref="7"/><tag k="highway" v="residential"/></way>
  <way id="4"><nd ref="3"/><nd ref="8"/><tag k="route" v="ferry"/><tag k="duration" v="00:25"/></way>
  <way id="5"><nd ref="8"/><nd ref="9"/><tag k="highway" v="unclassified"/></way>
  <way id="6"><nd ref="1"/><nd ref="5"/><tag k="highway" v="footway"/></way>
  <way id="7"><nd ref="1"/><nd ref="5"/><tag k="highway" v="service"/><tag k="motor_vehicle" v="no"/></way>
  <way id="8"><nd ref="5"/><nd ref="3"/><tag k="highway" v="secondary"/><tag k="oneway" v="yes"/></way>
</osm>
"""
KM = 1.1131949079  # a hundredth of a degree on the equator, WGS84: 6378.137 km * pi / 18000


@pytest.fixture
def net(tmp_path: Path) -> RoadNet:
    path = tmp_path / "roads.osm"
    path.write_text(OSM, encoding="utf-8")
    return read_roads(path)


def minutes_of(net: RoadNet, *ends: tuple[float, float]) -> list[float]:
    """Minutes of the segment between two points, in each direction that it has."""
    place = {
        (round(a, 3), round(b, 3)): n
        for n, (a, b) in enumerate(zip(net.longitude, net.latitude, strict=True))
    }
    a, b = (place.get(end) for end in ends)
    return [float(m) for s, e, m in zip(net.start, net.end, net.minutes, strict=True) if {a, b} == {s, e}]


def test_speed_is_the_limit_where_that_is_lower(net: RoadNet) -> None:
    assert minutes_of(net, (0.0, 0.0), (0.01, 0.0)) == pytest.approx([KM / 48.28032 * 60] * 2, rel=1e-6)


def test_a_gate_costs_a_minute_and_a_bollard_closes(net: RoadNet) -> None:
    plain = 0.01 * 110.574389 / 15.0 * 60  # a degree of latitude at the equator: 110.574 km
    assert minutes_of(net, (0.01, 0.0), (0.01, 0.01)) == pytest.approx([plain + 0.5] * 2, rel=1e-4)
    assert minutes_of(net, (0.01, 0.0), (0.01, -0.01)) == []


def test_a_ferry_takes_its_duration_and_a_wait_and_no_kilometres(net: RoadNet) -> None:
    assert minutes_of(net, (0.02, 0.0), (0.1, 0.0)) == [45.0, 45.0]
    table = travel_by_roads(net, {"here": (0.02, 0.0), "there": (0.105, 0.0)})
    assert table.km_between("here", "there") == pytest.approx(KM / 2, abs=0.002)


def test_one_way_streets_have_one_direction_and_footways_none(net: RoadNet) -> None:
    assert len(minutes_of(net, (0.01, 0.02), (0.02, 0.0))) == 1
    assert minutes_of(net, (0.0, 0.0), (0.01, 0.02)) == []


def test_an_islet_without_a_ferry_is_named_and_not_reachable(tmp_path: Path) -> None:
    path = tmp_path / "roads.osm"
    path.write_text(OSM.replace('<tag k="route" v="ferry"/>', ""), encoding="utf-8")
    points = {
        "home": (0.0, 0.0),
        "A": (0.015, 0.0),
        "B": (0.011, 0.0005),
        "islet": (0.105, 0.0),
        "sea": (0.05, 0.05),
    }
    table = travel_by_roads(read_roads(path), points)
    assert {name: row.key for name, row in table.off_road.items()} == {
        "islet": "rounds.no_ferry",
        "sea": "rounds.off_road",
    }
    assert table.minutes_between("home", "islet") is None
    assert table.minutes_between("A", "B") is not None


def test_two_places_on_one_street_need_not_go_by_its_ends(net: RoadNet) -> None:
    table = travel_by_roads(net, {"A": (0.002, 0.0), "B": (0.004, 0.0)})
    assert table.km_between("A", "B") == pytest.approx(0.2 * KM, abs=0.002)


def test_the_walk_from_the_road_is_added(net: RoadNet) -> None:
    near = travel_by_roads(net, {"A": (0.002, 0.0), "B": (0.008, 0.0)})
    far = travel_by_roads(net, {"A": (0.002, -0.004), "B": (0.008, 0.0)})
    walk = 0.004 * 111.195 * 1.2 / 4.0 * 60
    assert far.minutes_between("A", "B") - near.minutes_between("A", "B") == pytest.approx(walk, abs=1.0)  # type: ignore[operator]


@pytest.mark.parametrize("seed", range(5))
def test_shortest_ways_are_those_of_networkx_on_nets_with_one_way_roads_and_parts(seed: int) -> None:
    rng = np.random.default_rng(seed)
    count = 60
    start, end = rng.integers(0, count, (2, 110))
    length = rng.uniform(0.1, 9.0, 110)
    graph = nx.DiGraph()
    graph.add_nodes_from(range(count))
    for a, b, far in zip(start.tolist(), end.tolist(), length.tolist(), strict=True):
        if a != b and far < graph.get_edge_data(a, b, {"weight": np.inf})["weight"]:
            graph.add_edge(a, b, weight=far)
    net = csr_array(nx.to_scipy_sparse_array(graph, nodelist=range(count)))
    starts, ends = np.arange(0, count, 3), np.arange(1, count, 2)
    found = shortest_ways(net.indptr, net.indices, net.data, starts, ends)
    theirs = dict(nx.all_pairs_dijkstra_path_length(graph))
    wanted = [[theirs[int(a)].get(int(b), np.inf) for b in ends] for a in starts]
    assert np.isinf(found).any()
    assert found == pytest.approx(np.array(wanted))
