"""`load` and `export`: tables in, tables out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from broodsweep.cli.options import GroundOption, HomeOption, JsonOption, OnOption, RulebookOption
from broodsweep.cli.speech import PARTLY, REFUSED, help_text, print_json, print_line, print_table, tell

SHOWN_REFUSALS = 50


def load(
    source: Annotated[Path, typer.Argument(metavar="SOURCE", help=help_text("cli.load.source"))],
    table: Annotated[str | None, typer.Option("--table", metavar="NAME", help=help_text("cli.load.table"))] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help=help_text("cli.load.dry_run"))] = False,
    skip_bad: Annotated[bool, typer.Option("--skip-bad", help=help_text("cli.load.skip_bad"))] = False,
    refused: Annotated[
        Path | None, typer.Option("--refused", metavar="FILE", help=help_text("cli.load.refused"))
    ] = None,
    column: Annotated[
        list[str] | None, typer.Option("--column", metavar="TABLE.OURS=THEIRS", help=help_text("cli.load.column"))
    ] = None,
    encoding: Annotated[
        str | None, typer.Option("--encoding", metavar="NAME", help=help_text("cli.load.encoding"))
    ] = None,
    home: HomeOption = None,
    as_json: JsonOption = False,
) -> None:
    """Load tables into the store: everything is checked first, and loading twice changes nothing."""
    from broodsweep.bootstrap import author, open_desk
    from broodsweep.cli.progress import showing
    from broodsweep.desk import loading
    from broodsweep.tables import plan, read_ground, write_refused

    with open_desk(home=home) as desk, showing(help_text("cli.load.reading"), quiet=as_json) as progress:
        mapping = loading.remembered_mapping(desk, column or [])
        reading = read_ground(
            source, table=table, mapping=mapping, base=desk.snapshot().ground, encoding=encoding, progress=progress
        )
        sound = not reading.refused or skip_bad
        change = plan(reading, desk.snapshot().ground)
        if sound and not dry_run:
            loading.apply(desk, author(), reading, mapping)
        if reading.refused and (skip_bad or refused):
            refused = refused or source.with_name(f"{source.stem}-refused.csv")
            write_refused(reading, refused)
    _report(reading, change, loaded=sound and not dry_run, refused=refused, as_json=as_json)
    if reading.refused:
        raise typer.Exit(PARTLY if sound else REFUSED)


def _report(reading: Any, change: Any, *, loaded: bool, refused: Path | None, as_json: bool) -> None:
    tables = {name: change.counts(name) for name in change.tables}
    if as_json:
        print_json(
            {
                "loaded": loaded,
                "tables": tables,
                "refused": [row.as_record() for row in reading.refused],
                "unknown_columns": reading.unknown_columns,
                "notes": list(reading.notes),
                "refused_file": str(refused) if refused and reading.refused else None,
            }
        )
        return
    rows = [(name, counts["new"], counts["changed"], counts["same"]) for name, counts in tables.items()]
    print_table(("cli.column.table", "cli.column.new", "cli.column.changed", "cli.column.same"), rows)
    for note in reading.notes:
        print(tell(note))  # noqa: T201
    for row in reading.refused[:SHOWN_REFUSALS]:
        print(tell(row.message))  # noqa: T201
    if len(reading.refused) > SHOWN_REFUSALS:
        print_line("cli.load.more", count=len(reading.refused) - SHOWN_REFUSALS)
    if refused and reading.refused:
        print_line("cli.load.refused_file", path=str(refused))
    if not loaded:
        print_line("cli.load.not_loaded" if reading.refused else "cli.load.dry")


def export(
    what: Annotated[str, typer.Argument(metavar="WHAT", help=help_text("cli.export.what"))],
    target: Annotated[Path, typer.Argument(metavar="TARGET", help=help_text("cli.export.target"))],
    outbreak: Annotated[
        str | None, typer.Option("--outbreak", metavar="NAME", help=help_text("cli.export.outbreak"))
    ] = None,
    public: Annotated[bool, typer.Option("--public", help=help_text("cli.export.public"))] = False,
    ground: GroundOption = None,
    home: HomeOption = None,
    on: OnOption = None,
    rulebook: RulebookOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write the tables, a sweep list, due dates or the rings to a file that other programs read."""
    from broodsweep.bootstrap import open_desk
    from broodsweep.cli.writing import write_export

    with open_desk(ground=ground, home=home, on=on.date() if on else None, rulebook=rulebook, write=False) as desk:
        written = write_export(desk, what, target, outbreak=outbreak, public=public)
    if as_json:
        print_json({"written": [str(path) for path in written]})
        return
    for path in written:
        print_line("cli.export.written", path=str(path))
