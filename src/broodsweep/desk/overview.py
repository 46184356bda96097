"""Today: what is overdue, what is due within the week, what was found and not yet acted on."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta

from broodsweep.constants import Disease
from broodsweep.desk.answers import Finding, Today
from broodsweep.desk.context import Desk
from broodsweep.desk.outbreaks import list_outbreaks
from broodsweep.desk.rules import book_of
from broodsweep.desk.snapshot import Snapshot
from broodsweep.outbreak import Case, Due, Forbidden, due, forbidden, is_open, summarise
from broodsweep.register import Visit

KIT_NOTICE = timedelta(days=60)
"""How long before its date a lot of test kits is shown (project choice)."""
QUICKLY_COMPARED = 5_000
"""Apiaries up to which the likely duplicates are counted for this page (project choice: 0.2 s; 60,000 take 2 s)."""
FINDINGS_SINCE = timedelta(days=365)
"""How far back a finding without an outbreak is shown (project choice: one season)."""


def today(desk: Desk, on: date) -> Today:
    """Return what wants doing on a day."""
    kept = desk.snapshot()
    pressing = summarise(dues_of(desk, on), on)
    return Today(
        on=on,
        overdue=pressing.overdue,
        at_once=pressing.at_once,
        due_this_week=pressing.this_week,
        findings=findings(kept, on),
        outbreaks=list_outbreaks(desk, on),
        lots=tuple(row for row in kept.ground.lots if row.count != 0 and row.expires_on <= on + KIT_NOTICE),
        apiaries=len(kept.ground.apiaries),
        keepers=len(kept.ground.keepers),
        likely_duplicates=len(kept.duplicates) if len(kept.ground.apiaries) <= QUICKLY_COMPARED else None,
    )


def dues_of(desk: Desk, on: date) -> tuple[Due, ...]:
    """Return everything that is due in every outbreak, the most pressing of each first."""
    every = desk.snapshot().outbreaks
    return tuple(row for outbreak in every for row in due(outbreak, book_of(desk, outbreak), on))


def forbidden_of(desk: Desk, on: date) -> tuple[Forbidden, ...]:
    """Return everything that is forbidden on a day, outbreak by outbreak."""
    every = desk.snapshot().outbreaks
    return tuple(row for outbreak in every for row in forbidden(outbreak, book_of(desk, outbreak), on))


def findings(kept: Snapshot, on: date) -> tuple[Finding, ...]:
    """Return the visits that saw signs and that no outbreak holds, the newest first."""
    cases: dict[tuple[str, Disease | None], list[Case]] = defaultdict(list)
    for row in kept.outbreaks:
        for case in row.cases:
            cases[case.apiary, row.disease].append(case)
    found = [
        Finding(visit=visit, keeper_name=kept.keeper_name(kept.apiary(visit.apiary)), outbreak=None)
        for visit in kept.ground.visits
        if visit.saw_signs
        and on - FINDINGS_SINCE <= visit.visited_on <= on
        and not any(_holds(case, visit, on) for case in cases.get((visit.apiary, visit.disease), ()))
    ]
    return tuple(sorted(found, key=lambda row: row.visit.visited_on, reverse=True))


def _holds(case: Case, visit: Visit, on: date) -> bool:
    """Say whether a finding belongs to a case: it is open, or what happened to it last is not older."""
    return is_open(case, on) or any(event.happened_on >= visit.visited_on for event in case.events)
