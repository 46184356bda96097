"""Rows of the field book as the tables hold them, and back."""

from __future__ import annotations

import json
from datetime import date

from broodsweep.desk.field_ports import (
    KeptLine,
    KeptPhoto,
    LineState,
    Refusal,
    message_as_json,
    message_from_json,
)
from broodsweep.store.canonical import canonical, instant_from, instant_text
from broodsweep.store.records import Record
from broodsweep.words import Message


def _why(message: Message | None) -> str | None:
    return None if message is None else canonical(message_as_json(message))


def line_record(row: KeptLine) -> Record:
    """Return a line in the order of its table's columns."""
    return (
        row.key,
        row.content,
        row.delivered_by,
        row.who,
        instant_text(row.arrived_at),
        row.state.value,
        _why(row.why),
        row.line,
        row.device,
        row.number,
        row.visit,
        row.apiary,
        row.kind,
    )


def line_from(record: Record) -> KeptLine:
    """Return the line that a record holds."""
    key, content, delivered_by, who, arrived_at, state, why, *told = record
    line, device, number, visit, apiary, kind = told
    return KeptLine(
        key=key,
        content=content,
        delivered_by=delivered_by,
        who=who,
        arrived_at=instant_from(arrived_at),
        state=LineState(state),
        why=None if why is None else message_from_json(json.loads(why)),
        line=line,
        device=device,
        number=number,
        visit=visit,
        apiary=apiary,
        kind=kind,
    )


def photo_record(row: KeptPhoto) -> Record:
    """Return a photo in the order of its table's columns."""
    return (row.photo, row.bytes, instant_text(row.arrived_at), row.delivered_by)


def photo_from(record: Record) -> KeptPhoto:
    """Return the photo that a record holds."""
    photo, size, arrived_at, delivered_by = record
    return KeptPhoto(photo=photo, bytes=size, arrived_at=instant_from(arrived_at), delivered_by=delivered_by)


def refusal_record(row: Refusal) -> Record:
    """Return a refusal in the order of its table's columns."""
    day = None if row.happened_on is None else row.happened_on.isoformat()
    return (row.refusal, row.visit, row.what, day, _why(row.why))


def refusal_from(record: Record) -> Refusal:
    """Return the refusal that a record holds."""
    refusal, visit, what, day, why = record
    told = message_from_json(json.loads(why))
    if told is None:  # the table's column is NOT NULL, and null is never written
        raise ValueError(f"Expected a reason at refusal {refusal!r}, got none.")
    happened_on = None if day is None else date.fromisoformat(day)
    return Refusal(refusal=refusal, visit=visit, what=what, happened_on=happened_on, why=told)
