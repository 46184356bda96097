"""Examines a store: the file, its schema, what refers to what, the journal and the tables."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine, select
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import StaticPool

from broodsweep.desk.ports import Progress
from broodsweep.store.canonical import instant_from, instant_text
from broodsweep.store.constants import FREE_SPACE_WANTED
from broodsweep.store.file import log_bytes, make_engine, reading_access_to
from broodsweep.store.manifest import read_last_backup
from broodsweep.store.migrations import MIGRATIONS, schema_version
from broodsweep.store.photo_copies import photos_beside, photos_check
from broodsweep.store.photos import photo_folder
from broodsweep.store.replay import Replay, chain_check, replay, tables_check
from broodsweep.store.schema import JOURNAL
from broodsweep.store.sqlite import SqliteStore
from broodsweep.store.trouble import in_words
from broodsweep.store.verdict import Check, LastBackup, Verdict
from broodsweep.words import say

_MEGABYTE = 1e6


def verify(store: SqliteStore, progress: Progress | None = None) -> Verdict:
    """Return what an examination of the whole store finds; desks may go on working meanwhile."""
    return _examine_through(store.engine, store.path, store.now, progress, photo_folder(store.path))


def verify_file(path: Path, *, now: Callable[[], datetime], progress: Progress | None = None) -> Verdict:
    """Return what an examination of a file finds that no desk has open, a backup for instance."""
    engine = make_engine(path, reading_access_to(path), 0.0)
    try:
        beside = photos_beside(path)
        return _examine_through(engine, path, now, progress, beside if beside.is_dir() else None)
    finally:
        engine.dispose()


def _examine_through(
    engine: Engine,
    path: Path,
    now: Callable[[], datetime],
    progress: Progress | None,
    photos: Path | None,
) -> Verdict:
    # nothing was written, so nothing is committed: on a broken file the commit itself would fail
    with in_words(path), engine.connect() as connection:
        connection.begin()
        try:
            return examine(connection, path, now=now, progress=progress, photos=photos)
        finally:
            connection.invalidate()


def examine(
    connection: Connection,
    path: Path,
    *,
    now: Callable[[], datetime],
    progress: Progress | None = None,
    photos: Path | None = None,
) -> Verdict:
    """Return what one read transaction on the file finds."""
    found, backup, version = Replay(), read_last_backup(path), 0
    free = shutil.disk_usage(path.parent).free
    checks = [_file(connection)]
    try:
        version = schema_version(connection)
        checks += [_schema(connection, version), _references(connection)]
        found = replay(connection, progress)
        checks += [chain_check(found), tables_check(connection, found)]
        checks += [photos_check(connection, photos)]
        checks += [_backup(connection, backup), _clock(found, now())]
    except DBAPIError as err:  # the file is broken where we had to read
        broken = say("store.file_broken", reason=str(err.orig))
        checks = [Check(name="file", is_sound=False, detail=broken), *checks[1:]]
    checks += [_space(free), _log(path)]
    return Verdict(
        checks=tuple(checks),
        is_sound=all(check.is_sound for check in checks),
        version=found.entries,
        schema_version=version,
        head=found.head,
        first_broken_seq=found.broken_seq,
        free_bytes=free,
        log_bytes=log_bytes(path),
        last_backup=backup,
    )


def _file(connection: Connection) -> Check:
    try:
        answer = connection.exec_driver_sql("PRAGMA integrity_check(1)").scalar()
    except DBAPIError as err:
        answer = str(err.orig)
    if answer == "ok":
        return Check(name="file", is_sound=True, detail=say("store.file_sound"))
    reason = " ".join(str(answer).split())
    return Check(name="file", is_sound=False, detail=say("store.file_broken", reason=reason))


def _schema(connection: Connection, version: int) -> Check:
    wanted, there = dict(_pure_schema(version)), dict(_schema_of(connection))
    altered = sorted(name for name in wanted.keys() | there.keys() if wanted.get(name) != there.get(name))
    known = MIGRATIONS[-1].version
    if altered:
        detail = say("store.schema_altered", found=version, names=altered)
        return Check(name="schema", is_sound=False, detail=detail)
    if version < known:
        old = say("store.schema_old", found=version, known=known)
        return Check(name="schema", is_sound=True, is_warning=True, detail=old)
    return Check(name="schema", is_sound=True, detail=say("store.schema_sound", found=version))


def _pure_schema(version: int) -> Iterator[tuple[str, str]]:
    engine = create_engine("sqlite+pysqlite://", poolclass=StaticPool)
    with engine.connect() as connection:
        for migration in MIGRATIONS[:version]:
            migration.run(connection)
        yield from _schema_of(connection)
    engine.dispose()


def _schema_of(connection: Connection) -> Iterator[tuple[str, str]]:
    # indexes that SQLite makes by itself and its statistics have no text or are of no account
    rows = connection.exec_driver_sql(
        "SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%'"
    )
    yield from ((row[0], row[1]) for row in rows)


def _references(connection: Connection) -> Check:
    first = connection.exec_driver_sql("PRAGMA foreign_key_check").first()
    if first is None:
        return Check(name="references", is_sound=True, detail=say("store.references_sound"))
    detail = say("store.references_broken", table=first[0], parent_table=first[2])
    return Check(name="references", is_sound=False, detail=detail)


def _clock(found: Replay, now: datetime) -> Check:
    if found.last_at <= instant_text(now):
        return Check(name="clock", is_sound=True, detail=say("store.clock_sound"))
    ahead = say("store.clock_ahead", last_at=instant_from(found.last_at))
    return Check(name="clock", is_sound=True, is_warning=True, detail=ahead)


def _space(free: int) -> Check:
    is_short = free < FREE_SPACE_WANTED.value
    key = "store.space_short" if is_short else "store.space_sound"
    detail = say(key, free_megabytes=round(free / _MEGABYTE))
    return Check(name="space", is_sound=True, is_warning=is_short, detail=detail)


def _log(path: Path) -> Check:
    size = say("store.log_size", log_megabytes=round(log_bytes(path) / _MEGABYTE, 1))
    return Check(name="log", is_sound=True, detail=size)


def _backup(connection: Connection, backup: LastBackup | None) -> Check:
    if backup is None:
        return Check(name="backup", is_sound=True, is_warning=True, detail=say("store.backup_none"))
    told = {"path": backup.path, "made_at": backup.at, "version": backup.version}
    # what the backup ended with must still be in the chain, else the end of the journal was cut off
    there = connection.execute(select(JOURNAL.c.hash).where(JOURNAL.c.seq == backup.version)).scalar()
    if backup.version and there != backup.hash:
        return Check(name="backup", is_sound=False, detail=say("store.backup_unlinked", **told))
    return Check(name="backup", is_sound=True, detail=say("store.backup_last", **told))
