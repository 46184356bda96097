"""Today: what is overdue, what is due within the week, what was found and not yet acted on."""

from __future__ import annotations

from datetime import date, timedelta

from broodsweep.desk.answers import Finding, Today
from broodsweep.desk.context import Desk
from broodsweep.desk.outbreaks import list_outbreaks
from broodsweep.desk.rules import book_of
from broodsweep.desk.snapshot import Snapshot
from broodsweep.outbreak import Due, Forbidden, due, forbidden, summarise

KIT_NOTICE = timedelta(days=60)
"""How long before its date a lot of test kits is shown (project choice)."""
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
        likely_duplicates=len(kept.duplicates),
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
    held = {(case.apiary, row.disease): row.outbreak for row in kept.outbreaks for case in row.cases}
    found = [
        Finding(
            visit=visit,
            keeper_name=kept.keeper_name(kept.apiaries[visit.apiary])
            if visit.apiary in kept.apiaries
            else None,
            outbreak=held.get((visit.apiary, visit.disease)) if visit.disease else None,
        )
        for visit in kept.ground.visits
        if visit.saw_signs and on - FINDINGS_SINCE <= visit.visited_on <= on
    ]
    return tuple(
        sorted((row for row in found if row.outbreak is None), key=lambda row: row.visit.visited_on)[::-1]
    )
