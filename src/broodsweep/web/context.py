"""What every route is given: the desk, its home, the day asked about, the language, who signs."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Annotated, Any

from fastapi import Depends, Query, Request

from broodsweep.desk.context import Desk
from broodsweep.desk.hidden_rehearsals import Rehearsals
from broodsweep.desk.hidden_runs import HiddenRuns
from broodsweep.desk.ports import Author
from broodsweep.web.access import caller_in
from broodsweep.web.gate import Caller
from broodsweep.web.loads import Loads
from broodsweep.web.locale import locale_of
from broodsweep.web.shapes.desk import ErrorShape

DEVICE = "desk"

ERRORS: dict[int | str, dict[str, Any]] = {
    status: {"model": ErrorShape, "description": said}
    for status, said in (
        (400, "What was asked cannot be; the sentence says why."),
        (401, "Nobody is signed in, or what was given does not open the door."),
        (403, "Another site's page asked, or the role does not reach this far."),
        (404, "Something named is not there."),
        (405, "The address takes another method."),
        (409, "The step is not allowed in the present state."),
        (413, "More bytes than the address takes."),
        (421, "The host is not this machine."),
        (429, "Too many tries; the sentence says when to try again."),
        (422, "A field does not fit its description."),
        (503, "The machine got in the way."),
    )
}
"""Every error has one shape; these are the statuses that any route may answer with."""


@dataclass(kw_only=True)
class Context:
    """The application's parts: made once in `create_app`."""

    desk: Desk
    home: Path
    demo: bool
    loads: Loads
    hidden: HiddenRuns
    rehearsals: Rehearsals
    caller: Caller = field(default_factory=Caller)
    """Who asks; nobody in particular where the desk needs no sign-in."""
    kept: dict[str, tuple[int, bytes]] = field(default_factory=dict)
    """Large answers by name, with the version of the record that they were made from."""

    @property
    def basemap(self) -> Path:
        """Folder with the layers and files that the map is drawn on."""
        return self.home / "basemap"

    def setting(self, name: str) -> Any:
        """Return a setting of the record, None when it was never set."""
        return self.desk.snapshot().settings.get(name)

    def author(self, who: str | None) -> Author:
        """Return who makes a change: who is signed in, else the name given, else the one in the settings."""
        if self.caller.device is not None:
            return Author(who=self.caller.device.who, device=self.caller.device.device)
        return Author(who=self.caller.name or who or str(self.setting("who") or "desk"), device=DEVICE)


def _context(request: Request) -> Context:
    kept: Context = request.app.state.context
    return replace(kept, caller=caller_in(request))


def _day(
    request: Request, on: Annotated[date | None, Query(description="Day asked about; today.")] = None
) -> date:
    return on or _context(request).desk.today()


def _locale(
    request: Request, locale: Annotated[str | None, Query(description="Language of the answer.")] = None
) -> str:
    return locale_of(request)


Here = Annotated[Context, Depends(_context)]
OnDay = Annotated[date, Depends(_day)]
Locale = Annotated[str, Depends(_locale)]
