"""Registers the commands and turns every error into a sentence and an exit code."""

from __future__ import annotations

import json
import logging
import sys
from collections.abc import Callable
from typing import Any

import typer

from broodsweep.cli import ground, keeping, outbreak, places, serving
from broodsweep.cli.allclear import allclear
from broodsweep.cli.due import due
from broodsweep.cli.hidden import hidden
from broodsweep.cli.people import people
from broodsweep.cli.rehearse import rehearse
from broodsweep.cli.rounds import rounds
from broodsweep.cli.season import season
from broodsweep.cli.speech import REFUSED, TROUBLE, help_text
from broodsweep.cli.weigh import weigh
from broodsweep.errors import BroodsweepError, TroubleError

EVERY: tuple[tuple[str, Callable[..., Any]], ...] = (
    ("demo", serving.demo),
    ("serve", serving.serve),
    ("people", people),
    ("load", ground.load),
    ("locate", places.locate),
    ("weigh", weigh),
    ("ring", places.ring),
    ("sweep", outbreak.sweep),
    ("hidden", hidden),
    ("allclear", allclear),
    ("rehearse", rehearse),
    ("rounds", rounds),
    ("season", season),
    ("due", due),
    ("open", outbreak.open_on_finding),
    ("record", outbreak.record),
    ("export", ground.export),
    ("backup", keeping.backup),
    ("restore", keeping.restore),
    ("doctor", keeping.doctor),
)


def make_app() -> typer.Typer:
    """Return the command with every subcommand; help comes from the catalogue."""
    app = typer.Typer(
        name="broodsweep",
        help=help_text("cli.help"),
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    for name, function in EVERY:
        app.command(name, help=help_text(f"cli.{name}.help"))(function)
    return app


def main(arguments: list[str] | None = None) -> None:
    """Run the command and leave with its exit code (see `speech`)."""
    logging.getLogger("pyogrio").setLevel(logging.ERROR)
    words = sys.argv[1:] if arguments is None else arguments
    try:
        make_app()(args=words, prog_name="broodsweep", standalone_mode=True)
    except BroodsweepError as error:
        sys.exit(_complain(error, as_json="--json" in words))
    except KeyboardInterrupt:
        sys.stderr.write(help_text("cli.interrupted") + "\n")
        sys.exit(130)


def _complain(error: BroodsweepError, *, as_json: bool) -> int:
    sentence = help_text(error.message.key, **error.message.params)
    if as_json:
        sys.stderr.write(
            json.dumps({"error": {"key": error.message.key, "text": sentence}}, ensure_ascii=False) + "\n"
        )
    else:
        sys.stderr.write(f"{sentence}\n")
    return TROUBLE if isinstance(error, TroubleError) else REFUSED
