"""The record as one batch of lines is changing it: read once, changed in memory, saved at the end."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import TypeVar

from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.ports import Work
from broodsweep.desk.rules import book, book_of, default_book
from broodsweep.desk.snapshot import Snapshot
from broodsweep.fieldbook import effects
from broodsweep.geo import distance_bounds
from broodsweep.outbreak import Outbreak, is_open
from broodsweep.register import Apiary, Keeper, Move, Visit

_Row = TypeVar("_Row", Visit, Move)

MERGED = "merged_apiaries"
"""Setting that keeps which apiary another was merged into: phones may name the old key for weeks."""


@dataclass(kw_only=True)
class Draft:
    """What changes; ``kept`` is the record before, read while nobody else can write."""

    desk: Desk
    kept: Snapshot
    apiaries: dict[str, Apiary] = field(default_factory=dict)
    keepers: dict[str, Keeper] = field(default_factory=dict)
    visits: dict[str, Visit | None] = field(default_factory=dict)
    moves: dict[str, Move | None] = field(default_factory=dict)
    outbreaks: dict[str, Outbreak] = field(default_factory=dict)

    def key_of(self, apiary: str) -> str:
        """Return the key under which the register has an apiary now."""
        merged = self.kept.settings.get(MERGED) or {}
        seen = {apiary}
        while apiary in merged and merged[apiary] not in seen:
            apiary = merged[apiary]
            seen.add(apiary)
        return apiary

    def apiary(self, key: str) -> Apiary | None:
        """Return an apiary of the register, also one that was only just found."""
        return self.apiaries.get(key) or self.kept.apiaries.get(key)

    def every_outbreak(self) -> tuple[Outbreak, ...]:
        """Return every outbreak as it stands now."""
        rows = {row.outbreak: row for row in self.kept.outbreaks} | self.outbreaks
        return tuple(rows[name] for name in sorted(rows))

    def move(self, key: str) -> Move | None:
        """Return a move as it stands now."""
        if key in self.moves:
            return self.moves[key]
        return next((row for row in self.kept.ground.moves if row.move == key), None)

    def moves_told_at(self, visit: str) -> tuple[Move, ...]:
        """Return the moves that the register has from a visit."""
        rows = {row.move: row for row in self.kept.ground.moves if (effects.TOLD_AT, visit) in row.extra}
        changed = {
            key: row for key, row in self.moves.items() if row and (effects.TOLD_AT, visit) in row.extra
        }
        gone = {key for key, row in self.moves.items() if row is None}
        return tuple(row for key, row in sorted((rows | changed).items()) if key not in gone)

    def visit(self, key: str) -> Visit | None:
        """Return a row of the table of visits as it stands now."""
        if key in self.visits:
            return self.visits[key]
        return next((row for row in self.kept.ground.visits if row.visit == key), None)

    def near(self, apiary: str, disease: Disease, on: date) -> Outbreak | None:
        """Return the open outbreak of a disease in whose widest ring an apiary lies; of several the nearest."""
        here = self.apiary(apiary)
        found = []
        for outbreak in self.every_outbreak():
            if here is None or outbreak.disease is not disease or outbreak.closed_on is not None:
                continue
            radius_m = book_of(self.desk, outbreak).ring_radii_m(disease, on)[-1]
            for case in outbreak.cases:
                there = self.apiary(case.apiary)
                if there is None or not (is_open(case) or case.apiary == apiary):
                    continue
                nearest_m, _ = distance_bounds(here.place, there.place)
                if nearest_m <= radius_m:
                    found.append((nearest_m, outbreak.outbreak, outbreak))
        return min(found, key=lambda row: row[:2])[2] if found else None

    def new_outbreak(self, disease: Disease, found_on: date) -> Outbreak:
        """Return an outbreak without a case, under the next free name of the year."""
        prefix = f"{disease}-{found_on.year}-"
        names = [row.outbreak.removeprefix(prefix) for row in self.every_outbreak()]
        number = 1 + max((int(name) for name in names if name.isdigit()), default=0)
        rulebook = default_book(self.desk)
        book(self.desk, rulebook)
        return Outbreak(outbreak=f"{prefix}{number}", disease=disease, rulebook=rulebook, opened_on=found_on)

    def save(self, work: Work) -> None:
        """Save everything that changed; what is as it was writes nothing."""
        work.save("keepers", self.keepers.values())
        work.save("apiaries", self.apiaries.values())
        work.save("visits", _there(self.visits.values()))
        work.remove("visits", [key for key, row in self.visits.items() if row is None])
        work.save("moves", _there(self.moves.values()))
        work.remove("moves", [key for key, row in self.moves.items() if row is None])
        for name in sorted(self.outbreaks):
            work.save_outbreak(self.outbreaks[name])


def _there(rows: Iterable[_Row | None]) -> list[_Row]:
    return [row for row in rows if row is not None]
