"""From visits and removals to lives: one from the start to each clearance, then the next at the same place."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from broodsweep.constants import Clearance, Disease
from broodsweep.register import Ground, Removal, Visit
from broodsweep.spread import constants

_REPORTS = frozenset({"report", "reported", "suspicion", "call", "keeper", "notification"})
_ONE_CLEARANCE_DAYS = 30
"""Removals so close together, with no finding between, are one clearance: project choice."""


@dataclass(frozen=True, kw_only=True)
class Finding:
    """How and when a life was found infected."""

    found_on: date
    by_report: bool
    opened: int
    present: int


@dataclass(frozen=True, kw_only=True)
class Life:
    """An apiary from ``since`` (None: from before the horizon) until it was cleared (None: it stands).

    ``residual`` is the clearance before it, after which infection may be left.
    """

    apiary: str
    since: date | None
    finding: Finding | None
    cleared_on: date | None
    visits: tuple[Visit, ...]
    residual: Clearance | None


def is_finding(visit: Visit, disease: Disease) -> bool:
    """Say whether a visit confirmed the disease; one that does not name the disease counts for the one asked for."""
    return visit.colonies_confirmed > 0 and visit.disease in (None, disease)


def lives_of(ground: Ground, disease: Disease, on: date) -> dict[str, tuple[Life, ...]]:
    """Return the lives of every apiary that was found or cleared or visited, in order; others have one plain life."""
    visits: dict[str, list[Visit]] = defaultdict(list)
    removals: dict[str, list[Removal]] = defaultdict(list)
    for visit in sorted(ground.visits, key=lambda row: (row.visited_on, row.visit)):
        if visit.visited_on <= on:
            visits[visit.apiary].append(visit)
    for removal in sorted(ground.removals, key=lambda row: row.removed_on):
        if removal.removed_on <= on and removal.disease is disease:
            removals[removal.apiary].append(removal)
    first = _first_finding(visits, disease)
    return {
        apiary: tuple(_lives(apiary, visits[apiary], removals[apiary], disease, first))
        for apiary in {*visits, *removals}
    }


def _first_finding(visits: dict[str, list[Visit]], disease: Disease) -> str | None:
    found = [row for rows in visits.values() for row in rows if is_finding(row, disease)]
    return min(found, key=lambda row: (row.visited_on, row.visit)).visit if found else None


def _lives(
    apiary: str, visits: list[Visit], removals: list[Removal], disease: Disease, first: str | None
) -> list[Life]:
    lives: list[Life] = []
    since: date | None = None
    residual: Clearance | None = None
    left = list(visits)
    while True:
        found = next((row for row in left if is_finding(row, disease)), None)
        clearance = _next_clearance(removals, since, left, disease)
        if found is None and clearance is None:
            lives.append(
                Life(
                    apiary=apiary,
                    since=since,
                    finding=None,
                    cleared_on=None,
                    visits=tuple(left),
                    residual=residual,
                )
            )
            return lives
        if found is not None and (clearance is None or found.visited_on <= clearance.removed_on):
            finding = _finding(found, first)
        else:
            assert clearance is not None
            finding = Finding(
                found_on=clearance.removed_on,
                by_report=False,
                opened=clearance.colonies or 1,
                present=clearance.colonies or 1,
            )
        before = tuple(row for row in left if row.visited_on < finding.found_on)
        cleared_on = clearance.removed_on if clearance else None
        lives.append(
            Life(
                apiary=apiary,
                since=since,
                finding=finding,
                cleared_on=cleared_on,
                visits=before,
                residual=residual,
            )
        )
        if clearance is None:
            return lives
        since, residual = clearance.removed_on, clearance.how
        left = [row for row in left if row.visited_on > clearance.removed_on]


def _next_clearance(
    removals: list[Removal], since: date | None, visits: list[Visit], disease: Disease
) -> Removal | None:
    """Return the last removal of the next clearance: removals follow each other closely with no finding between."""
    ahead = [row for row in removals if since is None or row.removed_on > since]
    if not ahead:
        return None
    last = ahead[0]
    for row in ahead[1:]:
        found_between = any(
            is_finding(visit, disease) and last.removed_on < visit.visited_on <= row.removed_on
            for visit in visits
        )
        if found_between or (row.removed_on - last.removed_on).days > _ONE_CLEARANCE_DAYS:
            break
        last = row
    return last


def _finding(visit: Visit, first: str | None) -> Finding:
    purpose = (visit.purpose or "").strip().lower()
    by_report = purpose in _REPORTS if purpose else visit.visit == first
    present = visit.colonies_present or visit.colonies_inspected or 1
    return Finding(
        found_on=visit.visited_on,
        by_report=by_report,
        opened=min(max(visit.colonies_inspected, 1), present),
        present=present,
    )


def residual_of(how: Clearance | None) -> float:
    """Return the chance that infection was left by a clearance."""
    return 0.0 if how is None else constants.RESIDUAL[how].value
