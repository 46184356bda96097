"""Lines that reached the desk: which count, which a person has to decide on, what they fold to."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from hashlib import sha256
from typing import Any

from broodsweep.desk.access import Device
from broodsweep.desk.field_ports import COUNTING, KeptLine, LineState
from broodsweep.desk.ports import Store
from broodsweep.fieldbook import (
    Line,
    LineError,
    VisitNow,
    content_of,
    envelope_of,
    fold_visit,
    read_line,
)
from broodsweep.words import Message, say

_ASIDE = "~"  # joins a line's name and a digest where the name alone cannot be the key


@dataclass(frozen=True, kw_only=True)
class Arrived:
    """What became of a line that was handed in."""

    line: str
    is_new: bool
    kept: KeptLine


def sort_in(
    device: Device, values: Iterable[object], there: Mapping[str, KeptLine], at: datetime
) -> tuple[Arrived, ...]:
    """Return what becomes of lines that a phone hands in, in their order.

    Parameters
    ----------
    device
        The phone.
    values
        The lines as parsed JSON.
    there
        Lines that are here, by key: those of the names handed in, with whatever stands beside them.
    at
        Now.
    """
    known, found = dict(there), list[Arrived]()
    for value in values:
        row = _row(device, value, at)
        name = row.line or ""
        beside = replace(row, key=f"{name}{_ASIDE}{_digest(row.content)}")
        same = (known[key] for key in (row.key, beside.key) if key in known)
        before = next((kept for kept in same if kept.content == row.content), None)
        if before is None and row.why is not None:
            row = beside
        elif before is None and row.key in known:
            row = replace(beside, state=LineState.SET_ASIDE, why=say("fieldbook.name_used", line=name))
        if before is None:
            known[row.key] = row
        found.append(Arrived(line=name, is_new=before is None, kept=before or row))
    return tuple(found)


def names_in(values: Iterable[object]) -> tuple[str, ...]:
    """Return the names that lines handed in give themselves."""
    names = (value.get("line") for value in values if isinstance(value, dict))
    return tuple(name for name in names if isinstance(name, str))


def _row(device: Device, value: object, at: datetime) -> KeptLine:
    line, why = None, None
    try:
        line = read_line(value)
    except LineError as err:
        why = err.message
        line = envelope_of(value)
    if why is None and line is not None and line.device != device.device:
        why = say("fieldbook.other_phone")
    if why is None and device.revoked_at is not None:
        why = say("fieldbook.phone_revoked")
    content = _content(value)
    name = value.get("line") if isinstance(value, dict) else None
    row = KeptLine(
        key=line.line if line else "",
        content=content,
        delivered_by=device.device,
        who=device.inspector or device.who,
        arrived_at=at,
        state=LineState.KEPT if why is None else LineState.SET_ASIDE,
        why=why,
        line=line.line if line else (name if isinstance(name, str) and name.isprintable() else None),
    )
    if line is None:
        return row
    kind = str(value["kind"]) if isinstance(value, dict) else line.kind
    return replace(
        row, device=line.device, number=line.number, visit=line.visit, apiary=line.apiary, kind=kind
    )


def _content(value: object) -> str:
    try:
        return content_of(value)
    except LineError:  # a number or letter that JSON cannot carry: kept in the spelling that can
        return json.dumps(value, ensure_ascii=True, sort_keys=True, default=str)


def _digest(content: str) -> str:
    return sha256(content.encode("utf-8")).hexdigest()[:32]


def counted(rows: Iterable[KeptLine]) -> tuple[Line, ...]:
    """Return the lines that count; one that cannot be read counts for the signature's number only."""
    found: dict[str, Line] = {}
    unread: dict[str, Line] = {}
    for row in sorted(rows, key=lambda row: row.key):
        value = json.loads(row.content)
        try:
            line = read_line(value)
        except LineError:
            envelope = envelope_of(value)
            if envelope is not None and envelope.device == row.delivered_by:
                unread[envelope.line] = envelope
            continue
        if row.state in COUNTING:
            found[line.line] = line
    return (*found.values(), *(line for name, line in unread.items() if name not in found))


@dataclass(frozen=True, kw_only=True)
class Folded:
    """A visit as it stands, with who made it and the lines it came from; ``last_at`` is when the newest arrived."""

    now: VisitNow
    who: str | None
    rows: tuple[KeptLine, ...]

    @property
    def last_at(self) -> datetime:
        """Instant at which the newest line arrived."""
        return max(row.arrived_at for row in self.rows)


def fold_rows(rows: Iterable[KeptLine]) -> dict[str, Folded]:
    """Return the visits that kept lines add up to, by name; a visit of which no line counts is left out."""
    by_visit: dict[str, list[KeptLine]] = {}
    for row in rows:
        if row.visit is not None:
            by_visit.setdefault(row.visit, []).append(row)
    found = {}
    for visit, mine in sorted(by_visit.items()):
        lines = [line for line in counted(mine) if line.visit == visit]
        if not lines:
            continue
        now = fold_visit(visit, lines)
        carried = [
            row for row in sorted(mine, key=_order) if row.device == now.device and row.state in COUNTING
        ]
        who = carried[0].who if carried else None
        found[visit] = Folded(now=now, who=who, rows=tuple(sorted(mine, key=_order)))
    return found


def _order(row: KeptLine) -> tuple[int, str]:
    return (row.number or 0, row.key)


def folded_visits(store: Store, visits: Iterable[str], fresh: Iterable[KeptLine] = ()) -> dict[str, Folded]:
    """Return visits as they stand, with lines that are about to be kept among theirs."""
    wanted = frozenset(visits)
    rows = {row.key: row for row in store.lines(visits=wanted)}
    rows |= {row.key: row for row in fresh if row.visit in wanted}
    return fold_rows(rows.values())


def told_of(row: KeptLine) -> Mapping[str, Any]:
    """Return the body that a kept line has, empty where it cannot be read."""
    value = json.loads(row.content)
    body = value.get("body") if isinstance(value, dict) else None
    return body if isinstance(body, dict) else {}


def state_said(state: LineState) -> Message:
    """Return what the desk makes of a line, in words."""
    return say(f"fieldbook.state_{state}")


def is_readable(row: KeptLine) -> bool:
    """Say whether a line has the form of its kind, so that it could count."""
    try:
        read_line(json.loads(row.content))
    except LineError:
        return False
    return True
