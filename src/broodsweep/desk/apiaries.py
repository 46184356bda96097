"""Find an apiary, see everything known of it, record a visit."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

from broodsweep.desk.answers import ApiaryLine, ApiaryPage, ApiarySheet
from broodsweep.desk.context import Desk
from broodsweep.desk.ports import Author
from broodsweep.desk.snapshot import Snapshot
from broodsweep.errors import RefusedError
from broodsweep.outbreak import CaseState
from broodsweep.register import Apiary, Keeper, Visit

NEVER = date.min


@dataclass(frozen=True, kw_only=True)
class MapPoint:
    """An apiary on the map."""

    apiary: str
    longitude: float
    latitude: float
    precision_m: float
    colonies: int
    mark: CaseState | None
    last_visited_on: date | None


def line_of(snapshot: Snapshot, apiary: Apiary) -> ApiaryLine:
    """Return the apiary as it stands in a list."""
    return ApiaryLine(
        apiary=apiary,
        keeper_name=snapshot.keeper_name(apiary),
        last_visit=snapshot.last_visit(apiary.apiary),
        cases=snapshot.marks.get(apiary.apiary, ()),
    )


def list_apiaries(
    desk: Desk, *, search: str = "", sort: str = "apiary", offset: int = 0, limit: int = 50
) -> ApiaryPage:
    """Return one page of the apiaries whose name, keeper, place or notes hold every word of the search.

    Raises
    ------
    ValueError
        If ``sort`` is not one of `SORTS`.
    """
    if sort not in SORTS:
        raise ValueError(f"Expected sort in {sorted(SORTS)}, got {sort!r}.")
    kept = desk.snapshot()
    words = fold(search).split()
    rows = [row for row in kept.ground.apiaries if all(word in _haystack(kept, row) for word in words)]
    rows.sort(key=lambda row: SORTS[sort](kept, row))
    page = rows[offset : offset + limit]
    return ApiaryPage(total=len(rows), lines=tuple(line_of(kept, row) for row in page))


def fold(text: str) -> str:
    """Lower-case and strip accents, for searching."""
    flat = unicodedata.normalize("NFKD", text.casefold())
    return "".join(letter for letter in flat if not unicodedata.combining(letter))


def _haystack(kept: Snapshot, row: Apiary) -> str:
    keeper = kept.keepers.get(row.keeper or "")
    parts = [row.apiary, row.keeper, row.place.text, row.notes]
    if keeper:
        parts += [keeper.name, keeper.phone, keeper.email, keeper.address]
    return fold(" ".join(part for part in parts if part))


def _last_visited_on(kept: Snapshot, row: Apiary) -> date:
    visit = kept.last_visit(row.apiary)
    return visit.visited_on if visit else NEVER


SORTS: dict[str, Callable[[Snapshot, Apiary], Any]] = {
    "apiary": lambda kept, row: row.apiary,
    "keeper": lambda kept, row: (fold(kept.keeper_name(row) or "\uffff"), row.apiary),
    "colonies": lambda kept, row: (-row.colonies, row.apiary),
    "last_visit": lambda kept, row: (_last_visited_on(kept, row), row.apiary),
}
"""Orders of the list; the longest unseen apiary comes first under ``last_visit``."""


def map_points(desk: Desk) -> tuple[MapPoint, ...]:
    """Return every apiary as a point for the map, with the state of its gravest open case."""
    kept = desk.snapshot()
    return tuple(
        MapPoint(
            apiary=row.apiary,
            longitude=row.place.longitude,
            latitude=row.place.latitude,
            precision_m=row.place.precision_m,
            colonies=row.colonies,
            mark=gravest(kept, row.apiary),
            last_visited_on=visit.visited_on if (visit := kept.last_visit(row.apiary)) else None,
        )
        for row in kept.ground.apiaries
    )


GRAVITY = (
    CaseState.CONFIRMED,
    CaseState.UNDER_MEASURES,
    CaseState.AWAITING_RESULT,
    CaseState.SUSPECTED,
    CaseState.IN_REINSPECTION,
    CaseState.RELEASED,
    CaseState.NOT_CONFIRMED,
)


def gravest(kept: Snapshot, apiary: str) -> CaseState | None:
    """Return the state of an apiary's case that matters most, None when it has no case."""
    states = {mark.state for mark in kept.marks.get(apiary, ())}
    return next((state for state in GRAVITY if state in states), None)


def apiary_sheet(desk: Desk, apiary: str) -> ApiarySheet:
    """Return everything known of one apiary.

    Raises
    ------
    NotFoundError
        If the register has no such apiary.
    """
    kept = desk.snapshot()
    row = kept.apiary(apiary)
    return ApiarySheet(
        line=line_of(kept, row),
        keeper=kept.keepers.get(row.keeper or ""),
        same_keeper=tuple(o.apiary for o in kept.by_keeper.get(row.keeper or "", ()) if o.apiary != apiary),
        visits=kept.visits.get(apiary, ()),
        moves=kept.moves.get(apiary, ()),
        removals=kept.removals.get(apiary, ()),
    )


def record_visit(desk: Desk, author: Author, visit: Visit) -> Visit:
    """Write down a visit; a visit once written is amended by another, never edited.

    Raises
    ------
    NotFoundError
        If the apiary is not in the register.
    RefusedError
        If the visit's number is taken, it lies in the future, or its counts contradict each other.
    """
    kept = desk.snapshot()
    kept.apiary(visit.apiary)
    if any(row.visit == visit.visit for row in kept.ground.visits):
        raise RefusedError("desk.visit_exists", visit=visit.visit)
    if visit.visited_on > desk.today():
        raise RefusedError("desk.visit_in_future", visited_on=visit.visited_on, today_on=desk.today())
    if not 0 <= visit.colonies_confirmed <= visit.colonies_inspected:
        raise RefusedError(
            "desk.visit_counts", confirmed=visit.colonies_confirmed, inspected=visit.colonies_inspected
        )
    if visit.colonies_present is not None and visit.colonies_inspected > visit.colonies_present:
        raise RefusedError(
            "desk.visit_present", inspected=visit.colonies_inspected, present=visit.colonies_present
        )
    with desk.store.work(author, "record_visit") as work:
        work.save("visits", [visit])
    return visit


def add_apiary(desk: Desk, author: Author, apiary: Apiary, keeper: Keeper | None = None) -> Apiary:
    """Enter an apiary found on the way (and its keeper, when new) in the register.

    Raises
    ------
    RefusedError
        If the name of the apiary or of the keeper is taken.
    """
    kept = desk.snapshot()
    if apiary.apiary in kept.apiaries:
        raise RefusedError("desk.apiary_exists", apiary=apiary.apiary)
    if keeper is not None and keeper.keeper in kept.keepers:
        raise RefusedError("desk.keeper_exists", keeper=keeper.keeper)
    with desk.store.work(author, "add_apiary") as work:
        if keeper is not None:
            work.save("keepers", [keeper])
        work.save("apiaries", [apiary])
    return apiary
