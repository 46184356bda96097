"""Photos beside a backup: copied with it, put back with it, and looked after by doctor."""

from __future__ import annotations

import os
import shutil
from collections.abc import Mapping
from hashlib import file_digest
from pathlib import Path

from sqlalchemy import Connection, inspect, select

from broodsweep.store.file import sync_file, sync_folder
from broodsweep.store.photos import PhotoFiles
from broodsweep.store.schema import TABLES
from broodsweep.store.verdict import Check
from broodsweep.words import say


def photos_beside(backup: Path) -> Path:
    """Folder with the photos of a backup."""
    return backup.with_name(backup.name + ".photos")


def noted_photos(connection: Connection) -> Mapping[str, int]:
    """Return the photos that the record says are whole, with their length. [byte]"""
    there = TABLES["photos"]
    if not inspect(connection).has_table(there.name):
        return {}
    return {row.photo: row.bytes for row in connection.execute(select(there.c.photo, there.c.bytes))}


def copy_photos(noted: Mapping[str, int], source: Path, target: Path) -> tuple[str, ...]:
    """Copy photos into a folder, each verified; return those that are not there, or not what their name says.

    A photo that the folder has already is left as it is when it is sound.
    """
    files, copies = PhotoFiles(source), PhotoFiles(target)
    missing = []
    for photo in sorted(noted):
        path, copy = files.path_of(photo), copies.path_of(photo)
        if is_sound(copy, photo):
            continue
        if not is_sound(path, photo):
            missing.append(photo)
            continue
        copy.parent.mkdir(parents=True, exist_ok=True)
        draft = copy.with_name(f".{photo}.{os.getpid()}.part")
        try:
            shutil.copyfile(path, draft)
            sync_file(draft)
            draft.replace(copy)
        finally:
            draft.unlink(missing_ok=True)
        sync_folder(copy.parent)
    return tuple(missing)


def is_sound(path: Path, photo: str) -> bool:
    """Say whether a file is there and its bytes add up to the name."""
    if not path.is_file():
        return False
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest() == photo


def photos_check(connection: Connection, folder: Path | None) -> Check:
    """Say whether every photo that the record notes is in the folder, byte for byte.

    Parameters
    ----------
    connection
        To the record.
    folder
        The photos; None for a file that lies alone, of which only the number can be said.
    """
    noted = noted_photos(connection)
    if folder is None or (noted and not folder.is_dir()):
        if not noted:
            return Check(name="photos", is_sound=True, detail=say("store.photos_sound", count=0))
        detail = say("store.photos_elsewhere", count=len(noted))
        return Check(name="photos", is_sound=folder is None, is_warning=True, detail=detail)
    files = PhotoFiles(folder)
    bad = [photo for photo in sorted(noted) if not is_sound(files.path_of(photo), photo)]
    if bad:
        detail = say("store.photos_missing", count=len(bad), photo=bad[0])
        return Check(name="photos", is_sound=False, detail=detail)
    return Check(name="photos", is_sound=True, detail=say("store.photos_sound", count=len(noted)))
