"""Drive times over a road net: places joined to the nearest usable road, shortest times between all of them.

The net is arrays; where it comes from is the edge's business. A place lies on a segment of a road, not at the nearest
crossing; the way from there is walked. What no road reaches is named, never given a huge number.

Seconds and metres of each segment are packed into one whole number (time above, length below), so that one
shortest-path search gives the quickest way, the shorter of equally quick ones, and its length, all exactly.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from broodsweep.rounds.constants import DRIVE_EXTRA_TIME, FARTHEST_WALK, ROAD_OVER_STRAIGHT_WALK, WALK_SPEED
from broodsweep.rounds.shortest import shortest_ways
from broodsweep.rounds.travel import METRES_PER_KM, MINUTES_PER_HOUR, TravelTable
from broodsweep.units import BoolArray, FloatArray, IntArray
from broodsweep.words import Message, say

_LENGTH_SPAN = float(2**24)
"""Above any length of a way in metres; the packed sum stays below 2**53 and so exact."""
_TENTHS_PER_MINUTE = 600.0
_METRES_PER_DEGREE = 111_195.0
AT_JUNCTION_M = 10.0
"""A place this near to a junction may leave by any of its roads (project choice: width of a junction)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class RoadNet:
    """A road net as arrays: points, and directed segments between them.

    Parameters
    ----------
    longitude, latitude
        Points of the roads, shape (n,). [degree]
    start, end
        Points that each segment joins, in its direction, shape (m,).
    minutes, km
        Time and length of each segment, shape (m,). [min, km]
    is_stopping_place
        Whether one can stop and walk from the segment (not from a motorway or a ferry), shape (m,).
    name
        What the net was read from, for the reader.
    """

    longitude: FloatArray
    latitude: FloatArray
    start: IntArray
    end: IntArray
    minutes: FloatArray
    km: FloatArray
    is_stopping_place: BoolArray
    name: str

    @cached_property
    def packed(self) -> FloatArray:
        """Time and length of each segment in one number: tenths of a second times 2^24 plus metres."""
        tenths = np.maximum(1.0, np.rint(self.minutes * _TENTHS_PER_MINUTE))
        return tenths * _LENGTH_SPAN + np.rint(self.km * METRES_PER_KM)

    @cached_property
    def plane(self) -> FloatArray:
        """Points in metres on a plane that is true near the middle of the net, shape (n, 2)."""
        return self.on_plane(np.stack([self.longitude, self.latitude], axis=1))

    def on_plane(self, points: FloatArray) -> FloatArray:
        """Put longitude and latitude on the plane of the net, shape (k, 2). [m]"""
        middle = float(self.latitude.mean()) if len(self.latitude) else 0.0
        scale = np.array([np.cos(np.radians(middle)), 1.0]) * _METRES_PER_DEGREE
        return np.asarray(points * scale)

    @cached_property
    def tree(self) -> shapely.STRtree:
        """Search tree of the segments one can stop on."""
        rows = self.stopping
        ends = np.stack([self.plane[self.start[rows]], self.plane[self.end[rows]]], axis=1)
        return shapely.STRtree(shapely.linestrings(ends))

    @cached_property
    def stopping(self) -> IntArray:
        """Numbers of the segments one can stop on and get back from: of the largest part each island has."""
        return np.flatnonzero(self.is_stopping_place & self.is_two_way_joined)

    @cached_property
    def is_two_way_joined(self) -> BoolArray:
        """Whether both ends of a segment lie in one strongly connected part, so that one gets in and out."""
        count = len(self.longitude)
        graph = csr_array((np.ones(len(self.start)), (self.start, self.end)), shape=(count, count))
        _, part = connected_components(graph, directed=True, connection="strong")
        return np.asarray(part[self.start] == part[self.end])


@dataclass(frozen=True, kw_only=True, eq=False)
class _Snapped:
    """Where places meet the roads: segment, how far along it, how far to walk. Shapes (k,)."""

    segment: IntArray
    along: FloatArray
    walk_m: FloatArray
    is_near: BoolArray


def travel_by_roads(net: RoadNet, points: Mapping[str, tuple[float, float]]) -> TravelTable:
    """Return times and distances between places over the roads.

    To each drive come the walk at both ends and the extra minutes of starting and parking. Between two places on the
    same spot there is nothing to drive.

    Parameters
    ----------
    net
        The roads.
    points
        Longitude and latitude by name. [degree]
    """
    names = tuple(points)
    spots = np.array(list(points.values()), dtype=np.float64).reshape(len(names), 2)
    snapped = _snap(net, spots)
    packed = _shortest(net, snapped)
    reachable = np.isfinite(packed) & snapped.is_near[:, None] & snapped.is_near[None, :]
    whole = np.where(reachable, packed, 0.0)
    tenths, metres = np.floor_divide(whole, _LENGTH_SPAN), np.mod(whole, _LENGTH_SPAN)
    walk = snapped.walk_m * ROAD_OVER_STRAIGHT_WALK.value / METRES_PER_KM / WALK_SPEED.value
    walk_minutes = np.where(snapped.is_near, walk * MINUTES_PER_HOUR, 0.0)
    minutes = tenths / _TENTHS_PER_MINUTE + walk_minutes[:, None] + walk_minutes[None, :]
    whole_minutes = np.ceil(minutes + DRIVE_EXTRA_TIME.value).astype(np.int64)
    same = (spots[:, None, :] == spots[None, :, :]).all(axis=2)
    whole_minutes[same] = 0
    return TravelTable(
        names=names,
        points=tuple((float(lon), float(lat)) for lon, lat in spots),
        minutes=whole_minutes,
        km=np.where(same, 0.0, metres / METRES_PER_KM),
        is_reachable=reachable | same,
        method=say("rounds.by_roads", file=net.name, junctions=len(net.longitude)),
        off_road=_off_road(names, snapped, reachable),
    )


def _snap(net: RoadNet, spots: FloatArray) -> _Snapped:
    """Find the nearest segment that one can stop on and get away from."""
    count = len(spots)
    if not len(net.stopping) or not count:
        none = np.zeros(count)
        return _Snapped(
            segment=np.zeros(count, dtype=np.int64),
            along=none,
            walk_m=none,
            is_near=np.zeros(count, dtype=np.bool_),
        )
    flat = net.on_plane(spots)
    nearest = net.tree.nearest(shapely.points(flat))
    segment = net.stopping[nearest]
    a, b = net.plane[net.start[segment]], net.plane[net.end[segment]]
    direction = b - a
    length2 = np.maximum((direction**2).sum(axis=1), np.finfo(float).tiny)
    along = np.clip(((flat - a) * direction).sum(axis=1) / length2, 0.0, 1.0)
    walk_m = np.hypot(*(flat - a - along[:, None] * direction).T)
    return _Snapped(segment=segment, along=along, walk_m=walk_m, is_near=walk_m <= FARTHEST_WALK.value)


def _shortest(net: RoadNet, snapped: _Snapped) -> FloatArray:
    """Return the packed shortest ways between all places, shape (k, k); infinite where there is none."""
    count, places = len(net.longitude), len(snapped.segment)
    if not len(net.start) or not places:
        return np.full((places, places), np.inf)
    both = _twins(net)
    start, end, packed = [net.start], [net.end], [net.packed]
    first, last = net.start[snapped.segment], net.end[snapped.segment]
    here = count + np.arange(places)
    there = here + places
    ahead = _share(net, snapped.segment, 1.0 - snapped.along)
    behind = _share(net, snapped.segment, snapped.along)
    start += [here, first]
    end += [last, there]
    packed += [ahead, behind]
    two_way = both[snapped.segment]
    back = two_way >= 0
    start += [here[back], last[back]]
    end += [first[back], there[back]]
    packed += [
        _share(net, two_way[back], snapped.along[back]),
        _share(net, two_way[back], 1.0 - snapped.along[back]),
    ]
    for is_here, node in ((_is_at_end(net, snapped, 0.0), first), (_is_at_end(net, snapped, 1.0), last)):
        start += [here[is_here], node[is_here]]
        end += [node[is_here], there[is_here]]
        packed += [np.full(int(is_here.sum()), _LENGTH_SPAN)] * 2
    graph = _graph(np.concatenate(start), np.concatenate(end), np.concatenate(packed), count + 2 * places)
    found = shortest_ways(graph.indptr, graph.indices, graph.data, here, there)
    return np.asarray(np.minimum(found, _on_one_segment(net, snapped, back)))


def _is_at_end(net: RoadNet, snapped: _Snapped, end: float) -> BoolArray:
    """Say which places lie at an end of their segment: from there every road of the junction is open."""
    away_m = np.abs(snapped.along - end) * net.km[snapped.segment] * METRES_PER_KM
    return np.asarray(away_m <= AT_JUNCTION_M)


def _share(net: RoadNet, segment: IntArray, share: FloatArray) -> FloatArray:
    """Pack part of a segment; at least a tenth of a second, so that no way is without time."""
    tenths = np.maximum(1.0, np.rint(net.minutes[segment] * _TENTHS_PER_MINUTE * share))
    return np.asarray(tenths * _LENGTH_SPAN + np.rint(net.km[segment] * METRES_PER_KM * share))


def _on_one_segment(net: RoadNet, snapped: _Snapped, is_two_way: BoolArray) -> FloatArray:
    """Ways between places on the same segment, which need not go by its ends."""
    along = snapped.along
    same = snapped.segment[:, None] == snapped.segment[None, :]
    between = along[None, :] - along[:, None]
    allowed = same & ((between >= 0.0) | is_two_way[:, None])
    rows = np.broadcast_to(snapped.segment[:, None], same.shape)
    return np.where(allowed, _share(net, rows, np.abs(between)), np.inf)


def _twins(net: RoadNet) -> IntArray:
    """Number of the segment that runs the other way between the same points; -1 on one-way roads."""
    size = len(net.longitude)
    key, reverse = net.start * size + net.end, net.end * size + net.start
    order = np.argsort(key, kind="stable")
    place = np.searchsorted(key[order], reverse)
    place = np.minimum(place, len(key) - 1)
    found = order[place]
    return np.where(key[found] == reverse, found, -1)


def _graph(start: IntArray, end: IntArray, packed: FloatArray, size: int) -> csr_array:
    """Return a sparse matrix that keeps the quicker of parallel segments."""
    order = np.lexsort((packed, end, start))
    start, end, packed = start[order], end[order], packed[order]
    keep = np.ones(len(start), dtype=np.bool_)
    keep[1:] = (start[1:] != start[:-1]) | (end[1:] != end[:-1])
    return csr_array((packed[keep], (start[keep], end[keep])), shape=(size, size))


def _off_road(names: tuple[str, ...], snapped: _Snapped, reachable: BoolArray) -> dict[str, Message]:
    """Name the places without a usable road, and those cut off from most others."""
    found: dict[str, Message] = {}
    others = reachable.sum(axis=1) - np.diag(reachable)
    for number, name in enumerate(names):
        if not snapped.is_near[number]:
            found[name] = say("rounds.off_road", reach_m=FARTHEST_WALK.value)
        elif len(names) > 1 and 2 * others[number] < snapped.is_near.sum() - 1:
            found[name] = say("rounds.no_ferry")
    return found
