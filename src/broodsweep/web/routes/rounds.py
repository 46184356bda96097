"""Rounds: plan them, change them, go back, send them."""

from __future__ import annotations

import time
from datetime import date
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import Response

from broodsweep.bootstrap import road_file_in
from broodsweep.desk import round_plans
from broodsweep.desk.context import Desk
from broodsweep.desk.round_ahead import note_ahead
from broodsweep.desk.round_names import contact_lines, inspector_names
from broodsweep.desk.round_plans import KeptPlan, Question
from broodsweep.desk.round_weather import look_at_forecast
from broodsweep.desk.round_worker import Limits, RoundsPlanner
from broodsweep.desk.rounds import TravelSource, time_zone
from broodsweep.errors import NotFoundError
from broodsweep.tables.forecast import read_forecast_text
from broodsweep.web.context import ERRORS, Context, Here, Locale
from broodsweep.web.rounding import RoundsShaper
from broodsweep.web.rounds_noted import NotedShaper, change_of, hours_asked
from broodsweep.web.routes import season
from broodsweep.web.shapes.round_asks import GoBackAsked, PlanAsked, RoundChangeAsked, WeatherAsked
from broodsweep.web.shapes.rounds import RoundProgressShape, RoundsShape, WeatherShape

router = APIRouter(prefix="/api", responses=ERRORS, tags=["rounds"])
router.include_router(season.router)


def rounds_planner(desk: Desk, home: Path) -> RoundsPlanner:
    """Return the planner of an application; drive times come from the road file at hand, else from distances."""

    def travel() -> TravelSource:
        from broodsweep.rounds.travel import travel_by_distance
        from broodsweep.tables.travel_cache import travel_source

        file = road_file_in(home, home.resolve().parent)
        return travel_source(file, home / "travel") if file else travel_by_distance

    return RoundsPlanner(desk, seconds=time.monotonic, travel=travel)


def _planner(request: Request) -> RoundsPlanner:
    kept: RoundsPlanner = request.app.state.rounds
    return kept


Planner = Annotated[RoundsPlanner, Depends(_planner)]


@router.get("/rounds")
def rounds(here: Here, planner: Planner, locale: Locale) -> RoundsShape:
    """Give the plan in force, how far the planning has come, and what can be asked for."""
    return RoundsShaper(here.desk, locale).rounds(planner.progress())


@router.get("/rounds/progress")
def rounds_progress(here: Here, planner: Planner, locale: Locale) -> RoundProgressShape:
    """Give how far the planning has come, without the plan."""
    return RoundsShaper(here.desk, locale).progress(planner.progress())


@router.post("/rounds", status_code=202)
def plan_rounds(asked: PlanAsked, here: Here, planner: Planner, locale: Locale) -> RoundsShape:
    """Begin a fresh plan in the background."""
    question = Question(
        first_on=asked.first_on,
        days=asked.days,
        outbreak=asked.outbreak,
        overtime_minutes=asked.overtime_minutes,
    )
    limits = Limits(seconds=asked.seconds, iterations=asked.iterations, with_bound=asked.with_bound)
    planner.plan(here.author(asked.who), question, limits)
    return rounds(here, planner, locale)


@router.post("/rounds/stop")
def stop_rounds(here: Here, planner: Planner, locale: Locale) -> RoundsShape:
    """Stop looking and take the best plan so far."""
    planner.stop()
    return rounds(here, planner, locale)


@router.post("/rounds/changes", status_code=202)
def change_rounds(asked: RoundChangeAsked, here: Here, planner: Planner, locale: Locale) -> RoundsShape:
    """Pin or move a visit, mark someone away or ill, a day as rained off, a visit as done; or take that back."""
    change = change_of(asked)
    author = here.author(asked.who)
    if asked.number == 0 and round_plans.plan_in_force(here.desk) is None:
        note_ahead(here.desk, author, change)
        return rounds(here, planner, locale)
    kept = round_plans.in_force(here.desk, asked.number)
    round_plans.check(here.desk, kept, change)
    if round_plans.is_replanned(kept, change):
        planner.change(
            author, asked.number, change, Limits(seconds=asked.seconds, iterations=asked.iterations)
        )
    else:
        round_plans.note(here.desk, author, asked.number, change)
    return rounds(here, planner, locale)


@router.post("/rounds/weather")
def look_at_weather(asked: WeatherAsked, here: Here, locale: Locale) -> WeatherShape:
    """Say what a forecast allows on these days, before it is noted; nothing is kept."""
    zone = time_zone(here.desk.snapshot())
    forecast = (
        hours_asked(asked.hours)
        if asked.text is None
        else read_forecast_text(asked.text, zone, is_json=asked.is_json)
    )
    thresholds = round_plans.facts_in_force(here.desk).rules.thresholds
    days = look_at_forecast(here.desk, forecast, asked.first_on, asked.days, thresholds)
    return WeatherShape(days=NotedShaper(here.desk, locale).days(days))


@router.post("/rounds/back")
def go_back_in_rounds(asked: GoBackAsked, here: Here, planner: Planner, locale: Locale) -> RoundsShape:
    """Take the plan before the one in force."""
    round_plans.go_back(here.desk, here.author(asked.who), asked.number)
    return rounds(here, planner, locale)


Who = Annotated[str | None, Query(max_length=200, description="Inspector; everyone when left out.")]


@router.get("/rounds/export/rounds.ics", response_class=Response)
def rounds_calendar(here: Here, locale: Locale, inspector: Who = None) -> Response:
    """Give the visits as an iCalendar file."""
    from broodsweep.rounds.sending import rounds_calendar

    kept = _kept(here)
    written = rounds_calendar(
        kept.plan,
        _points(here),
        kept.zone,
        stamp_at=here.desk.now(),
        inspectors=[inspector] if inspector else None,
        locale=locale,
        called=inspector_names(here.desk.snapshot()),
        contacts=_contacts(here, kept),
    )
    return _file(written, "text/calendar", f"rounds-{kept.question.first_on.isoformat()}.ics")


@router.get("/rounds/export/round.gpx", response_class=Response)
def round_gpx(
    here: Here, locale: Locale, inspector: Annotated[str, Query(max_length=200)], day: date
) -> Response:
    """Give one round as a GPX route for navigation."""
    from broodsweep.rounds.sending import gpx_of

    kept = _kept(here)
    row = next((row for row in kept.plan.rounds if (row.inspector, row.on) == (inspector, day)), None)
    if row is None:
        raise NotFoundError("rounds_page.no_such_round", inspector=inspector, day_on=day)
    written = gpx_of(
        row,
        _points(here),
        kept.zone,
        locale=locale,
        called=inspector_names(here.desk.snapshot()),
        contacts=_contacts(here, kept),
    )
    return _file(written.encode(), "application/gpx+xml", f"round-{day.isoformat()}.gpx")


def _kept(here: Context) -> KeptPlan:
    kept = round_plans.plan_in_force(here.desk)
    if kept is None:
        raise NotFoundError("rounds_page.no_plan")
    return kept


def _points(here: Context) -> dict[str, tuple[float, float]]:
    return {name: row.place.centre for name, row in here.desk.snapshot().apiaries.items()}


def _contacts(here: Context, kept: KeptPlan) -> dict[str, tuple[str, ...]]:
    return {name: contact_lines(here.desk.snapshot(), name) for name in kept.plan.chosen}


def _file(written: bytes, media: str, name: str) -> Response:
    return Response(
        written, media_type=media, headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )
