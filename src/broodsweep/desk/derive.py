"""Outbreaks that a folder of tables tells by itself: from visits and removals."""

from __future__ import annotations

from datetime import date

from broodsweep.desk.context import Desk
from broodsweep.desk.rules import book
from broodsweep.outbreak import Told, read_records


def derive_outbreaks(desk: Desk, on: date, rulebook: str) -> Told:
    """Return the outbreaks that the visits and removals up to a day tell, and what in them does not fit.

    Cases of one disease belong together when they lie within the rulebook's widest ring of one another.
    """
    kept = desk.snapshot()
    rules = book(desk, rulebook)
    names = [row.apiary for row in kept.ground.apiaries]
    index = {name: number for number, name in enumerate(names)}
    places = kept.places

    def near(apiary: str, radius_m: float) -> frozenset[str]:
        here = places[index[apiary]]
        found, _ = places.neighbours.within(here.longitude, here.latitude, radius_m)
        return frozenset(names[number] for number in found)

    return read_records(
        [row for row in kept.ground.visits if row.visited_on <= on],
        [row for row in kept.ground.removals if row.removed_on <= on],
        rules,
        near=near,
        recorded_at=desk.now(),
    )
