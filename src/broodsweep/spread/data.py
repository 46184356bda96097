"""From the tables to a scene: who could be infected since when, who was found, what was seen, what moved."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from broodsweep.constants import Disease
from broodsweep.register import Apiary, Ground, Visit
from broodsweep.spread import constants
from broodsweep.spread.arrays import BY_REPORT, BY_VISIT, CLEAN, NOT_FOUND, SUSPECT
from broodsweep.spread.distances import Plane
from broodsweep.spread.incubation import curves_of
from broodsweep.spread.lives import Life, is_finding, lives_of, residual_of
from broodsweep.spread.loads import moves_of
from broodsweep.spread.scene import Scene, Visits
from broodsweep.spread.season import by_day
from broodsweep.spread.settings import Settings
from broodsweep.spread.unregistered import Cells, Unregistered, cells_round, count_unregistered
from broodsweep.units import FloatArray, IntArray
from broodsweep.words import Message, say

_BEFORE_FINDING_DAYS = 365
"""The horizon reaches at least so far before the first finding: project choice."""


@dataclass(frozen=True, kw_only=True)
class Setup:
    """A scene with what its nodes stand for.

    ``apiary_of`` gives for each node the number of its apiary in the ground, -1 for a cell; ``now`` for each apiary
    of the ground its node of today, -1 when it is not there today.
    """

    scene: Scene
    ground: Ground
    disease: Disease
    on: date
    first: date
    apiary_of: IntArray
    now: IntArray
    lives: tuple[Life | None, ...]
    cells: Cells
    unregistered: Unregistered
    plane: Plane
    notes: tuple[Message, ...]

    def day_of(self, day: date) -> int:
        """Return the number of a day of the horizon."""
        return (day - self.first).days

    def to_degrees(self, east_m: float, north_m: float) -> tuple[float, float]:
        """Return longitude and latitude of a point of the plane."""
        return self.plane.back(east_m, north_m)


@dataclass(kw_only=True)
class _Nodes:
    """Columns of the scene while they are gathered."""

    apiary: list[int] = field(default_factory=list)
    life: list[Life | None] = field(default_factory=list)
    rows: list[tuple[float, ...]] = field(default_factory=list)
    visits: list[tuple[float, ...]] = field(default_factory=list)


def setup_of(ground: Ground, disease: Disease, on: date, settings: Settings) -> Setup:
    """Return the scene of a question; what lies behind ``on`` is left out and said in the notes."""
    lives = lives_of(ground, disease, on)
    first = _first_day(lives, on, settings)
    days = (on - first).days + 1
    places = [row.place for row in ground.apiaries]
    longitude = np.array([place.longitude for place in places])
    latitude = np.array([place.latitude for place in places])
    plane = Plane.round(longitude, latitude)
    east, north = plane.to(longitude, latitude)
    nodes = _Nodes()
    season = _seasons(first, days, places[0].latitude < 0 if places else False, settings)
    weight = _atom_days(season[0])
    for number, row in enumerate(ground.apiaries):
        for life in lives.get(row.apiary, (None,)):
            _add_life(nodes, number, row, life, first, days, weight, disease, settings)
    notes = _notes(ground, disease, on, first)
    count = count_unregistered(len(ground.apiaries), settings.coverage)
    found = [n for n, life in enumerate(nodes.life) if life is not None and life.finding is not None]
    cells = Cells(east_m=np.zeros(0), north_m=np.zeros(0), side_m=1000.0, expected=np.zeros(0))
    at = np.array(nodes.apiary, dtype=np.int64)
    if settings.unregistered:
        cells = cells_round(east[at[found]], north[at[found]], east, north, count.per_registered)
    scene = _scene(ground, nodes, east, north, cells, season, days, weight, disease, settings, on, first)
    now = np.full(len(ground.apiaries), -1, dtype=np.int64)
    standing = np.flatnonzero((scene.stop[: len(at)] == days) | (scene.found_how[: len(at)] > 0))
    now[at[standing]] = standing
    return Setup(
        scene=scene, ground=ground, disease=disease, on=on, first=first,
        apiary_of=np.concatenate([at, np.full(len(cells.expected), -1, dtype=np.int64)]),
        now=now, lives=tuple(nodes.life), cells=cells, unregistered=count, plane=plane, notes=notes,
    )  # fmt: skip


def _first_day(lives: dict[str, tuple[Life, ...]], on: date, settings: Settings) -> date:
    found = [life.finding.found_on for one in lives.values() for life in one if life.finding]
    since = on - timedelta(days=settings.horizon_days)
    recent = [day for day in found if day >= since]
    return min(since, min(recent) - timedelta(days=_BEFORE_FINDING_DAYS)) if recent else since


def _seasons(first: date, days: int, south: bool, settings: Settings) -> tuple[FloatArray, FloatArray]:
    flight = settings.flight_by_month or constants.FLIGHT_BY_MONTH
    opened = settings.opened_by_month or constants.OPENED_BY_MONTH
    return by_day(flight, first, days, south), np.maximum(by_day(opened, first, days, south), 0.01)


def _atom_days(flight: FloatArray) -> float:
    """In-season days, on average, since an infection standing at the start of the horizon."""
    return float(constants.SEEDING_DAYS.value * flight.mean())


def _add_life(
    nodes: _Nodes,
    number: int,
    row: Apiary,
    life: Life | None,
    first: date,
    days: int,
    weight: float,
    disease: Disease,
    settings: Settings,
) -> None:
    since = life.since if life else None
    start = 0 if since is None else (since - first).days
    if row.kept_since is not None and since is None:
        start = max(0, (row.kept_since - first).days)
    cleared = life.cleared_on if life else None
    stop = days
    if row.left_on is not None:
        stop = min(stop, (row.left_on - first).days)
    removed = stop if cleared is None else min(stop, (cleared - first).days)
    finding = life.finding if life else None
    how, found_day, opened, present, still = NOT_FOUND, 0, 0.0, 0.0, days
    if finding is not None:
        how = BY_REPORT if finding.by_report else BY_VISIT
        found_day = (finding.found_on - first).days
        opened, present = float(finding.opened), float(finding.present)
        still = (settings.standstill_on.get(row.apiary, finding.found_on) - first).days
        start, stop, removed = min(start, found_day), max(removed, found_day + 1), max(removed, found_day)
        stop = min(stop, days)
    elif removed < days:
        stop = removed
    if found_day < 0 or stop <= 0 or start >= days or (finding is None and stop <= start):
        return
    start = max(start, 0)
    stopped = settings.movement_stop_on
    if stopped is not None:
        still = min(still, max((stopped - first).days, 0))
    residual = residual_of(life.residual) if life and since is not None and since >= first else 0.0
    if since is None and start > 0:
        residual = constants.NEW_APIARY.value
    has_bees = row.colonies > 0 or finding is not None
    size = max(row.colonies, int(present), 1) if has_bees else 0
    atom = weight if since is None and start == 0 else 0.0
    place = len(nodes.apiary)
    nodes.apiary.append(number)
    nodes.life.append(life)
    nodes.rows.append(
        (size, start, stop, removed, max(still, 0), atom if has_bees else 0.0, -np.log1p(-residual), how, found_day,
         opened, present)
    )  # fmt: skip
    for visit in life.visits if life else ():
        _add_visit(nodes, place, visit, size, (visit.visited_on - first).days, start, stop, days, disease)


def _add_visit(
    nodes: _Nodes,
    place: int,
    visit: Visit,
    size: int,
    day: int,
    start: int,
    stop: int,
    days: int,
    disease: Disease,
) -> None:
    opened = float(visit.colonies_inspected)
    if opened <= 0 or day < start or day >= stop or is_finding(visit, disease):
        return
    present = float(max(visit.colonies_present or size, visit.colonies_inspected))
    is_open = (
        bool(visit.colonies_suspect) and visit.disease in (None, disease) and visit.colonies_confirmed == 0
    )
    recent = days - 1 - day <= constants.SUSPICION_OPEN_DAYS.value
    nodes.visits.append((place, day, opened, present, SUSPECT if is_open and recent else CLEAN))


def _scene(
    ground: Ground, nodes: _Nodes, east: FloatArray, north: FloatArray, cells: Cells,
    season: tuple[FloatArray, FloatArray], days: int, weight: float, disease: Disease, settings: Settings,
    on: date, first: date,
) -> Scene:  # fmt: skip
    at = np.array(nodes.apiary, dtype=np.int64)
    table = np.array(nodes.rows, dtype=float).reshape(len(at), 11)
    extra = len(cells.expected)
    k_size = constants.UNREGISTERED_COLONIES.value
    colonies = np.concatenate([table[:, 0], np.full(extra, k_size)])

    def whole(column: int, value: float) -> FloatArray:
        return np.concatenate([table[:, column], np.full(extra, value)])

    def number(column: int, value: int) -> IntArray:
        return whole(column, value).astype(np.int64)

    precision = np.array([row.place.precision_m for row in ground.apiaries], dtype=float)
    precision = np.concatenate([precision[at], np.full(extra, cells.side_m)])
    factor = (colonies / constants.REFERENCE_COLONIES.value) ** constants.SUSCEPTIBILITY_EXPONENT.value
    factor[len(at) :] *= cells.expected
    seen = np.array(nodes.visits, dtype=float).reshape(-1, 5)
    where = (np.concatenate([east[at], cells.east_m]), np.concatenate([north[at], cells.north_m]))
    found = number(7, NOT_FOUND)
    return Scene(
        days=days,
        east_m=where[0],
        north_m=where[1],
        precision_m=precision,
        colonies=np.maximum(colonies, 1.0),
        susceptible=factor,
        infectious=(np.maximum(colonies, 1.0) / constants.REFERENCE_COLONIES.value)
        ** constants.INFECTIOUSNESS_EXPONENT.value,
        owner=_owners(ground, at, extra),
        start=number(1, 0),
        stop=number(2, days),
        removed=number(3, days),
        still=number(4, days),
        atom_weight=whole(5, weight),
        atom_hazard=whole(6, 0.0),
        reporting=np.concatenate([np.ones(len(at)), np.full(extra, constants.UNREGISTERED_REPORT.value)]),
        found_how=found,
        found_day=number(8, 0),
        found_opened=whole(9, 0.0),
        found_present=whole(10, 0.0),
        flight=season[0],
        looked=season[1],
        curves=curves_of(disease, days),
        visits=Visits(
            node=seen[:, 0].astype(np.int64),
            day=seen[:, 1].astype(np.int64),
            opened=seen[:, 2],
            present=seen[:, 3],
            kind=seen[:, 4].astype(np.int64),
        ),
        moves=moves_of(ground, at, table, first, on, days),
        kernel=settings.kernel,
        cut_m=settings.cut_m,
        mending_days=constants.MENDING_DAYS_EFB.value if disease is Disease.EFB else 0.0,
        density_per_m2=_density(where, factor, found),
    )


def _owners(ground: Ground, at: IntArray, extra: int) -> IntArray:
    names: dict[str, int] = {}
    owners = []
    for number in at:
        row = ground.apiaries[number]
        # Without a keeper an apiary is its own; its lives share the number.
        name = f"k{row.keeper}" if row.keeper is not None else f"a{row.apiary}"
        owners.append(names.setdefault(name, len(names)))
    return np.array(owners + [len(names) + k for k in range(extra)], dtype=np.int64)


def _density(where: tuple[FloatArray, FloatArray], factor: FloatArray, found: IntArray) -> float | None:
    """Return the summed susceptibility per square metre where the cases are, at least one apiary's."""
    from scipy.spatial import cKDTree

    if not len(found):
        return None
    points = np.stack(where, axis=1)
    centres = points[found > 0] if (found > 0).any() else points[:: max(1, len(points) // 200)]
    reach = constants.DENSITY_RADIUS_M.value
    near = cKDTree(points).query_ball_point(centres, reach)
    return float(max(np.mean([factor[one].sum() for one in near]), 1.0) / (np.pi * reach**2))


def _notes(ground: Ground, disease: Disease, on: date, first: date) -> tuple[Message, ...]:
    counts: Counter[str] = Counter()
    known = {row.apiary for row in ground.apiaries}
    for visit in ground.visits:
        counts["spread.note_future_visits"] += visit.visited_on > on
        counts["spread.note_old_visits"] += visit.visited_on < first
        counts["spread.note_unknown_apiaries"] += visit.apiary not in known
        counts["spread.note_no_disease_named"] += visit.colonies_confirmed > 0 and visit.disease is None
    for removal in ground.removals:
        counts["spread.note_future_removals"] += removal.removed_on > on
    for move in ground.moves:
        counts["spread.note_future_moves"] += move.moved_on > on
    counts["spread.note_no_keeper"] += sum(row.keeper is None for row in ground.apiaries)
    counts["spread.note_no_colonies"] += sum(row.colonies == 0 for row in ground.apiaries)
    coarse = constants.CUT_M.value / 5
    counts["spread.note_coarse_places"] += sum(row.place.precision_m > coarse for row in ground.apiaries)
    notes = [say(key, count=count) for key, count in sorted(counts.items()) if count]
    if disease is Disease.EFB:
        notes.append(say("spread.note_efb"))
    return tuple(notes)
