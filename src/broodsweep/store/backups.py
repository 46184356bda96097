"""Backs the store up while desks work on it, and puts a backup in a store's place."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from broodsweep.desk.ports import Progress
from broodsweep.errors import NotFoundError, RefusedError, TroubleError
from broodsweep.store.copying import copy_pages
from broodsweep.store.doctor import verify_file
from broodsweep.store.file import (
    check_is_ours,
    connect,
    discard,
    make_engine,
    reading_access_to,
    side_files,
    sync_folder,
)
from broodsweep.store.lock import StoreLock
from broodsweep.store.manifest import (
    Manifest,
    digest_of,
    manifest_path,
    read_manifest,
    write_last_backup,
    write_manifest,
)
from broodsweep.store.photo_copies import copy_photos, noted_photos, photos_beside
from broodsweep.store.photos import photo_folder
from broodsweep.store.sqlite import SqliteStore
from broodsweep.store.trouble import in_words
from broodsweep.store.verdict import LastBackup, Verdict

_STAMP = "%Y%m%dT%H%M%S"


def backup(store: SqliteStore, path: Path, progress: Progress | None = None) -> Manifest:
    """Write a checked copy of the store as it is now, with its manifest beside it.

    The copy gets its name only when it is whole, its journal unbroken and its tables as the journal says. Photos
    are copied into a folder beside it; what could not be copied stands in the manifest.

    Parameters
    ----------
    store
        The store; desks go on working.
    path
        Name of the copy, or a folder, where it is named by the day and time.
    progress
        Told the share done; raising from it leaves nothing behind.

    Raises
    ------
    RefusedError
        If the name is taken.
    TroubleError
        If the store is not sound or the copy cannot be written.
    """
    at = store.now()
    target = Path(path)
    if target.is_dir():
        target = target / f"{store.path.stem}-{at:{_STAMP}}{store.path.suffix}"
    if target.absolute() == store.path.absolute():
        raise RefusedError("store.backup_is_store", path=str(target))
    if target.exists():
        raise RefusedError("store.backup_exists", path=str(target))
    if not target.absolute().parent.is_dir():
        raise TroubleError("store.no_folder", path=str(target), folder=str(target.parent))
    made: list[Manifest] = []

    def check(draft: Path) -> None:
        verdict = _require_sound(draft, target, store.now)
        # the photos come first: a backup that has its name has its photos
        noted = _photos_in(draft)
        missing = copy_photos(noted, photo_folder(store.path), photos_beside(target)) if noted else ()
        manifest = _manifest_of(draft, target.name, verdict, at)
        made.append(replace(manifest, photos=len(noted) - len(missing), photos_missing=len(missing)))

    with in_words(target), closing(connect(store.path, reading_access_to(store.path), 0.0)) as source:
        copy_pages(source, target, progress, check)
        write_manifest(target, made[0])
    if not store.is_read_only:
        with in_words(store.path):
            write_last_backup(store.path, _last(target, made[0]))
    return made[0]


def restore(
    backup_path: Path, home_path: Path, *, now: Callable[[], datetime], keep_old: bool = True
) -> Path | None:
    """Put a checked backup in the store's place; return where the old file was kept.

    Parameters
    ----------
    backup_path
        The backup; its manifest is believed when it is there.
    home_path
        The store's file, there or not, sound or not.
    now
        The clock, for the old file's name.
    keep_old
        Whether to keep the old file beside, under a dated name.

    Raises
    ------
    NotFoundError
        If there is no backup of that name.
    TroubleError
        If the backup is not sound, another desk has the store open, or the machine is in the way. The
        store is as it was then.
    """
    source_path, home = Path(backup_path), Path(home_path)
    if not source_path.exists():
        raise NotFoundError("store.missing", path=str(source_path))
    if home.exists() and source_path.samefile(home):
        raise RefusedError("store.backup_is_store", path=str(source_path))
    with in_words(source_path):
        check_is_ours(source_path)
        told = read_manifest(source_path)
        if told is not None and told.sha256 != digest_of(source_path):
            manifest = str(manifest_path(source_path))
            raise TroubleError("store.backup_altered", path=str(source_path), manifest=manifest)
        verdict = _require_sound(source_path, source_path, now)
    with in_words(home), StoreLock(home) as lock:
        if not lock.seize():
            raise TroubleError("store.in_use", path=str(home))
        draft = home.with_name(f".{home.name}.{os.getpid()}.restored")
        try:
            with closing(connect(source_path, reading_access_to(source_path), 0.0)) as source:
                copy_pages(source, draft)
            # photos are named by their bytes: those of the old record stay, those of the backup join them
            beside = photos_beside(source_path)
            if beside.is_dir():
                copy_photos(_photos_in(source_path), beside, photo_folder(home))
            kept = _set_aside(home, now, keep_old=keep_old)
            draft.replace(home)
            sync_folder(home.parent)
        finally:
            discard(draft)
        write_last_backup(
            home, _last(source_path, told or _manifest_of(source_path, source_path.name, verdict, now()))
        )
    return kept


def _photos_in(path: Path) -> Mapping[str, int]:
    engine = make_engine(path, reading_access_to(path), 0.0)
    try:
        with engine.connect() as connection:
            return noted_photos(connection)
    finally:
        engine.dispose()


def _require_sound(path: Path, name: Path, now: Callable[[], datetime]) -> Verdict:
    verdict = verify_file(path, now=now)
    for check in verdict.checks:
        if not check.is_sound:
            raise TroubleError("store.backup_unsound", path=str(name), detail=check.detail)
    return verdict


def _manifest_of(path: Path, name: str, verdict: Verdict, at: datetime) -> Manifest:
    return Manifest(
        file=name,
        at=at,
        version=verdict.version,
        hash=verdict.head,
        schema_version=verdict.schema_version,
        bytes=path.stat().st_size,
        sha256=digest_of(path),
    )


def _last(path: Path, manifest: Manifest) -> LastBackup:
    return LastBackup(path=str(path.absolute()), at=manifest.at, version=manifest.version, hash=manifest.hash)


def _set_aside(home: Path, now: Callable[[], datetime], *, keep_old: bool) -> Path | None:
    if not home.exists():
        return None
    _fold_log(home)
    kept = home.with_name(f"{home.stem}.replaced-{now():{_STAMP}}{home.suffix}")
    number = 1
    while kept.exists():
        number += 1
        kept = home.with_name(f"{home.stem}.replaced-{now():{_STAMP}}-{number}{home.suffix}")
    if keep_old:
        try:
            os.link(home, kept)  # the store keeps its name until the new file takes it over
        except OSError:  # a file system without hard links
            shutil.copy2(home, kept)
    # what is left of an old log would be read into the new file: it goes with the old one
    for side, beside in zip(side_files(home), side_files(kept), strict=True):
        if side.exists():
            side.replace(beside) if keep_old else side.unlink()
    sync_folder(home.parent)
    return kept if keep_old else None


def _fold_log(home: Path) -> None:
    try:
        check_is_ours(home)
    except TroubleError:
        return  # what no longer is a store is set aside as it is, with its log
    # needs the file for itself, so it also finds out programs that do not know our lock file
    try:
        with closing(sqlite3.connect(home, timeout=0.0, isolation_level=None)) as connection:
            connection.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.OperationalError as err:
        if err.sqlite_errorcode == sqlite3.SQLITE_BUSY:
            raise TroubleError("store.in_use", path=str(home)) from err
    except sqlite3.DatabaseError:
        return
