"""How often somebody may try: a bucket that fills again with time, by name and by address."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from threading import Lock

from broodsweep.access.constants import TRIES, TRIES_MIN
from broodsweep.desk.access import SignInError, TooManyTriesError

MOST_KEPT = 10_000
"""Names that are remembered; beyond it the ones that may try again anyhow are forgotten."""


@dataclass(kw_only=True)
class Attempts:
    """Counts failed tries; a success takes nothing. In memory: starting the desk anew forgives."""

    now: Callable[[], datetime]
    most: float = TRIES.value
    within: timedelta = timedelta(minutes=TRIES_MIN.value)
    _used: dict[str, tuple[float, datetime]] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def require(self, *keys: str) -> None:
        """Let a try go on while each of its keys has some left.

        Raises
        ------
        TooManyTriesError
            If one has none left.
        """
        with self._lock:
            wait_s = max((self._wait_s(key) for key in keys), default=0.0)
        if wait_s > 0:
            raise TooManyTriesError("access.too_many_tries", count=math.ceil(wait_s / 60))

    @contextmanager
    def counting(self, *keys: str) -> Iterator[None]:
        """Let a try go on while its keys have some left, and count it when it ends in `SignInError`.

        Raises
        ------
        TooManyTriesError
            If one of the keys has none left.
        """
        self.require(*keys)
        try:
            yield
        except SignInError:
            self.fail(*keys)
            raise

    def fail(self, *keys: str) -> None:
        """Count a failed try."""
        with self._lock:
            if len(self._used) > MOST_KEPT:
                self._used = {key: kept for key, kept in self._used.items() if self._level(key) > 0}
            for key in keys:
                self._used[key] = (self._level(key) + 1, self.now())

    def _level(self, key: str) -> float:
        level, at = self._used.get(key, (0.0, self.now()))
        return max(0.0, level - self.most * ((self.now() - at) / self.within))

    def _wait_s(self, key: str) -> float:
        over = self._level(key) - (self.most - 1)
        return max(0.0, over / self.most * self.within.total_seconds())
