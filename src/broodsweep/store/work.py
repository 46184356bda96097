"""One use case's changes, worked out row by row, whatever keeps the rows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Protocol

from broodsweep.desk.field_ports import KeptLine, KeptPhoto, Refusal
from broodsweep.desk.ports import DanglingError
from broodsweep.outbreak import Outbreak
from broodsweep.register import Row
from broodsweep.store.canonical import canonical
from broodsweep.store.cases import case_records, event_records, outbreak_record
from broodsweep.store.chain import Change
from broodsweep.store.field_records import line_record, photo_record, refusal_record
from broodsweep.store.records import CODECS, Record, image
from broodsweep.store.schema import LINKS, SHAPES, Link

Keys = set[str]


class Rows(Protocol):
    """What keeps the rows: a database or a dictionary."""

    def read(self, table: str, keys: Iterable[str]) -> dict[str, Record]:
        """Return those of the rows that are there."""
        ...

    def read_where(self, table: str, column: str, values: Iterable[str]) -> dict[str, Record]:
        """Return the rows whose column has one of the values, by key."""
        ...

    def write(self, table: str, *, new: Mapping[str, Record], changed: Mapping[str, Record]) -> None:
        """Insert the new rows, replace the changed ones."""
        ...

    def drop(self, table: str, keys: Iterable[str]) -> None:
        """Take the rows out."""
        ...


class RecordWork:
    """Fulfils `ports.Work` over `Rows` and keeps the list of what really changed."""

    def __init__(self, rows: Rows) -> None:
        self._rows = rows
        self._named: dict[Link, Keys] = {}
        self._gone: dict[str, Keys] = {}
        self._is_open = True
        self.changes: list[Change] = []

    def save(self, table: str, rows: Iterable[Row]) -> int:
        """Insert or replace rows of a register table by key; return how many changed anything.

        Raises
        ------
        ValueError
            If the table is not one of the register's, or a row belongs to another.
        """
        self._require_open()
        codec = CODECS.get(table)
        if codec is None:
            raise ValueError(f"Expected a table out of {sorted(CODECS)}, got {table!r}.")
        wanted: dict[str, Record] = {}
        for row in rows:
            if not isinstance(row, codec.row):
                raise ValueError(f"Expected rows of {codec.row.__name__} for {table}, got {row!r}.")
            record = codec.encode(row)
            wanted[record[0]] = record
        return self._replace(table, self._rows.read(table, wanted), wanted)

    def remove(self, table: str, keys: Iterable[str]) -> int:
        """Take rows out of a register table; return how many were there."""
        self._require_open()
        if table not in CODECS:
            raise ValueError(f"Expected a table out of {sorted(CODECS)}, got {table!r}.")
        return self._remove(table, keys)

    def save_outbreak(self, outbreak: Outbreak) -> None:
        """Insert or replace an outbreak and its cases; add its new events.

        Raises
        ------
        EventKeptError
            If an event that is on record is missing or differs, or belongs to another case.
        """
        self._require_open()
        name = outbreak.outbreak
        kept_cases = self._rows.read_where("cases", "outbreak", [name])
        named = [event.event for case in outbreak.cases for event in case.events]
        kept_events = self._rows.read_where("events", "case_key", kept_cases) | self._rows.read(
            "events", named
        )
        events = event_records(outbreak, kept_events)
        cases = case_records(outbreak, events)
        self._replace("outbreaks", self._rows.read("outbreaks", [name]), {name: outbreak_record(outbreak)})
        self._replace("cases", kept_cases, cases)
        self._remove("cases", kept_cases.keys() - cases.keys())
        self._replace("events", kept_events, events)

    def set(self, name: str, value: Any) -> None:
        """Keep a setting; None takes it out."""
        self._require_open()
        if value is None:
            self._remove("settings", [name])
        else:
            wanted = {name: (name, canonical(value))}
            self._replace("settings", self._rows.read("settings", [name]), wanted)

    def keep_lines(self, rows: Iterable[KeptLine]) -> int:
        """Keep lines of the field book, or change what the desk makes of them; return how many changed.

        Raises
        ------
        ValueError
            If a line of that key is here with another content.
        """
        self._require_open()
        wanted = {row.key: line_record(row) for row in rows}
        kept = self._rows.read("lines", wanted)
        for key, record in kept.items():
            if record[1] != wanted[key][1]:
                raise ValueError(f"Expected the content that line {key} has, got another.")
        return self._replace("lines", kept, wanted)

    def keep_photo(self, row: KeptPhoto) -> None:
        """Note that a photo is whole here; one that was noted stays as it was noted."""
        self._require_open()
        if not self._rows.read("photos", [row.photo]):
            self._replace("photos", {}, {row.photo: photo_record(row)})

    def keep_refusals(self, visits: Iterable[str], rows: Iterable[Refusal]) -> int:
        """Put these in the place of whatever refusals the visits had; return how many changed."""
        self._require_open()
        wanted = {row.refusal: refusal_record(row) for row in rows}
        kept = self._rows.read_where("refusals", "visit", visits) | self._rows.read("refusals", wanted)
        gone = self._remove("refusals", sorted(kept.keys() - wanted.keys()))
        return gone + self._replace("refusals", kept, wanted)

    def finish(self) -> None:
        """Check what the changed rows refer to and take no more changes.

        Raises
        ------
        DanglingError
            If a row names a row that is not there, or a row that went is named by another.
        """
        self._is_open = False
        for link, named in self._named.items():
            missing = named - self._rows.read(link.parent, named).keys()
            self._refuse_naming(link, missing, "store.names_missing")
        for link in LINKS:
            gone = self._gone.get(link.parent, Keys())
            gone = gone - self._rows.read(link.parent, gone).keys()
            self._refuse_naming(link, gone, "store.still_named")

    def _refuse_naming(self, link: Link, parents: Keys, sentence: str) -> None:
        column = SHAPES[link.child].columns.index(link.column)
        for key, record in sorted(self._rows.read_where(link.child, link.column, parents).items()):
            raise DanglingError(
                sentence,
                table=link.child,
                key=key,
                column=link.column,
                parent_table=link.parent,
                parent=record[column],
            )

    def _replace(self, table: str, kept: Mapping[str, Record], wanted: Mapping[str, Record]) -> int:
        new = {key: record for key, record in wanted.items() if key not in kept}
        changed = {key: record for key, record in wanted.items() if key in kept and kept[key] != record}
        for key, record in wanted.items():
            if key in new or key in changed:
                before = image(table, kept[key]) if key in changed else None
                self.changes.append(Change(table, key, before, image(table, record)))
        self._rows.write(table, new=new, changed=changed)
        for link in LINKS:
            if link.child == table and (new or changed):
                column = SHAPES[table].columns.index(link.column)
                values = {record[column] for record in (*new.values(), *changed.values())}
                self._named.setdefault(link, Keys()).update(values - {None})
        return len(new) + len(changed)

    def _remove(self, table: str, keys: Iterable[str]) -> int:
        kept = self._rows.read(table, keys)
        for key, record in sorted(kept.items()):
            self.changes.append(Change(table, key, image(table, record), None))
        self._rows.drop(table, kept)
        self._gone.setdefault(table, Keys()).update(kept)
        return len(kept)

    def _require_open(self) -> None:
        if not self._is_open:
            raise ValueError("Expected an open work, got one that has ended.")
