"""The journal, read from outside with nothing but the standard library's sqlite3, json and hashlib."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from contextlib import closing

from broodsweep.register import Keeper

COLUMNS = "seq, at, device_at, who, device, what, table_name, key, before, after, note, previous_hash, hash"


def entries_of(path):
    with closing(sqlite3.connect(path)) as raw:
        return raw.execute(f"SELECT {COLUMNS} FROM journal ORDER BY seq").fetchall()


def test_each_hash_is_sha256_of_the_other_columns_as_docs_store_md_says(store, path, author):
    """docs/store.md: SHA-256 of the compact UTF-8 JSON array of the other twelve columns; first link 64 zeros."""
    with store.work(author, 'ümläut "quoted" \u2028') as work:
        work.save("keepers", [Keeper(keeper="\t|K\\", name="Bo\nRask\U0001f41d")])
        work.set("x", {"y": [1.5, 1e300, -0.0]})
    previous = "0" * 64
    entries = entries_of(path)
    assert len(entries) == store.version() == 11
    for *fields, own in entries:
        assert fields[-1] == previous
        text = json.dumps(fields, ensure_ascii=False, separators=(",", ":"))
        assert own == hashlib.sha256(text.encode("utf-8")).hexdigest()
        previous = own


def test_images_are_the_rows_themselves(store, path):
    """Every row of every table, rebuilt from its last entry, equals the row that SQLite holds."""
    last = {(entry[6], entry[7]): entry[9] for entry in entries_of(path)}
    seen = 0
    with closing(sqlite3.connect(path)) as raw:
        raw.row_factory = sqlite3.Row
        for table in {table for table, _ in last}:
            for row in raw.execute(f"SELECT * FROM {table}"):
                told = json.loads(last[table, row[0]])
                for column in row.keys():  # noqa: SIM118 a Row is no dictionary
                    value = row[column]
                    if column in ("extra", "detail", "value", "event_order") and value is not None:
                        value = json.loads(value)
                    assert told.get(column) == value, (table, column)
                seen += 1
    assert seen == len(last) == 9


def test_a_negative_zero_is_journalled_as_it_is_kept(store, path, author, apiary):
    import dataclasses

    west = apiary("A9")
    west = dataclasses.replace(west, place=dataclasses.replace(west.place, longitude=-0.0))
    with store.work(author, "load") as work:
        work.save("apiaries", [west])
    with closing(sqlite3.connect(path)) as raw:
        (kept,) = raw.execute("SELECT longitude FROM apiaries WHERE apiary = 'A9'").fetchone()
    assert str(json.loads(entries_of(path)[-1][9])["longitude"]) == str(kept) == "0.0"
