"""The roads of Skarnsey: least-cost ways over the terrain that join villages, then farms, then the ferry."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components, dijkstra
from scipy.spatial import Delaunay, cKDTree

from broodsweep.demo.names import FERRY_ISLET
from broodsweep.demo.settlements import Village
from broodsweep.demo.terrain import EASTINGS_M, NORTHINGS_M, Terrain
from broodsweep.units import FloatArray, IntArray

STEP_M = 200.0
CLASSES = ("primary", "secondary", "tertiary", "unclassified", "track", "residential", "ferry")
MAXSPEED = {"primary": 60, "secondary": 50, "tertiary": 40, "unclassified": 30, "residential": 20}
"""Signed speed limit. [mile/h]"""


@dataclass(frozen=True, kw_only=True)
class Road:
    """A piece of road between two junctions: its line in the National Grid, shape (n, 2). [m]

    The ends of roads that meet are equal. ``gate`` is the number of the point of the line where a gate stands.
    """

    kind: str
    line_m: FloatArray
    name: str | None = None
    is_oneway: bool = False
    gate: int | None = None


@dataclass(frozen=True, kw_only=True)
class Lattice:
    """Points that roads may use and the steps between them.

    ``points_m`` has shape (n, 2), ``pairs`` (m, 2), ``cost_m`` (m,): length made longer by climbing and wood.
    """

    points_m: FloatArray
    pairs: IntArray
    cost_m: FloatArray

    def graph(self, factor: FloatArray) -> csr_array:
        """Return the steps as a symmetric sparse matrix, each cost times its factor."""
        count = len(self.points_m)
        cost = self.cost_m * factor
        ends = np.concatenate([self.pairs, self.pairs[:, ::-1]])
        return csr_array((np.concatenate([cost, cost]), (ends[:, 0], ends[:, 1])), shape=(count, count))


def make_lattice(rng: np.random.Generator, terrain: Terrain) -> Lattice:
    """Lay a shaken lattice over the dry land; steps that would leave it are dropped."""
    eastings = np.arange(EASTINGS_M[0], EASTINGS_M[-1], STEP_M)
    northings = np.arange(NORTHINGS_M[0], NORTHINGS_M[-1], STEP_M)
    east, north = np.meshgrid(eastings, northings)
    points = np.stack([east, north], axis=-1) + rng.uniform(-0.27, 0.27, (*east.shape, 2)) * STEP_M
    numbers = np.arange(east.size).reshape(east.shape)
    steps = [
        (numbers[:, :-1], numbers[:, 1:]),
        (numbers[:-1], numbers[1:]),
        (numbers[:-1, :-1], numbers[1:, 1:]),
        (numbers[:-1, 1:], numbers[1:, :-1]),
    ]
    pairs = np.concatenate([np.stack([a.ravel(), b.ravel()], axis=1) for a, b in steps])
    points = points.reshape(-1, 2)
    ground = terrain.dry.buffer(-75.0)
    shapely.prepare(ground)
    dry = shapely.contains_xy(ground, points[:, 0], points[:, 1])
    pairs = pairs[dry[pairs].all(axis=1)]
    pairs = pairs[shapely.contains(ground, shapely.linestrings(points[pairs]))]
    used, pairs = np.unique(pairs, return_inverse=True)
    points, pairs = points[used], pairs.reshape(-1, 2)
    long_m = np.hypot(*(points[pairs[:, 0]] - points[pairs[:, 1]]).T)
    climb = np.abs(np.diff(terrain.height_at(points)[pairs], axis=1)[:, 0]) / long_m
    middle = points[pairs].mean(axis=1)
    wood = shapely.contains_xy(terrain.woods, middle[:, 0], middle[:, 1])
    heath = shapely.contains_xy(terrain.heath, middle[:, 0], middle[:, 1])
    rough = rng.uniform(0.8, 1.3, len(pairs))
    return Lattice(
        points_m=points, pairs=pairs, cost_m=long_m * (1 + 9 * climb + 0.5 * wood + 0.9 * heath) * rough
    )


def make_roads(
    rng: np.random.Generator, terrain: Terrain, villages: tuple[Village, ...], farms_m: FloatArray
) -> tuple[Road, ...]:
    """Return the whole network: every village and farm can be reached from every other."""
    lattice = make_lattice(rng, terrain)
    grade = np.full(len(lattice.pairs), len(CLASSES), dtype=np.int64)
    row_of = {(int(a), int(b)): row for row, (a, b) in enumerate(lattice.pairs)}
    homes = _nearest(lattice, np.array([village.at_m for village in villages]), villages, terrain)
    for start, stop, level in _wanted(villages):
        factor = np.where(grade < len(CLASSES), 0.45, 1.0)
        _, before = dijkstra(lattice.graph(factor), indices=homes[start], return_predecessors=True)
        _mark(grade, row_of, before, homes[stop], level)
    quay, pier = _landings(lattice, homes)
    _, before = dijkstra(lattice.graph(np.ones(len(grade))), indices=homes[-1], return_predecessors=True)
    _mark(grade, row_of, before, pier, 3)
    for level, ends in ((3, np.vstack([farms_m[::3], lattice.points_m[quay]])), (4, farms_m)):
        on_road = np.unique(lattice.pairs[grade < len(CLASSES)])
        _, before, _ = dijkstra(
            lattice.graph(np.ones(len(grade))), indices=on_road, min_only=True, return_predecessors=True
        )
        for end in cKDTree(lattice.points_m).query(ends)[1]:
            _mark(grade, row_of, before, int(end), level)
    roads = _as_roads(lattice, grade, {*homes, quay, pier})
    roads += _streets(rng, lattice, homes, villages, terrain)
    roads.append(_ferry(lattice, quay, pier))
    return tuple(_dress(rng, roads, villages))


def _nearest(
    lattice: Lattice, spots_m: FloatArray, villages: tuple[Village, ...], terrain: Terrain
) -> list[int]:
    """Return the lattice point of each village, on the same connected land as its neighbours."""
    _, group = connected_components(lattice.graph(np.ones(len(lattice.pairs))), directed=False)
    sizes = np.bincount(group)
    main = int(sizes.argmax())
    islet_point = cKDTree(lattice.points_m).query(np.array(villages[-1].at_m))[1]
    homes = []
    for village, spot in zip(villages, spots_m, strict=True):
        allowed = np.flatnonzero(group == (group[islet_point] if village.is_on_islet else main))
        homes.append(int(allowed[cKDTree(lattice.points_m[allowed]).query(spot)[1]]))
    return homes


def _wanted(villages: tuple[Village, ...]) -> list[tuple[int, int, int]]:
    """Return the pairs of villages to join and the class of road, from the relative-neighbourhood graph."""
    spots = np.array([village.at_m for village in villages if not village.is_on_islet])
    corners = Delaunay(spots).simplices
    edges = {tuple(sorted((int(t[a]), int(t[b])))) for t in corners for a, b in ((0, 1), (1, 2), (0, 2))}
    away = np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1))
    wanted = []
    for a, b in sorted(edges):
        others = [c for c in range(len(spots)) if c not in (a, b)]
        if all(max(away[a, c], away[b, c]) > 0.80 * away[a, b] for c in others):
            people = sorted((villages[a].people, villages[b].people))
            level = 0 if people[1] > 2_000 or people[0] > 450 else 1 if people[0] > 210 else 2
            wanted.append((a, b, level))
    return sorted(wanted, key=lambda edge: (edge[2], edge[0], edge[1]))


def _mark(
    grade: IntArray, row_of: dict[tuple[int, int], int], before: IntArray, stop: int, level: int
) -> None:
    """Walk back from the end and give each step the class, unless it has a better one."""
    here = stop
    while before[here] >= 0:
        there = int(before[here])
        row = row_of.get((here, there))
        if row is None:
            row = row_of[(there, here)]
        grade[row] = min(grade[row], level)
        here = there


def _as_roads(lattice: Lattice, grade: IntArray, joints: set[int]) -> list[Road]:
    """Cut the marked steps into roads from junction to junction and round their bends.

    ``joints`` are points where a street or the ferry will join: they stay as they are.
    """
    near: dict[int, list[tuple[int, int]]] = {}
    for row in np.flatnonzero(grade < len(CLASSES)).tolist():
        a, b = (int(end) for end in lattice.pairs[row])
        near.setdefault(a, []).append((b, row))
        near.setdefault(b, []).append((a, row))
    stops = {
        n
        for n, ways in near.items()
        if n in joints or len(ways) != 2 or grade[ways[0][1]] != grade[ways[1][1]]
    }
    seen: set[int] = set()
    roads = []
    for first in [*sorted(stops), *sorted(near)]:
        for second, row in near[first]:
            if row in seen:
                continue
            path, last = [first, second], row
            seen.add(row)
            while path[-1] not in stops and path[-1] != first:
                step, last = next(way for way in near[path[-1]] if way[1] != last)
                seen.add(last)
                path.append(step)
            roads.append(Road(kind=CLASSES[grade[row]], line_m=_rounded(lattice.points_m[path])))
    return roads


def _rounded(line: FloatArray) -> FloatArray:
    """Cut the corners once (Chaikin), keeping both ends."""
    if len(line) < 3:
        return line
    early, late = 0.75 * line[:-1] + 0.25 * line[1:], 0.25 * line[:-1] + 0.75 * line[1:]
    inner = np.stack([early, late], axis=1).reshape(-1, 2)[1:-1]
    return np.concatenate([line[:1], inner, line[-1:]])


def _streets(
    rng: np.random.Generator,
    lattice: Lattice,
    homes: list[int],
    villages: tuple[Village, ...],
    terrain: Terrain,
) -> list[Road]:
    """Return a few short streets from the middle of each village, inside its built-up ground."""
    streets = []
    for village, home in zip(villages, homes, strict=True):
        middle = lattice.points_m[home]
        room = village.built.buffer(120.0).intersection(terrain.dry.buffer(-30.0))
        for turn in rng.permutation(8)[: 2 + min(4, village.people // 250)] * (np.pi / 4) + 0.4:
            reach = rng.uniform(90.0, 150.0) + 3.5 * np.sqrt(village.people)
            bend = turn + rng.uniform(-0.4, 0.4)
            half = middle + 0.5 * reach * np.array([np.cos(turn), np.sin(turn)])
            line = np.stack([middle, half, half + 0.5 * reach * np.array([np.cos(bend), np.sin(bend)])])
            if shapely.contains(room, shapely.linestrings(line)):
                streets.append(Road(kind="residential", line_m=line, is_oneway=bool(rng.random() < 0.12)))
    return streets


def _landings(lattice: Lattice, homes: list[int]) -> tuple[int, int]:
    """Return the points of the main island and of the ferry's islet that lie nearest to each other."""
    _, group = connected_components(lattice.graph(np.ones(len(lattice.pairs))), directed=False)
    main = np.flatnonzero(group == group[homes[0]])
    islet = np.flatnonzero(group == group[homes[-1]])
    away, partner = cKDTree(lattice.points_m[main]).query(lattice.points_m[islet])
    best = int(away.argmin())
    return int(main[partner[best]]), int(islet[best])


def _ferry(lattice: Lattice, quay: int, pier: int) -> Road:
    """Return the way of the ferry, a little bent, as ferries go."""
    start, stop = lattice.points_m[quay], lattice.points_m[pier]
    across = np.array([[0.0, -1.0], [1.0, 0.0]]) @ (stop - start)
    line = np.stack([start, start + 0.35 * (stop - start) + 0.08 * across, stop])
    return Road(kind="ferry", line_m=line, name=f"{FERRY_ISLET} ferry")


def _dress(rng: np.random.Generator, roads: list[Road], villages: tuple[Village, ...]) -> list[Road]:
    """Name the larger roads after where they lead and hang gates across some tracks."""
    tree = cKDTree(np.array([village.at_m for village in villages]))
    dressed = []
    for road in roads:
        if road.kind in ("primary", "secondary", "tertiary"):
            a, b = tree.query(road.line_m[[0, -1]])[1]
            name = (
                f"{villages[max(a, b)].name} Road"
                if a == b
                else f"{villages[a].name}–{villages[b].name} Road"
            )
            dressed.append(replace(road, name=name))
        elif road.kind == "track" and len(road.line_m) > 3 and rng.random() < 0.35:
            dressed.append(replace(road, gate=1))
        else:
            dressed.append(road)
    return dressed
