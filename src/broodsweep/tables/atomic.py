"""Writes files whole or not at all: beside the old one first, then in its place."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from broodsweep.errors import TroubleError

_FULL = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})
_FORBIDDEN = frozenset({errno.EACCES, errno.EPERM, errno.EROFS})


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """Give a path to write to; when the block ends well the file takes the place of ``path`` in one step.

    When the block raises, ``path`` is as it was and nothing is left over.

    Raises
    ------
    TroubleError
        If the disk is full, the folder may not be written to, or the machine fails otherwise.
    """
    draft: Path | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=path.suffix, dir=path.parent)
        os.close(handle)
        draft = Path(name)
        yield draft
        _settle(draft)
        draft.replace(path)
        draft = None
    except OSError as error:
        raise trouble(path, error) from error
    finally:
        if draft is not None:
            with suppress(OSError):
                draft.unlink()


def _settle(draft: Path) -> None:
    """Bring the bytes to the disk, with the rights a new file would have."""
    mask = os.umask(0)
    os.umask(mask)
    draft.chmod(0o666 & ~mask)
    with draft.open("rb") as file:
        os.fsync(file.fileno())


def trouble(path: Path, error: OSError) -> TroubleError:
    """Return what a user can be told about a failure to write."""
    if error.errno in _FULL:
        return TroubleError("tables.disk_full", path=str(path))
    if error.errno in _FORBIDDEN:
        return TroubleError("tables.no_right", path=str(path))
    return TroubleError("tables.cannot_write", path=str(path), why=error.strerror or str(error))
