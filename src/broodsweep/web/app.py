"""Joins the routes, the guard, the refusals and the pages into one application."""

from __future__ import annotations

from pathlib import Path

from fastapi import FastAPI
from fastapi.routing import APIRoute

from broodsweep import __version__
from broodsweep.access import Access, open_access
from broodsweep.desk.context import Desk
from broodsweep.desk.hidden_rehearsals import Rehearsals
from broodsweep.desk.hidden_runs import HiddenRuns
from broodsweep.web.changes import Stopping
from broodsweep.web.context import Context
from broodsweep.web.gate import Gate
from broodsweep.web.guard import Guard, GzipAnswers
from broodsweep.web.loads import Loads
from broodsweep.web.pages import STATIC, add_pages
from broodsweep.web.refusals import add_refusals
from broodsweep.web.routes import access as entry
from broodsweep.web.routes import (
    basemap,
    exports,
    field,
    fieldbook,
    ground,
    hidden,
    loading,
    outbreaks,
    rounds,
    rules,
    session,
    weigh,
)


def create_app(
    desk: Desk,
    *,
    home: Path,
    locale: str = "en",
    demo: bool = False,
    hosts: tuple[str, ...] = (),
    static: Path = STATIC,
    runs: HiddenRuns | None = None,
    access: Access | None = None,
    is_shared: bool = False,
) -> FastAPI:
    """Return the web application for one desk.

    Parameters
    ----------
    desk
        The desk that every route calls.
    home
        Folder with the base map; loads in progress are put aside there.
    locale
        Language where neither the address, the settings nor the browser names one.
    demo
        Whether the pages say that this is the invented island.
    hosts
        Names under which the desk may be asked for, beside this machine's own.
    static
        Folder with the built pages.
    runs
        The runs of hidden infection behind this desk; with the usual settings when left out.
    access
        Those who are let in; kept in memory, and empty, when left out.
    is_shared
        Whether the desk is reached from other machines: everybody signs in then.
    """
    app = FastAPI(
        title="Broodsweep desk",
        version=__version__,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        generate_unique_id_function=_operation,
    )
    runs = desk.risk = runs or HiddenRuns(desk)
    app.state.context = Context(
        desk=desk,
        home=home,
        demo=demo,
        loads=Loads(desk, home / "loads"),
        hidden=runs,
        rehearsals=Rehearsals(runs),
    )
    app.state.access = access = access or open_access(None, now=desk.now)
    app.state.rounds = rounds.rounds_planner(desk, home)
    app.state.locale = locale
    app.state.chosen_locale = lambda: desk.snapshot().settings.get("locale")
    app.state.stopping = Stopping()
    for room in (entry, session, outbreaks, hidden, weigh, rounds, exports, loading, rules, ground, basemap):
        app.include_router(room.router)
    for room in (fieldbook, field):
        app.include_router(room.router)
    app.include_router(basemap.files)
    add_pages(app, static)
    add_refusals(app)
    app.add_middleware(GzipAnswers)
    app.add_middleware(Gate, access=access, is_shared=is_shared)
    app.add_middleware(Guard, hosts=hosts)
    return app


def _operation(route: APIRoute) -> str:
    return route.name
