"""Where the record is kept: one SQLite file with a journal, or memory. Knows no rules."""

from __future__ import annotations

from broodsweep.store.backups import backup, restore
from broodsweep.store.doctor import verify, verify_file
from broodsweep.store.manifest import Manifest
from broodsweep.store.memory import MemoryStore
from broodsweep.store.opening import open_store
from broodsweep.store.sqlite import SqliteStore
from broodsweep.store.verdict import Check, LastBackup, Verdict

__all__ = [
    "Check",
    "LastBackup",
    "Manifest",
    "MemoryStore",
    "SqliteStore",
    "Verdict",
    "backup",
    "open_store",
    "restore",
    "verify",
    "verify_file",
]
