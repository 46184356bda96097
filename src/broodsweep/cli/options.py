"""Options that the commands share."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import Annotated

import typer

from broodsweep.cli.speech import help_text


def day(text: str) -> date:
    """Parse a day given on the command line (ISO 8601)."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise typer.BadParameter(help_text("cli.bad_date", value=text)) from None


GroundOption = Annotated[
    Path | None,
    typer.Option("--ground", metavar="DIR", help=help_text("cli.option.ground"), show_default=False),
]
HomeOption = Annotated[
    Path | None,
    typer.Option(
        "--home",
        metavar="DIR",
        envvar="BROODSWEEP_HOME",
        help=help_text("cli.option.home"),
        show_default=False,
    ),
]
OnOption = Annotated[
    datetime | None,
    typer.Option(
        "--on", metavar="DATE", formats=["%Y-%m-%d"], help=help_text("cli.option.on"), show_default=False
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help=help_text("cli.option.json"))]
RulebookOption = Annotated[
    str | None,
    typer.Option("--rulebook", metavar="NAME", help=help_text("cli.option.rulebook"), show_default=False),
]
