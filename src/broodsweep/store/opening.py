"""Opens the store: makes it when it is new, brings it to the newest schema, refuses what is not ours."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, Engine

from broodsweep.errors import TroubleError
from broodsweep.store.constants import APPLICATION_ID, WAIT
from broodsweep.store.copying import copy_pages
from broodsweep.store.file import (
    Access,
    access_to,
    check_is_ours,
    connect,
    discard,
    make_engine,
    name_once,
    use_write_ahead_log,
)
from broodsweep.store.lock import StoreLock
from broodsweep.store.migrations import MIGRATIONS, Migration, schema_version, upgrade
from broodsweep.store.sqlite import SqliteStore
from broodsweep.store.trouble import in_words

_WRITABLE = Access(mode="rw")


def open_store(
    path: Path,
    *,
    now: Callable[[], datetime],
    create: bool = True,
    wait_s: float = WAIT.value,
    migrations: Sequence[Migration] = MIGRATIONS,
) -> SqliteStore:
    """Return the store on a file; close it, or use it as a context.

    A file or a folder that may not be written is opened for reading: see ``is_read_only`` and ``notice``.

    Parameters
    ----------
    path
        The file.
    now
        The clock, for the journal's instants and the name of a copy made before a migration.
    create
        Whether to make the file when it is not there.
    wait_s
        How long a writer waits for another. [s]
    migrations
        Steps of the schema; tests pass fewer to make an older file.

    Raises
    ------
    NotFoundError
        If the file is not there and ``create`` is False.
    TroubleError
        If the file is not ours, is damaged or of a newer schema, or the machine is in the way.
    """
    path = Path(path)
    with in_words(path, wait_s):
        if create and not path.exists():
            _make(path, now, migrations)
        check_is_ours(path)
        access = access_to(path)
        lock = None if access.is_read_only else StoreLock(path)
        if lock is not None and not lock.share(wait_s):
            lock.release()
            raise TroubleError("store.being_replaced", path=str(path))
        engine = make_engine(path, access, wait_s)
        try:
            _bring_up_to_date(path, engine, access, lock, now, migrations, wait_s)
        except BaseException:
            engine.dispose()
            if lock is not None:
                lock.release()
            raise
    return SqliteStore(
        path=path, engine=engine, lock=lock, now=now, is_read_only=access.is_read_only, wait_s=wait_s
    )


def _make(path: Path, now: Callable[[], datetime], migrations: Sequence[Migration]) -> None:
    # made whole under another name first: a store that is there is a whole one, whenever the power goes
    if not path.parent.is_dir():
        raise TroubleError("store.no_folder", path=str(path), folder=str(path.parent))
    if not os.access(path.parent, os.W_OK):
        raise TroubleError("store.read_only", path=str(path), folder=str(path.parent))
    draft = path.with_name(f".{path.name}.{os.getpid()}.new")
    discard(draft)
    try:
        with closing(sqlite3.connect(draft, isolation_level=None)) as connection:
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        engine = make_engine(draft, _WRITABLE, WAIT.value)
        upgrade(lambda: _begin(engine), migrations, now)
        use_write_ahead_log(engine, draft)
        engine.dispose()
        name_once(draft, path)
    finally:
        discard(draft)


def _begin(engine: Engine) -> Connection:
    connection = engine.connect().execution_options(begin="IMMEDIATE")
    connection.begin()
    return connection


def _bring_up_to_date(
    path: Path,
    engine: Engine,
    access: Access,
    lock: StoreLock | None,
    now: Callable[[], datetime],
    migrations: Sequence[Migration],
    wait_s: float,
) -> None:
    known = migrations[-1].version
    with engine.connect() as connection:
        found = schema_version(connection)
    if found > known:
        raise TroubleError("store.newer", path=str(path), found=found, known=known)
    if found < known:
        if access.is_read_only or lock is None:
            raise TroubleError("store.read_only_old", path=str(path), found=found, known=known)
        if not lock.seize():
            raise TroubleError("store.old_in_use", path=str(path), found=found, known=known)
        copy = path.with_name(f"{path.stem}.before-schema-{known}-{now():%Y%m%dT%H%M%S}{path.suffix}")
        if not copy.exists():
            with closing(connect(path, access, wait_s)) as source:
                copy_pages(source, copy)
        upgrade(lambda: _begin(engine), migrations, now)
        lock.share(wait_s)
    if not access.is_read_only:
        use_write_ahead_log(engine, path)
