"""Hidden infection of an outbreak: the run behind the desk, its answer, the all-clear, rehearsed strategies."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query

from broodsweep.desk.allclear import all_clear
from broodsweep.desk.hidden_rehearsals import Asked
from broodsweep.desk.hidden_standing import Standing
from broodsweep.errors import NotFoundError, RefusedError
from broodsweep.outbreak import Outbreak
from broodsweep.spread.rehearsal import Strategy
from broodsweep.web.context import ERRORS, Context, Here, Locale, OnDay
from broodsweep.web.hiding import HiddenShaper, ranked
from broodsweep.web.shapes.hidden import (
    AllClearShape,
    HiddenLineShape,
    HiddenShape,
    RehearsalShape,
    RehearseAsked,
    RunShape,
)

router = APIRouter(prefix="/api/outbreaks/{outbreak}", responses=ERRORS, tags=["hidden"])
USUAL_LINES, MOST_LINES = 40, 5000


@router.get("/hidden")
def hidden_infection(
    outbreak: str,
    here: Here,
    on: OnDay,
    locale: Locale,
    most: Annotated[int, Query(ge=0, le=MOST_LINES, description="Apiaries told with reasons.")] = USUAL_LINES,
) -> HiddenShape:
    """Say who may be infected and not yet found, as far as a run has been made; after a visit re-weighted at once."""
    row = here.desk.snapshot().outbreak(outbreak)
    standing = here.hidden.standing(row.disease, on)
    return HiddenShaper(here.desk, locale).hidden(row, on, standing, most)


@router.get("/hidden/run")
def hidden_run(outbreak: str, here: Here, on: OnDay, locale: Locale) -> RunShape:
    """Say how far the run is; asked again and again while one is under way."""
    row = here.desk.snapshot().outbreak(outbreak)
    return HiddenShaper(here.desk, locale).run(here.hidden.standing(row.disease, on))


@router.post("/hidden/run", status_code=202)
def begin_hidden_run(outbreak: str, here: Here, on: OnDay, locale: Locale) -> RunShape:
    """Begin a run unless one of the present record is there or under way."""
    row = here.desk.snapshot().outbreak(outbreak)
    return HiddenShaper(here.desk, locale).run(here.hidden.start(row.disease, on))


@router.delete("/hidden/run")
def cancel_hidden_run(outbreak: str, here: Here, on: OnDay, locale: Locale) -> RunShape:
    """Stop the run that is under way; the figures that were there stay."""
    row = here.desk.snapshot().outbreak(outbreak)
    return HiddenShaper(here.desk, locale).run(here.hidden.cancel(row.disease, on))


@router.get("/hidden/apiaries/{apiary:path}")
def hidden_apiary(outbreak: str, apiary: str, here: Here, on: OnDay, locale: Locale) -> HiddenLineShape:
    """Give one apiary's figure with its reasons."""
    _, standing = _standing(here, outbreak, on)
    assert standing.found is not None
    for rank, row in enumerate(ranked(standing.found.answer), start=1):
        if row.apiary == apiary:
            return HiddenShaper(here.desk, locale).line(rank, row)
    raise NotFoundError("hidden.no_figure", apiary=apiary)


@router.get("/allclear")
def all_clear_evidence(outbreak: str, here: Here, on: OnDay, locale: Locale) -> AllClearShape:
    """Give the three figures of the stop rule, the legal conditions, what binds and which visits would help."""
    from broodsweep.spread import worth

    row, standing = _standing(here, outbreak, on)
    assert standing.found is not None
    sheet = all_clear(here.desk, row.disease, on, standing.found)
    weight = standing.update.weight if standing.update else None
    worthy = worth(standing.found, weight=weight)
    return HiddenShaper(here.desk, locale).all_clear(sheet, worthy, is_trusted=standing.is_trusted)


@router.get("/rehearsal")
def look_at_rehearsal(outbreak: str, here: Here, on: OnDay, locale: Locale) -> RehearsalShape:
    """Say how far the rehearsal is and what came of each strategy."""
    row = here.desk.snapshot().outbreak(outbreak)
    return HiddenShaper(here.desk, locale).rehearsal(here.rehearsals.look(row.disease, on))


@router.post("/rehearsal", status_code=202)
def begin_rehearsal(
    outbreak: str, asked: RehearseAsked, here: Here, on: OnDay, locale: Locale
) -> RehearsalShape:
    """Rehearse strategies over futures drawn from the newest run."""
    row = here.desk.snapshot().outbreak(outbreak)
    wanted = Asked(
        strategies=tuple(Strategy(**one.model_dump()) for one in asked.strategies),
        days=asked.days,
        futures=asked.futures,
    )
    return HiddenShaper(here.desk, locale).rehearsal(here.rehearsals.start(row.disease, on, wanted))


@router.delete("/rehearsal")
def cancel_rehearsal(outbreak: str, here: Here, on: OnDay, locale: Locale) -> RehearsalShape:
    """Stop the rehearsal that is under way."""
    row = here.desk.snapshot().outbreak(outbreak)
    return HiddenShaper(here.desk, locale).rehearsal(here.rehearsals.cancel(row.disease, on))


def _standing(here: Context, outbreak: str, on: OnDay) -> tuple[Outbreak, Standing]:
    row = here.desk.snapshot().outbreak(outbreak)
    standing = here.hidden.standing(row.disease, on)
    if standing.found is None:
        raise RefusedError("hidden.no_run_yet")
    return row, standing
