"""The tables with what the outbreaks know beside them: a case confirmed by a laboratory has no visit of its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

from broodsweep.constants import Clearance, Disease
from broodsweep.desk.snapshot import Snapshot
from broodsweep.outbreak import Case, EventKind, Outbreak, effective_events, progress_of
from broodsweep.register import Ground, Removal, Visit

SAME_FINDING_DAYS = 30
"""A visit or removal so near to the step of a case is the same thing in two places: project choice."""
_BY_REPORT = "report"


def ground_with_cases(kept: Snapshot, disease: Disease, on: date) -> Ground:
    """Return the tables, with a visit or removal for each confirmed or cleared case that has none of its own.

    Parameters
    ----------
    kept
        The record.
    disease, on
        Which cases, and as they stood on which day.
    """
    visits: list[Visit] = []
    removals: list[Removal] = []
    for outbreak in kept.outbreaks:
        if outbreak.disease is not disease:
            continue
        for case in outbreak.cases:
            visits += _missing_visit(kept, outbreak, case, on)
            removals += _missing_removal(kept, outbreak, case, on)
    ground = kept.ground
    if not visits and not removals:
        return ground
    return replace(ground, visits=(*ground.visits, *visits), removals=(*ground.removals, *removals))


def has_finding(ground: Ground, disease: Disease, on: date) -> bool:
    """Say whether the disease was confirmed anywhere up to a day: without it there is nothing to reckon from."""
    by_visit = any(
        row.colonies_confirmed and row.disease in (None, disease) and row.visited_on <= on
        for row in ground.visits
    )
    return by_visit or any(row.disease is disease and row.removed_on <= on for row in ground.removals)


def _missing_visit(kept: Snapshot, outbreak: Outbreak, case: Case, on: date) -> Iterator[Visit]:
    progress = progress_of(case, on)
    confirmed_on = progress.confirmed_on
    if confirmed_on is None or case.apiary not in kept.apiaries:
        return
    days = {day for day in (confirmed_on, progress.found_on, progress.held_since) if day is not None}
    if any(
        visit.colonies_confirmed
        and visit.disease in (None, outbreak.disease)
        and any(_is_near(visit.visited_on, day) for day in days)
        for visit in kept.visits.get(case.apiary, ())
    ):
        return
    found_on = min(progress.found_on or confirmed_on, confirmed_on)
    yield Visit(
        visit=f"case|{outbreak.outbreak}|{case.apiary}",
        apiary=case.apiary,
        visited_on=found_on,
        colonies_inspected=max(1, kept.apiaries[case.apiary].colonies),
        colonies_confirmed=1,
        disease=outbreak.disease,
        purpose=_BY_REPORT,
    )


def _missing_removal(kept: Snapshot, outbreak: Outbreak, case: Case, on: date) -> Iterator[Removal]:
    progress = progress_of(case, on)
    if progress.cleared_on is None or case.apiary not in kept.apiaries:
        return
    for row in kept.removals.get(case.apiary, ()):
        if row.disease is outbreak.disease and _is_near(row.removed_on, progress.cleared_on):
            return
    yield Removal(
        apiary=case.apiary,
        removed_on=progress.cleared_on,
        disease=outbreak.disease,
        colonies=1,
        how=_how(case, progress.cleared_by, progress.cleared_on),
    )


def _how(case: Case, kind: EventKind | None, cleared_on: date) -> Clearance:
    if kind is EventKind.COLONIES_DESTROYED:
        return Clearance.DESTROYED
    said = [
        row.detail.get("how")
        for row in effective_events(case)
        if row.kind is kind and row.happened_on == cleared_on
    ]
    return Clearance.SHOOK_SWARM if Clearance.SHOOK_SWARM in said else Clearance.TREATED


def _is_near(one: date, other: date) -> bool:
    return abs(one - other) <= timedelta(days=SAME_FINDING_DAYS)
