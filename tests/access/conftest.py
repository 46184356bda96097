"""Those who are let in, with a clock that the test turns."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from argon2 import PasswordHasher

from broodsweep.access import Access, open_access

QUICK = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
"""The tests check what is let in, not how long a guess takes."""
WORDS = "seven small gates by water"


@dataclass
class Clock:
    now: datetime = datetime(2026, 7, 8, 9, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def wait(self, **how_long: float) -> None:
        self.now += timedelta(**how_long)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def access(tmp_path: Path, clock: Clock) -> Iterator[Access]:
    found = open_access(tmp_path, now=clock)
    found.people.hasher = QUICK
    yield found
    found.close()
