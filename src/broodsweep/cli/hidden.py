"""`hidden`: who else is infected and not yet seen, from where, how sure."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Annotated

import typer

from broodsweep.cli.options import GroundOption, HomeOption, JsonOption, OnOption, RulebookOption
from broodsweep.cli.speech import PARTLY, help_text, print_json, print_line, print_message, print_table, tell
from broodsweep.constants import Disease

if TYPE_CHECKING:
    from broodsweep.spread.engine import Hidden

SHOWN = 30

DiseaseOption = Annotated[Disease, typer.Option("--disease", help=help_text("cli.argument.disease"))]
SeedOption = Annotated[int, typer.Option("--seed", min=0, help=help_text("cli.option.seed"))]
BatchesOption = Annotated[int, typer.Option("--batches", min=0, help=help_text("cli.hidden.batches"))]


def hidden(
    disease: DiseaseOption = Disease.AFB,
    seed: SeedOption = 1,
    batches: BatchesOption = 0,
    ground: GroundOption = None,
    home: HomeOption = None,
    on: OnOption = None,
    rulebook: RulebookOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say for every apiary how likely it is infected today and not yet found, and why."""
    from broodsweep.bootstrap import open_desk
    from broodsweep.cli.progress import showing
    from broodsweep.desk.hidden import look_for_hidden
    from broodsweep.spread import Settings

    day = on.date() if on else None
    settings = Settings(most_batches=batches) if batches else Settings()
    say_when_compiling()
    with (
        open_desk(ground=ground, home=home, on=day, rulebook=rulebook, write=False) as desk,
        showing(help_text("cli.hidden.running"), quiet=as_json) as progress,
    ):
        found = look_for_hidden(desk, disease, desk.today(), seed=seed, settings=settings, progress=progress)
        remarks = desk.remarks
    if as_json:
        print_json({**found.as_record(), "remarks": remarks})
    else:
        for remark in remarks:
            print_message(remark)
        _tell(found)
    if not found.answer.diagnostics.converged:
        raise typer.Exit(PARTLY)


def say_when_compiling() -> None:
    """Say on standard error that the first run compiles, when it will."""
    from broodsweep.spread.compiled import is_compiled

    if not is_compiled():
        sys.stderr.write(help_text("cli.hidden.compiling") + "\n")


def _tell(found: Hidden) -> None:
    answer = found.answer
    rows = [row for row in answer.apiaries if row.probability is not None]
    rows.sort(key=lambda row: -(row.probability or 0.0))
    print_table(
        ("cli.column.apiary", "cli.column.chance", "cli.column.range", "cli.column.why"),
        [
            (
                row.apiary,
                f"{row.probability:.3f}",
                f"{row.low:.3f}–{row.high:.3f}",
                "; ".join(tell(reason) for reason in row.reasons),
            )
            for row in rows[:SHOWN]
        ],
        title=help_text("cli.hidden.title", disease=help_text(f"disease.{answer.disease}"), on=answer.on),
    )
    unseen = answer.unseen
    print_line(
        "cli.hidden.unseen",
        mean=round(unseen.mean, 1),
        low=round(unseen.low),
        high=round(unseen.high),
        none_probability=unseen.none_probability,
    )
    for note in (*answer.notes, *answer.diagnostics.reasons):
        print_message(note)
