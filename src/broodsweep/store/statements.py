"""The statements of the store, in SQL that SQLite and PostgreSQL both understand."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import islice
from typing import Any

from sqlalchemy import Connection, bindparam, delete, func, insert, select, update

from broodsweep.desk.ports import JournalEntry, Record
from broodsweep.outbreak import Outbreak
from broodsweep.register import Ground
from broodsweep.store.cases import outbreaks_from
from broodsweep.store.chain import Head, entry_from
from broodsweep.store.constants import KEYS_AT_ONCE
from broodsweep.store.records import CODECS
from broodsweep.store.records import Record as Row
from broodsweep.store.schema import JOURNAL, JOURNAL_COLUMNS, SHAPES, TABLES

_KEYS = int(KEYS_AT_ONCE.value)


class TableRows:
    """Fulfils `work.Rows` within one transaction of a database."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def read(self, table: str, keys: Iterable[str]) -> dict[str, Row]:
        """Return those of the rows that are there."""
        return self.read_where(table, SHAPES[table].key, keys)

    def read_where(self, table: str, column: str, values: Iterable[str]) -> dict[str, Row]:
        """Return the rows whose column has one of the values, by key."""
        there = TABLES[table]
        found: dict[str, Row] = {}
        for some in _in_batches(values):
            rows = self._connection.execute(select(there).where(there.c[column].in_(some)))
            found.update((row[0], tuple(row)) for row in rows)
        return found

    def write(self, table: str, *, new: Mapping[str, Row], changed: Mapping[str, Row]) -> None:
        """Insert the new rows, replace the changed ones."""
        there, columns = TABLES[table], SHAPES[table].columns
        if new:
            self._connection.execute(
                insert(there), [dict(zip(columns, row, strict=True)) for row in new.values()]
            )
        if changed:
            names = [f"new_{name}" for name in columns]
            statement = (
                update(there)
                .where(there.c[columns[0]] == bindparam(names[0]))
                .values({name: bindparam(f"new_{name}") for name in columns[1:]})
            )
            self._connection.execute(
                statement, [dict(zip(names, row, strict=True)) for row in changed.values()]
            )

    def drop(self, table: str, keys: Iterable[str]) -> None:
        """Take the rows out."""
        there = TABLES[table]
        for some in _in_batches(keys):
            self._connection.execute(delete(there).where(there.c[SHAPES[table].key].in_(some)))


def _in_batches(values: Iterable[str]) -> Iterator[list[str]]:
    rest = iter(values)
    while some := list(islice(rest, _KEYS)):
        yield some


def read_version(connection: Connection) -> int:
    """Return the number of the last change, 0 when there is none."""
    return connection.execute(select(func.max(JOURNAL.c.seq))).scalar() or 0


def read_head(connection: Connection) -> Head:
    """Return the end of the journal's chain."""
    newest = select(JOURNAL.c.seq, JOURNAL.c.hash, JOURNAL.c.at).order_by(JOURNAL.c.seq.desc()).limit(1)
    row = connection.execute(newest).first()
    return Head() if row is None else Head(seq=row.seq, hash=row.hash, at=row.at)


def append_entries(connection: Connection, records: Iterable[Row]) -> None:
    """Write linked entries at the end of the journal."""
    rows = [dict(zip(JOURNAL_COLUMNS, record, strict=True)) for record in records]
    if rows:
        connection.execute(insert(JOURNAL), rows)


def read_record(connection: Connection, before: Record | None) -> Record:
    """Return the whole record; of an earlier one, the tables that the journal says nothing new of are kept."""
    version = read_version(connection)
    if before is not None and before.version <= version:
        newer = select(JOURNAL.c.table_name).where(JOURNAL.c.seq > before.version).distinct()
        changed = frozenset(connection.execute(newer).scalars())
    else:
        before, changed = None, frozenset(SHAPES)
    return Record(
        version=version,
        ground=_ground(connection, before.ground if before else Ground(), changed),
        outbreaks=before.outbreaks
        if before and not changed & set(_OUTBREAK_TABLES)
        else read_outbreaks(connection),
        settings=before.settings if before and "settings" not in changed else read_settings(connection),
    )


def read_ground(connection: Connection) -> Ground:
    """Return every register table in order of its key."""
    return _ground(connection, Ground(), frozenset(CODECS))


def _ground(connection: Connection, before: Ground, changed: frozenset[str]) -> Ground:
    rows: dict[str, Any] = {}
    for name in CODECS.keys() & changed:
        there = TABLES[name]
        found = connection.execute(select(there).order_by(there.c[SHAPES[name].key]))
        rows[name] = tuple(CODECS[name].decode(tuple(row)) for row in found.all())
    return replace(before, **rows) if rows else before


def read_outbreaks(connection: Connection) -> tuple[Outbreak, ...]:
    """Return every outbreak with its cases and events."""
    three = ([tuple(row) for row in connection.execute(select(TABLES[name]))] for name in _OUTBREAK_TABLES)
    return outbreaks_from(*three)


_OUTBREAK_TABLES = ("outbreaks", "cases", "events")


def read_settings(connection: Connection) -> dict[str, Any]:
    """Return every setting by name."""
    there = TABLES["settings"]
    return {
        row.name: json.loads(row.value) for row in connection.execute(select(there).order_by(there.c.name))
    }


def read_journal(
    connection: Connection, *, after: int, limit: int, table: str | None, key: str | None
) -> tuple[JournalEntry, ...]:
    """Return the entries behind ``after``, of one table or one row when named."""
    wanted = select(JOURNAL).where(JOURNAL.c.seq > after).order_by(JOURNAL.c.seq).limit(limit)
    if table is not None:
        wanted = wanted.where(JOURNAL.c.table_name == table)
    if key is not None:
        wanted = wanted.where(JOURNAL.c.key == key)
    return tuple(entry_from(tuple(row)) for row in connection.execute(wanted))
