"""Where the record is kept: one SQLite file with a journal, or memory. Knows no rules."""

from __future__ import annotations

from broodsweep.store.memory import MemoryStore
from broodsweep.store.opening import open_store
from broodsweep.store.sqlite import SqliteStore

__all__ = ["MemoryStore", "SqliteStore", "open_store"]
