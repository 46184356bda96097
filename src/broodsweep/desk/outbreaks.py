"""Open an outbreak on a finding, record what happens to its cases, see where it stands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any
from uuid import UUID, uuid5

from broodsweep.constants import Disease
from broodsweep.desk.answers import CaseSheet, OutbreakLine, OutbreakSheet
from broodsweep.desk.context import Desk
from broodsweep.desk.ports import Author
from broodsweep.desk.rules import book_of, default_book
from broodsweep.desk.snapshot import Snapshot, case_of
from broodsweep.errors import RefusedError
from broodsweep.outbreak import (
    Case,
    Due,
    DueState,
    Event,
    EventKind,
    Outbreak,
    add_event,
    allowed_steps,
    due,
    forbidden,
    is_open,
    state_of,
    state_since,
)
from broodsweep.outbreak import close_outbreak as end_outbreak
from broodsweep.rulebook import Rulebook
from broodsweep.words import say

EVENT_NAMES = UUID("6f0d0c0e-5a0e-5d43-9a2b-0a3f5f1d7b11")
"""Namespace of the names of events: the same step of the same case recorded at the same instant has one name."""

OPENING_STEPS = (EventKind.SUSPECTED, EventKind.CONFIRMED)


def line_of(desk: Desk, outbreak: Outbreak, on: date) -> OutbreakLine:
    """Return the outbreak as it stands in a list."""
    dues = due(outbreak, book_of(desk, outbreak), on)
    return OutbreakLine(
        outbreak=outbreak.outbreak,
        disease=outbreak.disease,
        rulebook=outbreak.rulebook,
        opened_on=outbreak.opened_on,
        closed_on=outbreak.closed_on,
        cases=len(outbreak.cases),
        cases_by_state=dict(Counter(state_of(case, on) for case in outbreak.cases)),
        overdue=sum(row.state == DueState.OVERDUE for row in dues),
    )


def list_outbreaks(desk: Desk, on: date) -> tuple[OutbreakLine, ...]:
    """Return every outbreak, the open ones first, the newest first."""
    lines = [line_of(desk, row, on) for row in desk.snapshot().outbreaks]
    return tuple(
        sorted(lines, key=lambda row: (row.closed_on is not None, -row.opened_on.toordinal(), row.outbreak))
    )


def outbreak_sheet(desk: Desk, name: str, on: date) -> OutbreakSheet:
    """Return one outbreak with its cases, due dates and what is forbidden.

    Raises
    ------
    NotFoundError
        If there is no such outbreak.
    """
    kept = desk.snapshot()
    outbreak = kept.outbreak(name)
    book = book_of(desk, outbreak)
    dues = due(outbreak, book, on)
    return OutbreakSheet(
        line=line_of(desk, outbreak, on),
        on=on,
        radii_m=book.ring_radii_m(outbreak.disease, on),
        cases=tuple(
            _case_sheet(
                kept, outbreak, case, book, on, tuple(row for row in dues if row.apiary == case.apiary)
            )
            for case in outbreak.cases
        ),
        due=dues,
        forbidden=forbidden(outbreak, book, on),
        cautions=book.cautions(outbreak.disease, on),
        rulebook_title=book.title,
        locally_changed=book.locally_changed,
    )


def _case_sheet(
    kept: Snapshot, outbreak: Outbreak, case: Case, book: Rulebook, on: date, dues: tuple[Due, ...]
) -> CaseSheet:
    apiary = kept.apiary(case.apiary)
    return CaseSheet(
        apiary=apiary,
        keeper=kept.keepers.get(apiary.keeper or ""),
        state=state_of(case, on),
        since=state_since(case, on),
        events=tuple(event for event in case.events if event.happened_on <= on),
        allowed=allowed_steps(case, book, outbreak.disease, on),
        due=dues,
    )


def open_outbreak(
    desk: Desk,
    author: Author,
    *,
    disease: Disease,
    apiary: str,
    found_on: date,
    kind: EventKind,
    evidence: str | None = None,
    rulebook: str | None = None,
    detail: Mapping[str, Any] | None = None,
) -> Outbreak:
    """Open an outbreak on a finding and return it.

    Raises
    ------
    NotFoundError
        If the apiary or the rulebook is not known.
    RefusedError
        If the apiary has an open case of this disease already, or the finding lies in the future.
    """
    kept = desk.snapshot()
    kept.apiary(apiary)
    _refuse_second_case(kept, disease, apiary)
    empty = Outbreak(
        outbreak=_next_name(kept, disease, found_on),
        disease=disease,
        rulebook=rulebook or default_book(desk),
        opened_on=found_on,
        cases=(Case(apiary=apiary),),
    )
    opened = _with_event(desk, author, empty, apiary, _opening(kind), found_on, evidence, detail)
    with desk.store.work(author, "open_outbreak") as work:
        work.save_outbreak(opened)
    return opened


def add_case(
    desk: Desk,
    author: Author,
    name: str,
    *,
    apiary: str,
    found_on: date,
    kind: EventKind,
    evidence: str | None = None,
    detail: Mapping[str, Any] | None = None,
    disease: Disease | None = None,
) -> Outbreak:
    """Add another apiary with the disease to an outbreak and return the outbreak.

    ``disease`` is what was found there, when that is said: it must be the outbreak's.

    Raises
    ------
    NotFoundError
        If the outbreak or the apiary is not known.
    RefusedError
        If the apiary has an open case of this disease already, the finding lies in the future, or the outbreak
        is of another disease.
    """
    kept = desk.snapshot()
    outbreak = kept.outbreak(name)
    if disease is not None and disease != outbreak.disease:
        known, found = (say(f"disease.{row}") for row in (outbreak.disease, disease))
        raise RefusedError("desk.other_disease", outbreak=name, known=known, disease=found)
    kept.apiary(apiary)
    _refuse_second_case(kept, outbreak.disease, apiary)
    if any(case.apiary == apiary for case in outbreak.cases):
        raise RefusedError("desk.case_to_reopen", outbreak=name, apiary=apiary)
    wider = replace(outbreak, cases=(*outbreak.cases, Case(apiary=apiary)), closed_on=None)
    changed = _with_event(desk, author, wider, apiary, _opening(kind), found_on, evidence, detail)
    with desk.store.work(author, "add_case") as work:
        work.save_outbreak(changed)
    return changed


def record_event(
    desk: Desk,
    author: Author,
    name: str,
    apiary: str,
    *,
    kind: EventKind,
    happened_on: date,
    evidence: str | None = None,
    detail: Mapping[str, Any] | None = None,
) -> Outbreak:
    """Write down a step of a case (a measure done, a result, a re-inspection) and return the outbreak.

    Raises
    ------
    NotFoundError
        If the outbreak or the case is not known.
    RefusedError
        If the step is not possible now; the reason says what would be.
    """
    outbreak = desk.snapshot().outbreak(name)
    case_of(outbreak, apiary)
    changed = _with_event(desk, author, outbreak, apiary, kind, happened_on, evidence, detail)
    with desk.store.work(author, "record_event") as work:
        work.save_outbreak(changed)
    return changed


def close_outbreak(desk: Desk, author: Author, name: str, on: date) -> Outbreak:
    """Close an outbreak when each of its cases is released or not confirmed.

    Raises
    ------
    RefusedError
        If a case is still open, or the outbreak is closed already.
    """
    closed = end_outbreak(desk.snapshot().outbreak(name), on)
    with desk.store.work(author, "close_outbreak") as work:
        work.save_outbreak(closed)
    return closed


def _opening(kind: EventKind) -> EventKind:
    if kind not in OPENING_STEPS:
        raise ValueError(f"Expected suspected or confirmed, got {kind!r}.")
    return kind


def _with_event(
    desk: Desk,
    author: Author,
    outbreak: Outbreak,
    apiary: str,
    kind: EventKind,
    happened_on: date,
    evidence: str | None,
    detail: Mapping[str, Any] | None,
) -> Outbreak:
    if happened_on > desk.today():
        raise RefusedError("desk.event_in_future", happened_on=happened_on, today_on=desk.today())
    at = desk.now()
    event = Event(
        event=str(uuid5(EVENT_NAMES, f"{outbreak.outbreak}|{apiary}|{kind}|{happened_on}|{at.isoformat()}")),
        apiary=apiary,
        kind=kind,
        happened_on=happened_on,
        recorded_at=at,
        who=author.who,
        evidence=evidence,
        detail=detail or {},
    )
    return add_event(outbreak, event, book_of(desk, outbreak))


def _refuse_second_case(kept: Snapshot, disease: Disease, apiary: str) -> None:
    for row in kept.outbreaks:
        for case in row.cases:
            if row.disease == disease and case.apiary == apiary and is_open(case):
                raise RefusedError("desk.case_open", outbreak=row.outbreak, apiary=apiary)


def _next_name(kept: Snapshot, disease: Disease, found_on: date) -> str:
    """Number the outbreaks of a disease within the year of the finding: AFB-2026-1, AFB-2026-2, …"""
    prefix = f"{disease}-{found_on.year}-"
    taken = [row.outbreak.removeprefix(prefix) for row in kept.outbreaks if row.outbreak.startswith(prefix)]
    return f"{prefix}{1 + max((int(end) for end in taken if end.isdigit()), default=0)}"
