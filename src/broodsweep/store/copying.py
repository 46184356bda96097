"""Copies a live SQLite file to another name: all of it or nothing."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from broodsweep.desk.ports import Progress
from broodsweep.store.constants import BACKUP_STEP
from broodsweep.store.file import discard, sync_file, sync_folder


def copy_pages(
    source: sqlite3.Connection,
    target: Path,
    progress: Progress | None = None,
    check: Callable[[Path], None] | None = None,
) -> None:
    """Copy what a connection sees now to a file that appears under its name only when whole and checked.

    Parameters
    ----------
    source
        Connection to the live file; writers go on meanwhile, the copy stays at this moment.
    target
        Name of the copy. A file of that name is replaced.
    progress
        Told the share done; raising from it leaves no file behind.
    check
        Called with the draft before it gets its name; raising from it leaves no file behind.
    """
    draft = target.with_name(f".{target.name}.{os.getpid()}.part")
    discard(draft)

    def tell(_status: int, remaining: int, total: int) -> None:
        if progress is not None:
            progress(1 - remaining / total if total else 1.0)

    try:
        # a read transaction held all the while pins the moment: a busy writer cannot make the copy start anew
        source.execute("BEGIN")
        try:
            source.execute("SELECT count(*) FROM sqlite_master").fetchone()
            with closing(sqlite3.connect(draft, isolation_level=None)) as copy:
                source.backup(copy, pages=int(BACKUP_STEP.value), progress=tell)
                # one file that needs no side files to be read
                copy.execute("PRAGMA journal_mode = DELETE")
        finally:
            source.execute("ROLLBACK")
        sync_file(draft)
        if check is not None:
            check(draft)
        draft.replace(target)
        sync_folder(target.parent)
    finally:
        discard(draft)
