"""A store that forgets: for a folder of tables without a database, and for the desk's tests."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from threading import Lock, RLock, get_ident
from typing import Any

from broodsweep.desk import field_ports, ports
from broodsweep.outbreak import Outbreak
from broodsweep.register import Ground
from broodsweep.store.cases import outbreaks_from
from broodsweep.store.chain import Head, entry_from, link
from broodsweep.store.field_records import line_from, photo_from, refusal_from
from broodsweep.store.photos import MemoryPhotos
from broodsweep.store.records import CODECS, Record
from broodsweep.store.schema import SHAPES
from broodsweep.store.work import RecordWork

Tables = dict[str, dict[str, Record]]


class MemoryStore:
    """Fulfils `ports.Store` in memory, with the same journal and the same refusals as the file.

    Parameters
    ----------
    now
        The clock, for the journal's instants.
    """

    def __init__(self, *, now: Callable[[], datetime]) -> None:
        self._now = now
        self._tables: Tables = {name: {} for name in SHAPES}
        self._journal: list[Record] = []
        self._reading = RLock()
        self._writing = Lock()
        self._writer: int | None = None
        self.photos: field_ports.Photos = MemoryPhotos()

    def version(self) -> int:
        """Number of the last change."""
        return len(self._journal)

    def ground(self) -> Ground:
        """Everything in the register tables, each table in order of its key."""
        return _ground(self._state()[0])

    def outbreaks(self) -> tuple[Outbreak, ...]:
        """Every outbreak with its cases and events, in order of its name."""
        return _outbreaks(self._state()[0])

    def settings(self) -> dict[str, Any]:
        """Every setting by name."""
        return _settings(self._state()[0])

    def record(self) -> ports.Record:
        """Version, ground, outbreaks and settings together."""
        tables, version = self._state()
        return ports.Record(
            version=version,
            ground=_ground(tables),
            outbreaks=_outbreaks(tables),
            settings=_settings(tables),
        )

    def journal(
        self, *, after: int = 0, limit: int = 1000, table: str | None = None, key: str | None = None
    ) -> tuple[ports.JournalEntry, ...]:
        """Changes in order, from the one behind ``after``; of one table, or of one row, when named."""
        entries = map(entry_from, self._journal[max(after, 0) :])
        wanted = [entry for entry in entries if table in (None, entry.table) and key in (None, entry.key)]
        return tuple(wanted[:limit])

    def lines(
        self,
        *,
        visits: Iterable[str] | None = None,
        names: Iterable[str] | None = None,
        keys: Iterable[str] | None = None,
        kinds: Iterable[str] | None = None,
        states: Iterable[field_ports.LineState] | None = None,
    ) -> tuple[field_ports.KeptLine, ...]:
        """Lines of the field book that fit everything given, in order of their key."""
        asked = {"visit": visits, "line": names, "key": keys, "kind": kinds, "state": states}
        wanted = {name: frozenset(values) for name, values in asked.items() if values is not None}
        rows = (line_from(record) for _, record in sorted(self._state()[0]["lines"].items()))
        return tuple(row for row in rows if all(getattr(row, name) in wanted[name] for name in wanted))

    def visits_heard(self, since: datetime) -> tuple[str, ...]:
        """Visits of which a line arrived since then, in order of their names."""
        return tuple(sorted({row.visit for row in self.lines() if row.visit and row.arrived_at >= since}))

    def heard(self) -> tuple[field_ports.Heard, ...]:
        """What was heard of each phone that ever brought a line."""
        by_phone: dict[str, list[field_ports.KeptLine]] = {}
        for row in self.lines():
            by_phone.setdefault(row.delivered_by, []).append(row)
        return tuple(
            field_ports.Heard(
                device=device,
                last_at=max(row.arrived_at for row in rows),
                lines=len(rows),
                highest=max(row.number or 0 for row in rows),
            )
            for device, rows in sorted(by_phone.items())
        )

    def refusals(self, visits: Iterable[str] | None = None) -> tuple[field_ports.Refusal, ...]:
        """Refusals that stand, of these visits or of all."""
        wanted = None if visits is None else frozenset(visits)
        rows = (refusal_from(record) for _, record in sorted(self._state()[0]["refusals"].items()))
        return tuple(row for row in rows if wanted is None or row.visit in wanted)

    def kept_photos(self, photos: Iterable[str]) -> tuple[field_ports.KeptPhoto, ...]:
        """Those of the photos that are whole here."""
        rows = self._state()[0]["photos"]
        return tuple(photo_from(rows[name]) for name in sorted(set(photos)) if name in rows)

    @contextmanager
    def work(self, author: ports.Author, what: str) -> Iterator[ports.Work]:
        """Open a unit of work: kept when the block ends, forgotten when it raises."""
        if self._writer == get_ident():
            raise ValueError("Expected one work at a time, got one inside another.")
        with self._writing:
            self._writer = get_ident()
            try:
                rows = DictRows({name: dict(table) for name, table in self._tables.items()})
                work = RecordWork(rows)
                yield work
                work.finish()
                added = link(self._head(), work.changes, author=author, what=what, clock=self._now())
                with self._reading:
                    self._tables = rows.tables
                    self._journal = [*self._journal, *added]
            finally:
                self._writer = None

    def _head(self) -> Head:
        if not self._journal:
            return Head()
        last = self._journal[-1]
        return Head(seq=last[0], at=last[1], hash=last[-1])

    def _state(self) -> tuple[Tables, int]:
        # a work puts new dictionaries in place of the old ones, so what is handed out here stays as it is
        with self._reading:
            return self._tables, len(self._journal)


class DictRows:
    """Fulfils `work.Rows` with one dictionary a table."""

    def __init__(self, tables: Tables) -> None:
        self.tables = tables

    def read(self, table: str, keys: Iterable[str]) -> dict[str, Record]:
        """Return those of the rows that are there."""
        rows = self.tables[table]
        return {key: rows[key] for key in keys if key in rows}

    def read_where(self, table: str, column: str, values: Iterable[str]) -> dict[str, Record]:
        """Return the rows whose column has one of the values, by key."""
        wanted, place = set(values), SHAPES[table].columns.index(column)
        if not wanted:
            return {}
        return {key: row for key, row in self.tables[table].items() if row[place] in wanted}

    def write(self, table: str, *, new: Mapping[str, Record], changed: Mapping[str, Record]) -> None:
        """Insert the new rows, replace the changed ones."""
        self.tables[table] |= {**new, **changed}

    def drop(self, table: str, keys: Iterable[str]) -> None:
        """Take the rows out."""
        for key in tuple(keys):
            del self.tables[table][key]


def _ground(tables: Tables) -> Ground:
    rows: dict[str, Any] = {
        name: tuple(codec.decode(record) for _, record in sorted(tables[name].items()))
        for name, codec in CODECS.items()
    }
    return Ground(**rows)


def _outbreaks(tables: Tables) -> tuple[Outbreak, ...]:
    return outbreaks_from(tables["outbreaks"].values(), tables["cases"].values(), tables["events"].values())


def _settings(tables: Tables) -> dict[str, Any]:
    return {name: json.loads(value) for name, (_, value) in sorted(tables["settings"].items())}
