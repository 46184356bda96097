"""Today, outbreaks, their cases, rings, sweep list and calendar."""

from __future__ import annotations

from datetime import date

from fastapi import APIRouter
from starlette.responses import Response

from broodsweep.desk import outbreaks, overview, sweeping
from broodsweep.desk.access import Reach
from broodsweep.outbreak import EventKind, Outbreak
from broodsweep.web.context import ERRORS, Here, Locale, OnDay
from broodsweep.web.gate import LEADS_ONLY, require_reach
from broodsweep.web.shapes.base import shape
from broodsweep.web.shapes.outbreaks import (
    CaseAsked,
    CloseAsked,
    EventAsked,
    OutbreakAsked,
    OutbreakLineShape,
    OutbreakNameShape,
    OutbreakSheetShape,
    RingLineShape,
    RingsShape,
    SweepShape,
    TodayShape,
)
from broodsweep.web.shaping import Shaper

router = APIRouter(prefix="/api", responses=ERRORS, tags=["outbreaks"])


@router.get("/today")
def today(here: Here, on: OnDay, locale: Locale) -> TodayShape:
    """Say what wants doing: overdue, at once, due this week, findings without an outbreak, kits near their date."""
    return Shaper(here.desk, locale).today(overview.today(here.desk, on))


@router.get("/outbreaks")
def list_outbreaks(here: Here, on: OnDay, locale: Locale) -> list[OutbreakLineShape]:
    """Give every outbreak, the open ones first."""
    return [shape(OutbreakLineShape, row, locale) for row in outbreaks.list_outbreaks(here.desk, on)]


@router.post("/outbreaks", status_code=201)
def open_outbreak(asked: OutbreakAsked, here: Here) -> OutbreakNameShape:
    """Open an outbreak on a finding."""
    opened = outbreaks.open_outbreak(
        here.desk,
        here.author(asked.who),
        disease=asked.disease,
        apiary=asked.apiary,
        found_on=asked.found_on,
        kind=EventKind(asked.kind),
        evidence=asked.evidence,
        rulebook=asked.rulebook,
        detail=asked.detail,
    )
    return _named(opened)


@router.get("/outbreaks/{outbreak}")
def outbreak_sheet(outbreak: str, here: Here, on: OnDay, locale: Locale) -> OutbreakSheetShape:
    """Give one outbreak: its cases, what is due and by which rule, what is forbidden and why."""
    return Shaper(here.desk, locale).outbreak(outbreaks.outbreak_sheet(here.desk, outbreak, on))


@router.post("/outbreaks/{outbreak}/cases", status_code=201)
def add_case(outbreak: str, asked: CaseAsked, here: Here) -> OutbreakNameShape:
    """Add another apiary with the disease."""
    changed = outbreaks.add_case(
        here.desk,
        here.author(asked.who),
        outbreak,
        apiary=asked.apiary,
        found_on=asked.found_on,
        kind=EventKind(asked.kind),
        evidence=asked.evidence,
        detail=asked.detail,
    )
    return _named(changed)


@router.post("/outbreaks/{outbreak}/events", status_code=201)
def record_event(outbreak: str, asked: EventAsked, here: Here) -> OutbreakNameShape:
    """Write down a step of a case; an impossible one is refused with the reason."""
    if asked.kind in LEADS_ONLY:
        require_reach(here.caller, Reach.LEAD)
    changed = outbreaks.record_event(
        here.desk,
        here.author(asked.who),
        outbreak,
        asked.apiary,
        kind=asked.kind,
        happened_on=asked.happened_on,
        evidence=asked.evidence,
        detail=asked.detail,
    )
    return _named(changed)


@router.post("/outbreaks/{outbreak}/close")
def close_outbreak(outbreak: str, asked: CloseAsked, here: Here) -> OutbreakNameShape:
    """Close an outbreak whose cases are all released or not confirmed."""
    return _named(outbreaks.close_outbreak(here.desk, here.author(asked.who), outbreak, asked.closed_on))


@router.get("/outbreaks/{outbreak}/sweep")
def sweep_list(outbreak: str, here: Here, on: OnDay, locale: Locale) -> SweepShape:
    """Give the sweep list in its order, with the reasons for each place in it."""
    return shape(SweepShape, sweeping.sweep_list(here.desk, outbreak, on), locale)


@router.get("/outbreaks/{outbreak}/rings")
def rings(outbreak: str, here: Here, on: OnDay, locale: Locale) -> RingsShape:
    """Say how the apiaries lie to the rings, and give the outlines as GeoJSON."""
    lines = sweeping.rings(here.desk, outbreak, on)
    outlines = sweeping.ring_outlines(here.desk, outbreak, on)
    radii_m = sorted({feature["properties"]["radius_m"] for feature in outlines["features"]})
    return RingsShape(
        outbreak=outbreak,
        radii_m=radii_m,
        apiaries=[shape(RingLineShape, line, locale) for line in lines],
        outlines=outlines,
    )


@router.get("/outbreaks/{outbreak}/calendar.ics", response_class=Response)
def outbreak_calendar(outbreak: str, here: Here, on: OnDay, locale: Locale) -> Response:
    """Give the due dates of one outbreak as an iCalendar file."""
    return _calendar(here, outbreaks.outbreak_sheet(here.desk, outbreak, on).due, locale, outbreak, on)


@router.get("/calendar.ics", response_class=Response)
def calendar(here: Here, on: OnDay, locale: Locale) -> Response:
    """Give the due dates of every outbreak as an iCalendar file."""
    return _calendar(here, overview.dues_of(here.desk, on), locale, "broodsweep", on)


def _calendar(here: Here, lines: object, locale: str, name: str, on: date) -> Response:
    from broodsweep.papers.calendar import calendar_of

    written = calendar_of(lines, stamp_at=here.desk.now(), locale=locale)  # type: ignore[arg-type]
    disposition = f'attachment; filename="{name}-{on.isoformat()}.ics"'
    return Response(written, media_type="text/calendar", headers={"Content-Disposition": disposition})


def _named(outbreak: Outbreak) -> OutbreakNameShape:
    return OutbreakNameShape(outbreak=outbreak.outbreak)
