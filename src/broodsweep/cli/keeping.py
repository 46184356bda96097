"""`backup`, `restore`, `doctor`: the record is kept, and can be shown to be whole."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from broodsweep.cli.options import HomeOption, JsonOption
from broodsweep.cli.speech import PARTLY, help_text, print_json, print_line, print_table

if TYPE_CHECKING:
    from broodsweep.store import Check


def backup(
    target: Annotated[Path, typer.Argument(metavar="FILE", help=help_text("cli.backup.target"))],
    home: HomeOption = None,
    as_json: JsonOption = False,
) -> None:
    """Copy the store while it is in use, and check the copy."""
    from broodsweep.bootstrap import STORE_NAME, clock, default_home
    from broodsweep.cli.progress import showing
    from broodsweep.store import backup as make_backup
    from broodsweep.store import open_store

    with (
        open_store((home or default_home()) / STORE_NAME, now=clock, create=False) as store,
        showing(help_text("cli.backup.copying"), quiet=as_json) as progress,
    ):
        manifest = make_backup(store, target, progress)
    if as_json:
        print_json(manifest)
    else:
        print_line(
            "cli.backup.done",
            path=str(target / manifest.file if target.is_dir() else target),
            version=manifest.version,
        )
        if manifest.photos or manifest.photos_missing:
            print_line("cli.backup.photos", count=manifest.photos)
        if manifest.photos_missing:
            print_line("cli.backup.photos_missing", count=manifest.photos_missing)


def restore(
    source: Annotated[Path, typer.Argument(metavar="FILE", help=help_text("cli.restore.source"))],
    home: HomeOption = None,
    as_json: JsonOption = False,
) -> None:
    """Put a checked copy in the store's place; the old file is kept beside it."""
    from broodsweep.bootstrap import STORE_NAME, clock, default_home
    from broodsweep.store import restore as put_back

    folder = home or default_home()
    folder.mkdir(parents=True, exist_ok=True)
    kept = put_back(source, folder / STORE_NAME, now=clock)
    if as_json:
        print_json({"restored": str(folder / STORE_NAME), "kept": str(kept) if kept else None})
    else:
        print_line("cli.restore.done", path=str(folder / STORE_NAME))
        if kept:
            print_line("cli.restore.kept", path=str(kept))


def doctor(home: HomeOption = None, as_json: JsonOption = False) -> None:
    """Verify the file, the tables and the whole chain of the journal."""
    from broodsweep.bootstrap import STORE_NAME, clock, default_home
    from broodsweep.store import open_store, verify

    with open_store((home or default_home()) / STORE_NAME, now=clock, create=False) as store:
        verdict = verify(store)
    if as_json:
        print_json(verdict)
    else:
        print_table(
            ("cli.column.check", "cli.column.result", "cli.column.detail"),
            [
                (
                    check.label,
                    help_text(_verdict(check)),
                    check.detail,
                )
                for check in verdict.checks
            ],
        )
    if not verdict.is_sound:
        raise typer.Exit(PARTLY)


def _verdict(check: Check) -> str:
    if not check.is_sound:
        return "cli.doctor.broken"
    return "cli.doctor.warning" if check.is_warning else "cli.doctor.sound"
