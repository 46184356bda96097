"""The tables of Skarnsey as the register has them: made from the truth, and leaking none of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from broodsweep.constants import Clearance, Disease
from broodsweep.demo.constants import DEMO_DAY, KEEPERS, REGISTERED_KEEPERS_TWICE
from broodsweep.demo.gridref import grid_place, position_place, to_longitude_latitude
from broodsweep.demo.history import History
from broodsweep.demo.inspections import Officer, Seen
from broodsweep.demo.names import misspelt
from broodsweep.demo.population import LAST_DAY, Population, day_of
from broodsweep.demo.trade import OUTSIDE
from broodsweep.geo import Place
from broodsweep.register import Apiary, Ground, Inspector, Keeper, Lot, Move, Removal, Visit
from broodsweep.units import FloatArray

_FIGURES, _SHARES = (10, 8, 6, 4, 0), (0.07, 0.35, 0.41, 0.05, 0.12)
"""Figures of the grid references, 0 for longitude and latitude, and how often each is found."""
_NOTES = ("Behind the barn.", "Gate is kept shut.", "Ask at the house first.", "Steep track, not in wet weather.",
          "Bull in the field in summer.", "Moved up the field in 2024.")  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Labels:
    """The name of each apiary and keeper of the truth; the unregistered have names that no table holds."""

    apiaries: tuple[str, ...]
    keepers: tuple[str, ...]
    doubles: dict[int, str]


def make_labels(rng: np.random.Generator, people: Population) -> Labels:
    """Number apiaries and keepers, and pick which of them the register holds twice."""
    registered = int(people.is_registered.sum())
    apiaries = [f"A{number + 1:03d}" for number in range(registered)]
    apiaries += [f"U{number + 1:02d}" for number in range(people.count - registered)]
    known = KEEPERS - REGISTERED_KEEPERS_TWICE
    keepers = [f"K{n + 1:03d}" if n < known else f"N{n - known + 1:02d}" for n in range(len(people.names))]
    single = np.flatnonzero((np.bincount(people.owner)[people.owner] == 1) & people.is_registered)
    twice = np.sort(
        rng.choice(single[people.left_day[single] > LAST_DAY], REGISTERED_KEEPERS_TWICE, replace=False)
    )
    doubles = {int(apiary): f"A{registered + n + 1:03d}" for n, apiary in enumerate(twice)}
    return Labels(apiaries=tuple(apiaries), keepers=tuple(keepers), doubles=doubles)


def make_ground(
    rng: np.random.Generator,
    people: Population,
    officers: tuple[Officer, ...],
    history: History,
    labels: Labels,
    dry: BaseGeometry,
) -> Ground:
    """Return the tables as they stand on the demo day."""
    return Ground(
        keepers=_keepers(rng, people, labels),
        apiaries=_apiaries(rng, people, labels, dry),
        moves=_moves(history, labels),
        visits=_visits(history, officers, labels),
        removals=_removals(history, labels),
        inspectors=tuple(
            Inspector(
                inspector=officer.officer, name=officer.name, home=grid_place(officer.home_m, 8),
                works=officer.works, day_start=officer.day_start, day_end=officer.day_end,
            )
            for officer in officers
        ),
        lots=_lots(),
    )  # fmt: skip


def _keepers(rng: np.random.Generator, people: Population, labels: Labels) -> tuple[Keeper, ...]:
    rows = []
    used = rng.permutation(1000)
    for number in range(KEEPERS - REGISTERED_KEEPERS_TWICE):
        name = people.names[number]
        own = np.flatnonzero((people.owner == number) & people.is_registered)
        since = day_of(int(people.since_day[own].min()) + int(rng.integers(5, 60)))
        # 01632 960xxx is the block of numbers that is kept free for invented people
        phone = f"01632 960{used[number]:03d}" if rng.random() < 0.93 else None
        email = f"{name.lower().replace(' ', '.')}@post.skarnsey.example" if rng.random() < 0.6 else None
        rows.append(
            Keeper(
                keeper=labels.keepers[number], name=name, phone=phone, email=email,
                address=people.addresses[number], registered_on=min(since, DEMO_DAY - timedelta(days=9)),
            )
        )  # fmt: skip
    for extra, apiary in enumerate(labels.doubles):
        first = rows[int(people.owner[apiary])]
        rows.append(
            replace(
                first, keeper=f"K{KEEPERS - REGISTERED_KEEPERS_TWICE + extra + 1:03d}", name=misspelt(first.name or ""), email=None,
                registered_on=DEMO_DAY - timedelta(days=int(rng.integers(60, 400))),
            )
        )  # fmt: skip
    return tuple(rows)


def _apiaries(
    rng: np.random.Generator, people: Population, labels: Labels, dry: BaseGeometry
) -> tuple[Apiary, ...]:
    shapely.prepare(dry)
    rows = []
    for number in np.flatnonzero(people.is_registered).tolist():
        told = int(people.colonies[number])
        if rng.random() < 0.25:  # the register is seldom quite up to date
            told = max(1, told + int(rng.integers(-2, 3)))
        left = int(people.left_day[number])
        rows.append(
            Apiary(
                apiary=labels.apiaries[number], keeper=labels.keepers[int(people.owner[number])],
                place=_place(rng, people.at_m[number], dry), colonies=told,
                kept_since=day_of(int(people.since_day[number])) if rng.random() < 0.8 else None,
                left_on=day_of(left) if left <= LAST_DAY else None,
                notes=_NOTES[int(rng.integers(len(_NOTES)))] if rng.random() < 0.12 else None,
            )
        )  # fmt: skip
    for extra, (number, name) in enumerate(labels.doubles.items()):
        spot = people.at_m[number] + rng.uniform(-45.0, 45.0, 2)
        rows.append(
            replace(
                rows[number], apiary=name, keeper=f"K{KEEPERS - REGISTERED_KEEPERS_TWICE + extra + 1:03d}",
                place=grid_place(spot, 8), kept_since=None, notes=None,
            )
        )  # fmt: skip
    return tuple(rows)


def _place(rng: np.random.Generator, spot_m: FloatArray, dry: BaseGeometry) -> Place:
    """Write the place down as carefully as someone did; never so roughly that its middle is in the water."""
    figures = int(rng.choice(_FIGURES, p=_SHARES))
    if figures == 0:
        longitude, latitude = to_longitude_latitude(spot_m)
        decimals = int(rng.choice([4, 5]))
        place = position_place(longitude, latitude, decimals)
        return place if rng.random() < 0.5 else replace(place, text="")
    while figures < 10:
        place = grid_place(spot_m, figures)
        if shapely.contains_xy(dry, place.easting, place.northing):
            return place
        figures += 2
    return grid_place(spot_m, 10)


def _moves(history: History, labels: Labels) -> tuple[Move, ...]:
    def name(apiary: int) -> str | None:
        return None if apiary == OUTSIDE else labels.apiaries[apiary]

    rows = {}
    for carried in history.moves:
        if carried.is_recorded:
            move = Move(
                moved_on=day_of(carried.day), goods=carried.goods, from_apiary=name(carried.start),
                to_apiary=name(carried.stop), quantity=float(carried.quantity),
            )  # fmt: skip
            rows[move.move] = move
    return tuple(rows.values())


def _visits(history: History, officers: tuple[Officer, ...], labels: Labels) -> tuple[Visit, ...]:
    confirmed = {
        (case.suspected_day, case.apiary)
        for campaign in (history.efb, history.afb)
        for case in campaign.found
        if case.confirmed_day < LAST_DAY
    }
    seen: list[Seen] = [visit for visit in history.visits if visit.day < LAST_DAY]
    return tuple(
        Visit(
            visit=f"V{number + 1:04d}", apiary=labels.apiaries[visit.apiary], visited_on=day_of(visit.day),
            inspector=officers[visit.officer].officer, purpose=visit.purpose, colonies_present=visit.present,
            colonies_inspected=visit.opened, colonies_suspect=visit.suspect,
            colonies_confirmed=visit.suspect if (visit.day, visit.apiary) in confirmed else 0,
            disease=visit.disease,
        )
        for number, visit in enumerate(seen)
    )  # fmt: skip


def _removals(history: History, labels: Labels) -> tuple[Removal, ...]:
    rows = [
        Removal(
            apiary=labels.apiaries[case.apiary], removed_on=day_of(case.cleared_day), disease=disease,
            colonies=case.colonies, how=Clearance(case.how),
        )
        for disease, campaign in ((Disease.EFB, history.efb), (Disease.AFB, history.afb))
        for case in campaign.found
        if case.cleared_day < LAST_DAY
    ]  # fmt: skip
    return tuple(sorted(rows, key=lambda row: (row.removed_on, row.apiary)))


def _lots() -> tuple[Lot, ...]:
    """Five lots of field tests: one is past its date and one nearly."""

    def lot(name: str, disease: Disease, days: int, count: int) -> Lot:
        return Lot(
            lot=name, kit=f"{disease} field test", expires_on=DEMO_DAY + timedelta(days=days), count=count
        )

    return (
        lot("L25-03", Disease.AFB, -39, 4),
        lot("L25-08", Disease.AFB, 16, 11),
        lot("L26-02", Disease.AFB, 264, 30),
        lot("L25-05", Disease.EFB, 72, 8),
        lot("L26-04", Disease.EFB, 301, 20),
    )
