"""What went wrong with the file, in words a user can act on."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from broodsweep.errors import TroubleError
from broodsweep.store.constants import WAIT

_PRIMARY = 0xFF  # the low byte of an SQLite result code; the rest says more of the same trouble
_SENTENCES = {
    sqlite3.SQLITE_BUSY: "store.busy",
    sqlite3.SQLITE_LOCKED: "store.busy",
    sqlite3.SQLITE_READONLY: "store.read_only",
    sqlite3.SQLITE_PERM: "store.read_only",
    sqlite3.SQLITE_IOERR: "store.disk_error",
    sqlite3.SQLITE_FULL: "store.full",
    sqlite3.SQLITE_CORRUPT: "store.damaged",
    sqlite3.SQLITE_NOTADB: "store.not_a_database",
    sqlite3.SQLITE_CANTOPEN: "store.cannot_open",
}


def trouble_from(error: BaseException | None, path: Path, wait_s: float = WAIT.value) -> TroubleError | None:
    """Return the trouble behind a database error, None when it is a mistake of ours."""
    code = getattr(error, "sqlite_errorcode", None)
    sentence = None if code is None else _SENTENCES.get(code & _PRIMARY)
    if sentence is None and isinstance(error, sqlite3.DatabaseError) and "malformed" in str(error):
        sentence = "store.damaged"
    if sentence is None:
        return None
    return TroubleError(sentence, path=str(path), folder=str(path.parent), seconds=wait_s, reason=str(error))


@contextmanager
def in_words(path: Path, wait_s: float = WAIT.value) -> Iterator[None]:
    """Turn database and file errors of the block into `TroubleError`; let mistakes of ours through."""
    try:
        yield
    except DBAPIError as err:
        trouble = trouble_from(err.orig, path, wait_s)
        if trouble is None:
            raise
        raise trouble from err
    except sqlite3.Error as err:
        trouble = trouble_from(err, path, wait_s)
        if trouble is None:
            raise
        raise trouble from err
    except PoolTimeoutError as err:
        raise TroubleError("store.busy", path=str(path), seconds=wait_s) from err
    except OSError as err:
        raise TroubleError(
            "store.file_trouble", path=str(err.filename or path), reason=err.strerror or str(err)
        ) from err
