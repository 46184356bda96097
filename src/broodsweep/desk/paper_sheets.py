"""Paper sheets for the stops of a day, for when there is no phone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from broodsweep.desk.context import Desk
from broodsweep.desk.paper_lines import sheet_name
from broodsweep.desk.round_names import cautions_of_a_round, inspector_names, named
from broodsweep.desk.round_plans import plan_in_force
from broodsweep.desk.satchel import purpose_at
from broodsweep.errors import RefusedError
from broodsweep.papers.field_paper import FieldPaper
from broodsweep.register import Apiary
from broodsweep.words import Message, render, say


def sheets_for(
    desk: Desk, on: date, *, apiaries: Sequence[str] = (), inspector: str | None = None, locale: str = "en"
) -> tuple[FieldPaper, ...]:
    """Return a sheet for each apiary named, else for each stop of the round in force for that day.

    Raises
    ------
    NotFoundError
        If the register lacks an apiary.
    RefusedError
        If none is named and there is no round on that day.
    """
    kept = desk.snapshot()
    called = inspector_names(kept)
    plan = plan_in_force(desk)
    rounds = [row for row in plan.plan.rounds if row.on == on] if plan else []
    if inspector is not None:
        rounds = [row for row in rounds if row.inspector == inspector]
    stops = {stop.apiary: (row.inspector, stop) for row in rounds for stop in row.stops}
    wanted = apiaries or [name for name in stops if name in kept.apiaries]
    if not wanted:
        raise RefusedError("fieldbook.no_stops", on_on=on)

    def said(rows: Sequence[Message]) -> tuple[str, ...]:
        return tuple(render(named(row, called), locale) for row in rows)

    sheets = []
    for name in wanted:
        row = kept.apiary(name)
        keeper = kept.keepers.get(row.keeper or "")
        who, stop = stops.get(name, (inspector or "", None))
        sheets.append(
            FieldPaper(
                visit=sheet_name(name, on),
                apiary=name,
                on=on,
                keeper=(keeper.name or "") if keeper else "",
                phone=(keeper.phone or "") if keeper else "",
                address=(keeper.address or "") if keeper else "",
                place=_place(row),
                inspector=called.get(who, who),
                purpose=purpose_at(kept, name),
                colonies=row.colonies,
                why=said(stop.why) if stop else (),
                bring=said(stop.bring) if stop else (),
                notes=row.notes or "",
            )
        )
    return tuple(sheets)


def cautions_on_paper() -> tuple[Message, ...]:
    """Return the cautions that stand on every sheet."""
    return (*cautions_of_a_round(), say("fieldbook.suspicion_notifiable"))


def _place(row: Apiary) -> str:
    return row.place.text or f"{row.place.latitude:.5f}, {row.place.longitude:.5f}"
