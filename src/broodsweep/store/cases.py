"""Outbreaks as records: one of the outbreak, one of each case, one of each event; and back."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date

from broodsweep.constants import Disease
from broodsweep.desk.ports import EventKeptError
from broodsweep.outbreak import Case, Event, EventKind, Outbreak
from broodsweep.store.canonical import canonical, instant_from, instant_text
from broodsweep.store.records import Record

Records = dict[str, Record]
_CASE_KEY, _POSITION = 1, 2


def case_key(outbreak: str, apiary: str) -> str:
    """Return the key of a case: both names as JSON, so that no two cases share one."""
    return canonical([outbreak, apiary])


def outbreak_record(outbreak: Outbreak) -> Record:
    """Return the record of the outbreak itself."""
    return (
        outbreak.outbreak,
        outbreak.disease.value,
        outbreak.rulebook,
        outbreak.opened_on.isoformat(),
        None if outbreak.closed_on is None else outbreak.closed_on.isoformat(),
    )


def case_records(outbreak: Outbreak, events: Mapping[str, Record]) -> Records:
    """Return the records of the cases; the order of the events is written only when it is not the usual one.

    Raises
    ------
    ValueError
        If an apiary has two cases in the outbreak.
    """
    found: Records = {}
    for position, case in enumerate(outbreak.cases):
        key = case_key(outbreak.outbreak, case.apiary)
        if key in found:
            raise ValueError(f"Expected one case an apiary, got two for {case.apiary!r}.")
        names = [event.event for event in case.events]
        usual = sorted(names, key=lambda name: events[name][_POSITION])
        found[key] = (
            key,
            outbreak.outbreak,
            case.apiary,
            position,
            None if names == usual else canonical(names),
        )
    return found


def event_records(outbreak: Outbreak, kept: Mapping[str, Record]) -> Records:
    """Return the records of all events, those on record with the position that they have.

    Parameters
    ----------
    outbreak
        The outbreak as it shall be.
    kept
        Events on record, of this outbreak or with a name that is used here.

    Raises
    ------
    EventKeptError
        If an event on record differs, is missing or belongs to another case.
    ValueError
        If two events share a name, or an event names another apiary than its case.
    """
    found: Records = {}
    for case in outbreak.cases:
        key = case_key(outbreak.outbreak, case.apiary)
        taken = [record[_POSITION] for record in kept.values() if record[_CASE_KEY] == key]
        following = max(taken, default=-1) + 1
        for event in case.events:
            if event.event in found:
                raise ValueError(f"Expected each event once, got {event.event!r} twice.")
            if event.apiary != case.apiary:
                raise ValueError(f"Expected events of {case.apiary!r}, got one of {event.apiary!r}.")
            before = kept.get(event.event)
            position = following if before is None else before[_POSITION]
            following += before is None
            record = _event_record(event, key, position)
            if before is not None and before != record:
                raise EventKeptError("store.event_changed", event=event.event, apiary=event.apiary)
            found[event.event] = record
    dropped = sorted(kept.keys() - found.keys())
    if dropped:
        raise EventKeptError("store.event_dropped", event=dropped[0], outbreak=outbreak.outbreak)
    return found


def _event_record(event: Event, key: str, position: int) -> Record:
    return (
        event.event,
        key,
        position,
        event.kind.value,
        event.happened_on.isoformat(),
        instant_text(event.recorded_at),
        event.who,
        event.evidence,
        canonical(dict(event.detail)),
    )


def outbreaks_from(
    outbreaks: Iterable[Record], cases: Iterable[Record], events: Iterable[Record]
) -> tuple[Outbreak, ...]:
    """Return the outbreaks in order of name; cases and events in the order in which they were given."""
    by_case: dict[str, list[Record]] = defaultdict(list)
    for record in events:
        by_case[record[_CASE_KEY]].append(record)
    by_outbreak: dict[str, list[Record]] = defaultdict(list)
    for record in cases:
        by_outbreak[record[1]].append(record)
    return tuple(
        Outbreak(
            outbreak=name,
            disease=Disease(disease),
            rulebook=rulebook,
            opened_on=date.fromisoformat(opened_on),
            closed_on=None if closed_on is None else date.fromisoformat(closed_on),
            cases=tuple(
                _case(record, by_case[record[0]]) for record in sorted(by_outbreak[name], key=lambda r: r[3])
            ),
        )
        for name, disease, rulebook, opened_on, closed_on in sorted(outbreaks)
    )


def _case(record: Record, events: list[Record]) -> Case:
    _, _, apiary, _, order = record
    by_name = {event[0]: event for event in sorted(events, key=lambda event: event[_POSITION])}
    names = list(by_name) if order is None else json.loads(order)
    return Case(apiary=apiary, events=tuple(_event(by_name[name], apiary) for name in names))


def _event(record: Record, apiary: str) -> Event:
    name, _, _, kind, happened_on, recorded_at, who, evidence, detail = record
    return Event(
        event=name,
        apiary=apiary,
        kind=EventKind(kind),
        happened_on=date.fromisoformat(happened_on),
        recorded_at=instant_from(recorded_at),
        who=who,
        evidence=evidence,
        detail=json.loads(detail),
    )
