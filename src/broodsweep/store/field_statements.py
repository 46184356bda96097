"""The field book's questions to the database."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from sqlalchemy import ColumnElement, Connection, func, select

from broodsweep.desk.field_ports import Heard, KeptLine, KeptPhoto, Refusal
from broodsweep.store.canonical import instant_from, instant_text
from broodsweep.store.constants import KEYS_AT_ONCE
from broodsweep.store.field_records import line_from, photo_from, refusal_from
from broodsweep.store.schema import TABLES

_LINES, _PHOTOS, _REFUSALS = TABLES["lines"], TABLES["photos"], TABLES["refusals"]
_KEYS = int(KEYS_AT_ONCE.value)


def read_lines(connection: Connection, wanted: dict[str, Iterable[str] | None]) -> tuple[KeptLine, ...]:
    """Return the lines whose columns have one of the values given, by column."""
    given = {name: sorted(set(values)) for name, values in wanted.items() if values is not None}
    # the longest list is asked for in parts; the others are short
    longest = max(given, key=lambda name: len(given[name]), default=None)
    if longest is None:
        rows = connection.execute(select(_LINES).order_by(_LINES.c.key))
        return tuple(line_from(tuple(row)) for row in rows)
    found: list[KeptLine] = []
    for start in range(0, len(given[longest]), _KEYS):
        parts = {**given, longest: given[longest][start : start + _KEYS]}
        asked: list[ColumnElement[bool]] = [_LINES.c[name].in_(values) for name, values in parts.items()]
        found += (line_from(tuple(row)) for row in connection.execute(select(_LINES).where(*asked)))
    return tuple(sorted(found, key=lambda row: row.key))


def read_visits_heard(connection: Connection, since: datetime) -> tuple[str, ...]:
    """Return the visits of which a line arrived since then."""
    asked = (
        select(_LINES.c.visit)
        .where(_LINES.c.arrived_at >= instant_text(since), _LINES.c.visit.is_not(None))
        .distinct()
        .order_by(_LINES.c.visit)
    )
    return tuple(connection.execute(asked).scalars())


def read_heard(connection: Connection) -> tuple[Heard, ...]:
    """Return what was heard of each phone."""
    by = _LINES.c.delivered_by
    asked = (
        select(by, func.max(_LINES.c.arrived_at), func.count(), func.coalesce(func.max(_LINES.c.number), 0))
        .group_by(by)
        .order_by(by)
    )
    return tuple(
        Heard(device=device, last_at=instant_from(last), lines=lines, highest=highest)
        for device, last, lines, highest in connection.execute(asked)
    )


def read_refusals(connection: Connection, visits: Iterable[str] | None) -> tuple[Refusal, ...]:
    """Return the refusals of these visits, or all."""
    asked = select(_REFUSALS).order_by(_REFUSALS.c.refusal)
    if visits is not None:
        asked = asked.where(_REFUSALS.c.visit.in_(sorted(set(visits))))
    return tuple(refusal_from(tuple(row)) for row in connection.execute(asked))


def read_photos(connection: Connection, photos: Iterable[str]) -> tuple[KeptPhoto, ...]:
    """Return those of the photos that are whole here."""
    names, found = sorted(set(photos)), list[KeptPhoto]()
    for start in range(0, len(names), _KEYS):
        asked = select(_PHOTOS).where(_PHOTOS.c.photo.in_(names[start : start + _KEYS]))
        found += (photo_from(tuple(row)) for row in connection.execute(asked))
    return tuple(sorted(found, key=lambda row: row.photo))
