"""The record as it stands, read once for each version of the store and indexed for the use cases."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeVar

from broodsweep.desk.answers import CaseMark
from broodsweep.desk.ports import Record
from broodsweep.errors import NotFoundError
from broodsweep.geo import Places
from broodsweep.outbreak import Case, Outbreak, state_of
from broodsweep.register import (
    Apiary,
    DuplicatePair,
    Ground,
    Keeper,
    Move,
    Removal,
    Visit,
    likely_duplicates,
)

_Row = TypeVar("_Row")

DISMISSED = "dismissed_duplicates"
"""Setting that keeps the pairs a user said are not the same: a list of [kind, first, second]."""


@dataclass(frozen=True, eq=False)
class Snapshot:
    """One version of the record, with indexes that are made when first asked for."""

    record: Record

    @property
    def version(self) -> int:
        """Number of the last change."""
        return self.record.version

    @property
    def ground(self) -> Ground:
        """Everything in the register tables."""
        return self.record.ground

    @property
    def outbreaks(self) -> tuple[Outbreak, ...]:
        """Every outbreak with its cases and events."""
        return self.record.outbreaks

    @property
    def settings(self) -> Mapping[str, Any]:
        """Every setting by name."""
        return self.record.settings

    @cached_property
    def apiaries(self) -> dict[str, Apiary]:
        """Apiaries by their key."""
        return {row.apiary: row for row in self.ground.apiaries}

    @cached_property
    def keepers(self) -> dict[str, Keeper]:
        """Keepers by their key."""
        return {row.keeper: row for row in self.ground.keepers}

    @cached_property
    def places(self) -> Places:
        """Places of the apiaries as arrays, in the order of ``ground.apiaries``."""
        return Places([row.place for row in self.ground.apiaries])

    @cached_property
    def by_keeper(self) -> dict[str, tuple[Apiary, ...]]:
        """Apiaries of each keeper."""
        return _group(self.ground.apiaries, lambda row: row.keeper)

    @cached_property
    def visits(self) -> dict[str, tuple[Visit, ...]]:
        """Visits of each apiary, earliest first."""
        ordered = sorted(self.ground.visits, key=lambda row: (row.visited_on, row.visit))
        return _group(ordered, lambda row: row.apiary)

    @cached_property
    def moves(self) -> dict[str, tuple[Move, ...]]:
        """Moves that touch each apiary, earliest first."""
        found: dict[str, list[Move]] = defaultdict(list)
        for row in sorted(self.ground.moves, key=lambda row: row.moved_on):
            for end in {row.from_apiary, row.to_apiary} - {None}:
                found[str(end)].append(row)
        return {key: tuple(rows) for key, rows in found.items()}

    @cached_property
    def removals(self) -> dict[str, tuple[Removal, ...]]:
        """Removals at each apiary, earliest first."""
        return _group(sorted(self.ground.removals, key=lambda row: row.removed_on), lambda row: row.apiary)

    @cached_property
    def marks(self) -> dict[str, tuple[CaseMark, ...]]:
        """Cases of each apiary, over all outbreaks."""
        found: dict[str, list[CaseMark]] = defaultdict(list)
        for outbreak in self.outbreaks:
            for case in outbreak.cases:
                mark = CaseMark(outbreak=outbreak.outbreak, disease=outbreak.disease, state=state_of(case))
                found[case.apiary].append(mark)
        return {key: tuple(rows) for key, rows in found.items()}

    @cached_property
    def duplicates(self) -> tuple[DuplicatePair, ...]:
        """Pairs that look like the same apiary or keeper and were not dismissed, likeliest first."""
        kept = self.settings.get(DISMISSED) or ()
        dismissed = frozenset((kind, first, second) for kind, first, second in kept)
        return likely_duplicates(self.ground, self.places, dismissed=dismissed)

    def apiary(self, key: str) -> Apiary:
        """Return the apiary of that key.

        Raises
        ------
        NotFoundError
            If the register has none.
        """
        if key not in self.apiaries:
            raise NotFoundError("desk.no_such_apiary", apiary=key)
        return self.apiaries[key]

    def outbreak(self, key: str) -> Outbreak:
        """Return the outbreak of that name.

        Raises
        ------
        NotFoundError
            If the record has none.
        """
        for row in self.outbreaks:
            if row.outbreak == key:
                return row
        known = ", ".join(row.outbreak for row in self.outbreaks) or "–"
        raise NotFoundError("desk.no_such_outbreak", outbreak=key, known=known)

    def keeper_name(self, apiary: Apiary) -> str | None:
        """Name of the apiary's keeper, as far as known."""
        keeper = self.keepers.get(apiary.keeper or "")
        return keeper.name if keeper else None

    def last_visit(self, apiary: str) -> Visit | None:
        """Latest visit to the apiary."""
        rows = self.visits.get(apiary, ())
        return rows[-1] if rows else None


MADE_OF = {
    "apiaries": ("apiaries",),
    "keepers": ("keepers",),
    "places": ("apiaries",),
    "by_keeper": ("apiaries",),
    "visits": ("visits",),
    "moves": ("moves",),
    "removals": ("removals",),
    "duplicates": ("apiaries", "keepers"),
}
"""Indexes, and the tables that each is made of."""


def follow(before: Snapshot | None, record: Record) -> Snapshot:
    """Return the snapshot of a record; indexes whose tables are the same objects as before are kept."""
    snapshot = Snapshot(record)
    if before is None:
        return snapshot
    was, now = before.ground, record.ground
    kept = {
        name
        for name, tables in MADE_OF.items()
        if name in before.__dict__ and all(getattr(was, table) is getattr(now, table) for table in tables)
    }
    if before.settings.get(DISMISSED) != record.settings.get(DISMISSED):
        kept.discard("duplicates")
    snapshot.__dict__.update({name: before.__dict__[name] for name in kept})
    return snapshot


def case_of(outbreak: Outbreak, apiary: str) -> Case:
    """Return the case of that apiary.

    Raises
    ------
    NotFoundError
        If the outbreak has no such case.
    """
    for case in outbreak.cases:
        if case.apiary == apiary:
            return case
    raise NotFoundError("desk.no_such_case", outbreak=outbreak.outbreak, apiary=apiary)


def _group(rows: Iterable[_Row], key: Callable[[_Row], str | None]) -> dict[str, tuple[_Row, ...]]:
    found: dict[str, list[_Row]] = defaultdict(list)
    for row in rows:
        name = key(row)
        if name is not None:
            found[name].append(row)
    return {name: tuple(rows) for name, rows in found.items()}
