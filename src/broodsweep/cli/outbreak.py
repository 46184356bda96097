"""`sweep`, `due`, `open`, `record`: an outbreak from the command line."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any

import typer

from broodsweep.cli.options import GroundOption, HomeOption, JsonOption, OnOption, RulebookOption
from broodsweep.cli.speech import help_text, print_json, print_line, print_message, print_table, tell
from broodsweep.constants import Disease
from broodsweep.outbreak import EventKind, step_said

OutbreakArgument = Annotated[str, typer.Argument(metavar="OUTBREAK", help=help_text("cli.argument.outbreak"))]
ApiaryArgument = Annotated[str, typer.Argument(metavar="APIARY", help=help_text("cli.argument.apiary"))]
DayOption = Annotated[
    datetime, typer.Option("--day", metavar="DATE", formats=["%Y-%m-%d"], help=help_text("cli.option.day"))
]
EvidenceOption = Annotated[
    str | None, typer.Option("--evidence", metavar="TEXT", help=help_text("cli.option.evidence"))
]


def sweep(
    outbreak: Annotated[
        str | None,
        typer.Argument(metavar="OUTBREAK", help=help_text("cli.argument.outbreak"), show_default=False),
    ] = None,
    unseen: Annotated[bool, typer.Option("--unseen", help=help_text("cli.sweep.unseen"))] = False,
    ground: GroundOption = None,
    home: HomeOption = None,
    on: OnOption = None,
    rulebook: RulebookOption = None,
    as_json: JsonOption = False,
) -> None:
    """List who is to be visited in a sensible order, with the reasons."""
    from broodsweep.bootstrap import open_desk
    from broodsweep.desk.sweeping import sweep_list

    with open_desk(
        ground=ground, home=home, on=on.date() if on else None, rulebook=rulebook, write=False
    ) as desk:
        names = (
            [outbreak]
            if outbreak
            else [row.outbreak for row in desk.snapshot().outbreaks if not row.closed_on]
        )
        lists = [sweep_list(desk, name, desk.today()) for name in names]
    if as_json:
        print_json({"sweeps": [_sweep_record(row, unseen=unseen) for row in lists]})
        return
    if not lists:
        print_line("cli.sweep.none")
    for row in lists:
        stops = [stop for stop in row.stops if not unseen or stop.seen_on is None]
        print_table(
            (
                "cli.column.rank",
                "cli.column.apiary",
                "cli.column.score",
                "cli.column.rings",
                "cli.column.why",
            ),
            [
                (
                    stop.rank,
                    stop.apiary.apiary,
                    f"{stop.score:.0f}",
                    " · ".join(help_text(f"ring.{answer}") for answer in stop.ring.answers)
                    if stop.ring
                    else "",
                    "; ".join(tell(reason) for reason in stop.reasons),
                )
                for stop in stops
            ],
            title=help_text(
                "cli.sweep.title", outbreak=row.outbreak, on=row.on, unseen=row.unseen, seen=row.seen
            ),
        )
        print_message(row.method)


def _sweep_record(row: Any, *, unseen: bool) -> dict[str, Any]:
    stops = [
        {
            "rank": stop.rank,
            "apiary": stop.apiary.apiary,
            "score": round(stop.score, 3),
            "probability": stop.probability,
            "low": stop.low,
            "high": stop.high,
            "reasons": list(stop.reasons),
            "case": stop.ring.case if stop.ring else None,
            "nearest_m": stop.ring.nearest_m if stop.ring else None,
            "farthest_m": stop.ring.farthest_m if stop.ring else None,
            "answers": list(stop.ring.answers) if stop.ring else None,
            "seen_on": stop.seen_on,
        }
        for stop in row.stops
        if not unseen or stop.seen_on is None
    ]
    return {
        "outbreak": row.outbreak,
        "on": row.on,
        "radii_m": row.radii_m,
        "method": row.method,
        "is_trusted": row.is_trusted,
        "stops": stops,
    }


def open_on_finding(
    disease: Annotated[Disease, typer.Argument(metavar="DISEASE", help=help_text("cli.argument.disease"))],
    apiary: ApiaryArgument,
    day: DayOption,
    confirmed: Annotated[bool, typer.Option("--confirmed", help=help_text("cli.open.confirmed"))] = False,
    evidence: EvidenceOption = None,
    rulebook: RulebookOption = None,
    outbreak: Annotated[
        str | None, typer.Option("--outbreak", metavar="NAME", help=help_text("cli.open.outbreak"))
    ] = None,
    home: HomeOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open an outbreak on a finding, or add a case to one."""
    from broodsweep.bootstrap import author, open_desk
    from broodsweep.desk import outbreaks

    kind = EventKind.CONFIRMED if confirmed else EventKind.SUSPECTED
    with open_desk(home=home) as desk:
        if outbreak:
            row = outbreaks.add_case(
                desk,
                author(),
                outbreak,
                apiary=apiary,
                found_on=day.date(),
                kind=kind,
                evidence=evidence,
                disease=disease,
            )
        else:
            row = outbreaks.open_outbreak(
                desk,
                author(),
                disease=disease,
                apiary=apiary,
                found_on=day.date(),
                kind=kind,
                evidence=evidence,
                rulebook=rulebook,
            )
    _confirm(row.outbreak, apiary, kind, day.date(), as_json=as_json)


def record(
    outbreak: OutbreakArgument,
    apiary: ApiaryArgument,
    step: Annotated[EventKind, typer.Argument(metavar="STEP", help=help_text("cli.record.step"))],
    day: DayOption,
    evidence: EvidenceOption = None,
    home: HomeOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write down a measure done, a result or a re-inspection at a case."""
    from broodsweep.bootstrap import author, open_desk
    from broodsweep.desk import outbreaks

    with open_desk(home=home, write=False) as desk:
        outbreaks.record_event(
            desk, author(), outbreak, apiary, kind=step, happened_on=day.date(), evidence=evidence
        )
    _confirm(outbreak, apiary, step, day.date(), as_json=as_json)


def _confirm(outbreak: str, apiary: str, step: EventKind, on: date, *, as_json: bool) -> None:
    if as_json:
        print_json({"outbreak": outbreak, "apiary": apiary, "step": step, "happened_on": on})
    else:
        step_text = step_said(step)
        print_line("cli.record.done", outbreak=outbreak, apiary=apiary, step=step_text, happened_on=on)
