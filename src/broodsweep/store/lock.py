"""Who has the store open: a lock file beside it, which the system lets go of when a process dies."""

from __future__ import annotations

import time
from pathlib import Path
from types import TracebackType
from typing import IO

try:
    import fcntl

    _HAS_FLOCK = True
except ImportError:  # pragma: no cover - Windows has no fcntl; SQLite's own locks still hold there
    _HAS_FLOCK = False

_PAUSE_S = 0.05  # project choice: between two tries


class StoreLock:
    """Shared by every desk on the file; held alone by who replaces or migrates it.

    Parameters
    ----------
    store
        The store's file; the lock file is that name with ``.lock`` behind it and is left in place.
    """

    def __init__(self, store: Path) -> None:
        self._path = store.with_name(store.name + ".lock")
        self._file: IO[bytes] | None = None

    def share(self, wait_s: float) -> bool:
        """Hold the lock with others; False when someone held it alone all the while."""
        return self._take(alone=False, wait_s=wait_s)

    def seize(self) -> bool:
        """Hold the lock alone; False when another has it. A share held before is kept then."""
        return self._take(alone=True, wait_s=0.0)

    def release(self) -> None:
        """Let go."""
        if self._file is not None:
            self._file.close()
            self._file = None

    def __enter__(self) -> StoreLock:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.release()

    def _take(self, *, alone: bool, wait_s: float) -> bool:
        if self._file is None:
            self._file = self._path.open("ab")
        if not _HAS_FLOCK:  # pragma: no cover
            return True
        kind = fcntl.LOCK_EX if alone else fcntl.LOCK_SH
        until = time.monotonic() + wait_s
        while True:
            try:
                fcntl.flock(self._file, kind | fcntl.LOCK_NB)
            except BlockingIOError:
                if time.monotonic() >= until:
                    # a failed change of kind lets go of the old lock on some systems: take the share again
                    if alone:
                        fcntl.flock(self._file, fcntl.LOCK_SH | fcntl.LOCK_NB)
                    return False
                time.sleep(_PAUSE_S)
            else:
                return True
