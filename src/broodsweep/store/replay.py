"""Reads the whole journal: is the chain unbroken, and do the tables stand where it leads?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from sqlalchemy import Connection, func, inspect, select

from broodsweep.desk.ports import Progress
from broodsweep.store.chain import entry_hash
from broodsweep.store.constants import GENESIS
from broodsweep.store.records import Record, image
from broodsweep.store.schema import JOURNAL, SHAPES, TABLES
from broodsweep.store.verdict import Check
from broodsweep.words import Message, say

State = dict[tuple[str, str], str]
"""Row by table and key, as the canonical JSON that the journal keeps."""

_TELL_EVERY = 2000  # entries between two calls of progress


@dataclass
class Replay:
    """What reading the journal from its first entry gives."""

    state: State = field(default_factory=dict)
    entries: int = 0
    head: str = GENESIS
    last_at: str = ""
    broken_seq: int | None = None
    broken_reason: Message | None = None
    jump: tuple[int, str, str] | None = None

    def read(self, record: Record) -> None:
        """Take the next entry."""
        seq, at, _, _, _, _, table, key, before, after, _, previous, own = record
        if self.broken_seq is None:
            self._look_at(seq, at, previous, own, record)
        if self.jump is None and self.state.get((table, key)) != before:
            self.jump = (seq, table, key)
        if after is None:
            self.state.pop((table, key), None)
        else:
            self.state[table, key] = after
        self.entries, self.head, self.last_at = seq, own, at

    def _look_at(self, seq: int, at: str, previous: str, own: str, record: Record) -> None:
        reason = None
        if seq != self.entries + 1:
            reason = say("store.chain_gap")
        elif previous != self.head:
            reason = say("store.chain_link")
        elif entry_hash(record[:-1]) != own:
            reason = say("store.chain_hash")
        elif at < self.last_at:
            reason = say("store.chain_time")
        if reason is not None:
            self.broken_seq, self.broken_reason = seq, reason


def replay(connection: Connection, progress: Progress | None = None) -> Replay:
    """Read the whole journal."""
    found = Replay()
    total = connection.execute(select(func.count()).select_from(JOURNAL)).scalar() or 0
    for number, row in enumerate(connection.execute(select(JOURNAL).order_by(JOURNAL.c.seq)), start=1):
        found.read(tuple(row))
        if progress is not None and number % _TELL_EVERY == 0:
            progress(number / total)
    return found


def chain_check(found: Replay) -> Check:
    """Say whether the chain is unbroken, and where it first breaks."""
    if found.broken_seq is None:
        return Check(name="chain", is_sound=True, detail=say("store.chain_sound", count=found.entries))
    broken = say("store.chain_broken", seq=found.broken_seq, reason=found.broken_reason)
    return Check(name="chain", is_sound=False, detail=broken)


def tables_check(connection: Connection, found: Replay) -> Check:
    """Say whether every row of every table is what the journal leads to, and no row is missing or extra."""
    if found.jump is not None:
        seq, table, key = found.jump
        jump = say("store.tables_jump", seq=seq, table=table, key=key)
        return Check(name="tables", is_sound=False, detail=jump)
    left, rows = dict(found.state), 0
    differing: list[tuple[str, str]] = []
    for table, key, text in _images(connection):
        rows += 1
        if left.pop((table, key), None) != text:
            differing.append((table, key))
    differing += sorted(left)
    if not differing:
        return Check(name="tables", is_sound=True, detail=say("store.tables_sound", count=rows))
    table, key = differing[0]
    detail = say("store.tables_differ", count=len(differing), table=table, key=key)
    return Check(name="tables", is_sound=False, detail=detail)


def _images(connection: Connection) -> Iterator[tuple[str, str, str | None]]:
    kept = inspect(connection)
    for name, shape in SHAPES.items():
        if not kept.has_table(name):
            continue
        # an older schema lacks columns that came later: they count as empty
        there = {column["name"] for column in kept.get_columns(name)}
        places = {column: place for place, column in enumerate(c for c in shape.columns if c in there)}
        columns = [TABLES[name].c[column] for column in places]
        rows: Iterable[Record] = (tuple(row) for row in connection.execute(select(*columns)))
        for row in rows:
            record = tuple(row[places[column]] if column in places else None for column in shape.columns)
            yield name, row[0], _image(name, record)


def _image(table: str, record: Record) -> str | None:
    try:
        return image(table, record)
    except ValueError:  # a column that no longer holds JSON: certainly not what was journalled
        return None
