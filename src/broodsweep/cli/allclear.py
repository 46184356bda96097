"""`allclear`: was enough looked at, and how sure is that?"""

from __future__ import annotations

from typing import Any

from broodsweep.cli.hidden import BatchesOption, DiseaseOption, SeedOption, say_when_compiling
from broodsweep.cli.options import GroundOption, HomeOption, JsonOption, OnOption, RulebookOption
from broodsweep.cli.speech import help_text, print_json, print_line, print_message, print_table
from broodsweep.desk.allclear import AllClear
from broodsweep.words import say

SHOWN = 12


def allclear(
    disease: DiseaseOption,
    seed: SeedOption = 1,
    batches: BatchesOption = 0,
    ground: GroundOption = None,
    home: HomeOption = None,
    on: OnOption = None,
    rulebook: RulebookOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show the three figures of the stop rule, the legal conditions, what binds and what would help."""
    from broodsweep.bootstrap import open_desk
    from broodsweep.cli.progress import showing
    from broodsweep.desk.allclear import all_clear
    from broodsweep.desk.hidden import look_for_hidden
    from broodsweep.spread import Settings

    settings = Settings(most_batches=batches) if batches else Settings()
    say_when_compiling()
    day = on.date() if on else None
    with (
        open_desk(ground=ground, home=home, on=day, rulebook=rulebook, write=False) as desk,
        showing(help_text("cli.hidden.running"), quiet=as_json) as progress,
    ):
        found = look_for_hidden(desk, disease, desk.today(), seed=seed, settings=settings, progress=progress)
        sheet = all_clear(desk, disease, desk.today(), found)
    if as_json:
        print_json({**_record(sheet), "diagnostics": found.answer.diagnostics.as_record()})
    else:
        _tell(sheet)


def _record(sheet: AllClear) -> dict[str, Any]:
    return {
        "disease": sheet.disease,
        "on": sheet.on,
        "figures": [
            {
                "name": row.name,
                "value": row.value,
                "low": row.low,
                "target": row.target,
                "is_reached": row.is_reached,
                "why": row.why,
            }
            for row in sheet.figures
        ],
        "legal": list(sheet.legal),
        "binding": sheet.binding,
        "would_help": [{"apiary": name, "free": figure} for name, figure in sheet.would_help],
        "is_enough": sheet.is_enough,
        "notes": list(sheet.notes),
    }


def _tell(sheet: AllClear) -> None:
    print_table(
        ("cli.column.figure", "cli.column.value", "cli.column.target", "cli.column.why"),
        [
            (
                say(f"stop.{row.name}"),
                "–" if row.value is None else f"{row.value:.3f}",
                f"{row.target:.2f}",
                row.why,
            )
            for row in sheet.figures
        ],
        title=help_text("cli.allclear.title", disease=help_text(f"disease.{sheet.disease}"), on=sheet.on),
    )
    open_ones = [row for row in sheet.legal if not row.is_met]
    if open_ones:
        print_table(
            ("cli.column.apiary", "cli.column.what", "cli.column.due", "cli.column.rule"),
            [(row.apiary, row.what, row.due_on, row.rule) for row in open_ones],
            title=help_text("cli.allclear.legal"),
        )
    if sheet.would_help:
        last = sheet.would_help[-1][1]
        print_line(
            "cli.allclear.would_help",
            count=len(sheet.would_help),
            apiaries=[name for name, _ in sheet.would_help[:SHOWN]],
            free_probability=last,
        )
    for note in sheet.notes:
        print_message(note)
