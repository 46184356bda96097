"""`load` and `export`: tables in, tables out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from broodsweep.cli.options import GroundOption, HomeOption, JsonOption, OnOption, RulebookOption
from broodsweep.cli.speech import (
    PARTLY,
    REFUSED,
    help_text,
    print_json,
    print_line,
    print_message,
    print_table,
)

if TYPE_CHECKING:
    from broodsweep.register import Plan
    from broodsweep.tables import Reading

SHOWN_REFUSALS = 50


def load(
    source: Annotated[Path, typer.Argument(metavar="SOURCE", help=help_text("cli.load.source"))],
    table: Annotated[
        str | None, typer.Option("--table", metavar="NAME", help=help_text("cli.load.table"))
    ] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help=help_text("cli.load.dry_run"))] = False,
    skip_bad: Annotated[bool, typer.Option("--skip-bad", help=help_text("cli.load.skip_bad"))] = False,
    refused: Annotated[
        Path | None, typer.Option("--refused", metavar="FILE", help=help_text("cli.load.refused"))
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option("--column", metavar="TABLE.OURS=THEIRS", help=help_text("cli.load.column")),
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
        before = desk.snapshot().ground
        reading = read_ground(
            source,
            table=table,
            mapping=mapping,
            base=before,
            encoding=encoding,
            skip_bad=skip_bad,
            today=desk.today(),
            progress=progress,
        )
        change = plan(reading, before) if reading.is_usable else None
        if change and not dry_run:
            loading.apply(desk, author(), change, mapping)
    written: tuple[Path, ...] = ()
    if reading.refused and (skip_bad or refused):
        written = write_refused(reading, refused or source.with_name(f"{source.stem}-refused.csv"))
    loaded = change is not None and not dry_run
    record = _record(reading, change, loaded=loaded, written=written)
    if as_json:
        print_json(record)
    else:
        _tell(reading, record)
    if not reading.is_sound:
        raise typer.Exit(PARTLY if reading.is_usable else REFUSED)


def _record(
    reading: Reading, change: Plan | None, *, loaded: bool, written: tuple[Path, ...]
) -> dict[str, Any]:
    tables = {
        row.table: {"new": len(row.new), "changed": len(row.changed), "same": row.same}
        for row in (change.tables if change else ())
        if row.new or row.changed or row.same
    }
    return {
        "loaded": loaded,
        "tables": tables,
        "refused": [
            {
                "table": row.table,
                "file": row.file,
                "line": row.line,
                "column": row.column,
                "value": row.value,
                "problem": row.what,
                "way_out": row.way_out,
            }
            for row in reading.all_complaints
        ],
        "warnings": [row.sentence for row in reading.warnings],
        "unknown_columns": list(reading.unknown_columns),
        "notes": list(reading.notes),
        "refused_files": [str(path) for path in written],
    }


def _tell(reading: Reading, record: dict[str, Any]) -> None:
    rows = [(name, row["new"], row["changed"], row["same"]) for name, row in record["tables"].items()]
    if rows:
        print_table(("cli.column.table", "cli.column.new", "cli.column.changed", "cli.column.same"), rows)
    for note in (*record["notes"], *record["warnings"]):
        print_message(note)
    for row in reading.all_complaints[:SHOWN_REFUSALS]:
        print_message(row.sentence)
    if len(reading.all_complaints) > SHOWN_REFUSALS:
        print_line("cli.load.more", count=len(reading.all_complaints) - SHOWN_REFUSALS)
    for path in record["refused_files"]:
        print_line("cli.load.refused_file", path=path)
    if any(row.what.key == "tables.missing_columns" for row in reading.all_complaints):
        print_line("cli.load.map_hint")
    if not record["loaded"]:
        print_line("cli.load.dry" if reading.is_usable else "cli.load.not_loaded")


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

    with open_desk(
        ground=ground, home=home, on=on.date() if on else None, rulebook=rulebook, write=False
    ) as desk:
        written = write_export(desk, what, target, outbreak=outbreak, public=public)
    if as_json:
        print_json({"written": [str(path) for path in written]})
        return
    for path in written:
        print_line("cli.export.written", path=str(path))
