"""What stands beside a backup (its manifest) and beside a store (its last backup): small JSON files."""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass
from datetime import datetime
from hashlib import file_digest
from pathlib import Path
from typing import Any

from broodsweep.store.canonical import instant_from, instant_text
from broodsweep.store.file import sync_file
from broodsweep.store.verdict import LastBackup


@dataclass(frozen=True, kw_only=True)
class Manifest:
    """What a backup is: when it was made, up to which entry, and the SHA-256 of its bytes.

    ``file`` is its name without the folder, ``hash`` that of the journal's last entry in it. ``photos`` lie in a
    folder beside it; ``photos_missing`` are those that the record notes and that were not there to copy.
    """

    file: str
    at: datetime
    version: int
    hash: str
    schema_version: int
    bytes: int
    sha256: str
    photos: int = 0
    photos_missing: int = 0


def manifest_path(backup: Path) -> Path:
    """Name of the manifest beside a backup."""
    return backup.with_name(backup.name + ".json")


def write_manifest(backup: Path, manifest: Manifest) -> None:
    """Write the manifest beside the backup, whole or not at all."""
    _write(manifest_path(backup), asdict(manifest) | {"at": instant_text(manifest.at)})


def read_manifest(backup: Path) -> Manifest | None:
    """Return the manifest beside a backup, None when there is none that can be read."""
    told = _read(manifest_path(backup))
    try:
        return None if told is None else Manifest(**(told | {"at": instant_from(told["at"])}))
    except (KeyError, TypeError, ValueError):
        return None


def digest_of(path: Path) -> str:
    """Return the SHA-256 of a file's bytes, in hexadecimal."""
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()


def write_last_backup(store: Path, backup: LastBackup) -> None:
    """Write beside the store which backup is its newest."""
    _write(_last_path(store), asdict(backup) | {"at": instant_text(backup.at)})


def read_last_backup(store: Path) -> LastBackup | None:
    """Return the newest backup of a store, None when none is known."""
    told = _read(_last_path(store))
    try:
        return None if told is None else LastBackup(**(told | {"at": instant_from(told["at"])}))
    except (KeyError, TypeError, ValueError):
        return None


def _last_path(store: Path) -> Path:
    return store.with_name(store.name + ".last-backup.json")


def _write(path: Path, told: dict[str, Any]) -> None:
    draft = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        draft.write_text(json.dumps(told, indent=2) + "\n", encoding="utf-8")
        sync_file(draft)
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)


def _read(path: Path) -> dict[str, Any] | None:
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return told if isinstance(told, dict) else None
