"""Books, and a short way to write an outbreak's events."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime

import pytest

from broodsweep.constants import Disease
from broodsweep.outbreak import Event, EventKind, Outbreak, add_event
from broodsweep.rulebook import Rulebook, load_books

Write = Callable[..., Outbreak]


@pytest.fixture(scope="session")
def books() -> dict[str, Rulebook]:
    return load_books()


@pytest.fixture
def write(books: dict[str, Rulebook]) -> Write:
    """Make an outbreak of one apiary from (kind, day, detail) steps, each checked."""

    def make(
        *steps: tuple[object, ...],
        book: str = "common-practice",
        disease: Disease = Disease.AFB,
        start: Outbreak | None = None,
        apiary: str = "SK-001",
    ) -> Outbreak:
        opened_on = min((step[1] for step in steps if isinstance(step[1], date)), default=date(2026, 6, 1))
        outbreak = start or Outbreak(
            outbreak=f"{disease}-2026-1", disease=disease, rulebook=book, opened_on=opened_on
        )
        for step in steps:
            kind, day = step[0], step[1]
            assert isinstance(kind, EventKind) and isinstance(day, date)
            detail = step[2] if len(step) > 2 else {}
            assert isinstance(detail, dict)
            number = sum(len(case.events) for case in outbreak.cases)
            event = Event(
                event=f"{apiary}-{number}",
                apiary=apiary,
                kind=kind,
                happened_on=day,
                recorded_at=datetime(2028, 1, 1, tzinfo=UTC),
                who="R. Holm",
                evidence="note 1",
                detail=detail,
            )
            outbreak = add_event(outbreak, event, books[outbreak.rulebook])
        return outbreak

    return make
