"""The journal's chain: each entry's hash covers the entry and the hash before it."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import Any, NamedTuple

from broodsweep.desk.ports import Author, JournalEntry
from broodsweep.store.canonical import canonical, instant_from, instant_text
from broodsweep.store.constants import GENESIS
from broodsweep.store.records import Record

CLOCK_SET_BACK = "clock_set_back"
"""Note of an entry whose device clock stood before the entry ahead of it."""


class Change(NamedTuple):
    """One row that changed: what stood there and what stands there now, each as canonical JSON."""

    table: str
    key: str
    before: str | None
    after: str | None


@dataclass(frozen=True, kw_only=True)
class Head:
    """The end of the chain; ``at`` is empty while there is no entry."""

    seq: int = 0
    hash: str = GENESIS
    at: str = ""


def entry_hash(fields: Iterable[Any]) -> str:
    """Return the hash of an entry: SHA-256 over the JSON array of all its columns but the hash, in UTF-8.

    The columns come in the order of `schema.JOURNAL_COLUMNS`; ``before`` and ``after`` go in as the very
    texts that the journal keeps, so that a checker needs no rule for writing numbers.
    """
    return sha256(canonical(list(fields)).encode("utf-8")).hexdigest()


def link(
    head: Head, changes: Iterable[Change], *, author: Author, what: str, clock: datetime
) -> tuple[Record, ...]:
    """Return the journal's records for the changes of one work, linked to the end of the chain.

    The instant never goes backwards: with the clock behind the last entry, that entry's instant is
    repeated, and what the clock said is kept beside it with a note.
    """
    told = instant_text(clock)
    is_behind = told < head.at
    at, device_at, note = (head.at, told, CLOCK_SET_BACK) if is_behind else (told, None, None)
    records: list[Record] = []
    seq, previous = head.seq, head.hash
    for change in changes:
        seq += 1
        fields = (seq, at, device_at, author.who, author.device, what, *change, note, previous)
        previous = entry_hash(fields)
        records.append((*fields, previous))
    return tuple(records)


def entry_from(record: Record) -> JournalEntry:
    """Return the entry that a journal record holds."""
    seq, at, device_at, who, device, what, table, key, before, after, note, previous, own = record
    return JournalEntry(
        seq=seq,
        at=instant_from(at),
        device_at=None if device_at is None else instant_from(device_at),
        who=who,
        device=device,
        what=what,
        table=table,
        key=key,
        before=None if before is None else json.loads(before),
        after=None if after is None else json.loads(after),
        note=note,
        previous_hash=previous,
        hash=own,
    )
