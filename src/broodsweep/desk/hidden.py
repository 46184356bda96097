"""Hidden infection: who else is infected and not yet seen, from where, as the desk asks it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.coverage import coverage_of
from broodsweep.desk.known_cases import ground_with_cases
from broodsweep.desk.ports import Progress
from broodsweep.outbreak import EventKind, progress_of
from broodsweep.spread import Settings, hidden

if TYPE_CHECKING:
    from broodsweep.spread.engine import Hidden

SEED = 1
"""Seed of a run unless another is asked for: the same record gives the same answer."""


def look_for_hidden(
    desk: Desk,
    disease: Disease,
    on: date,
    *,
    seed: int = SEED,
    settings: Settings | None = None,
    progress: Progress | None = None,
) -> Hidden:
    """Return who may be infected on a day and not yet found.

    The standstills come from the outbreaks, the completeness of the register from finished sweeps.

    Parameters
    ----------
    desk
        The desk.
    disease, on
        What is asked.
    seed
        Same seed, same answer.
    settings
        How the run is made; standstill days and, unless given, the coverage are put in here.
    progress
        Called with the share done; raising from it stops the run.
    """
    plain = settings or Settings()
    held = {**standstills(desk, disease, on), **plain.standstill_on}
    return hidden(
        ground_with_cases(desk.snapshot(), disease, on),
        disease,
        on,
        seed=seed,
        settings=replace(plain, standstill_on=held, coverage=plain.coverage or coverage_of(desk, on)),
        progress=progress,
    )


def standstills(desk: Desk, disease: Disease, on: date) -> dict[str, date]:
    """Return since when each case has stood still: the day of the notice, or of the suspicion that held it before."""
    found: dict[str, date] = {}
    for outbreak in desk.snapshot().outbreaks:
        if outbreak.disease != disease:
            continue
        for case in outbreak.cases:
            progress = progress_of(case, on)
            since = progress.held_since or progress.done.get(EventKind.NOTICE_SERVED)
            if since is not None:
                found[case.apiary] = since
    return found
