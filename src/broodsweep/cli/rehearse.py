"""`rehearse`: thousands of futures of an outbreak under strategies that the user composes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from broodsweep.cli.hidden import BatchesOption, DiseaseOption, SeedOption, say_when_compiling
from broodsweep.cli.options import GroundOption, HomeOption, JsonOption, OnOption, RulebookOption
from broodsweep.cli.speech import help_text, print_json, print_line, print_table, tell
from broodsweep.errors import BroodsweepError

if TYPE_CHECKING:
    from broodsweep.desk.rehearsing import Outcome, Rehearsed


def rehearse(
    disease: DiseaseOption,
    strategies: Annotated[
        Path | None,
        typer.Option(
            "--strategies", metavar="FILE", help=help_text("cli.rehearse.strategies"), show_default=False
        ),
    ] = None,
    days: Annotated[int, typer.Option("--days", min=1, max=1500, help=help_text("cli.rehearse.days"))] = 365,
    futures: Annotated[
        int, typer.Option("--futures", min=2, max=100_000, help=help_text("cli.rehearse.futures"))
    ] = 1000,
    cluster: Annotated[
        str | None,
        typer.Option(
            "--cluster", metavar="ADDRESS", help=help_text("cli.rehearse.cluster"), show_default=False
        ),
    ] = None,
    seed: SeedOption = 1,
    batches: BatchesOption = 0,
    ground: GroundOption = None,
    home: HomeOption = None,
    on: OnOption = None,
    rulebook: RulebookOption = None,
    as_json: JsonOption = False,
) -> None:
    """Compare strategies over futures drawn from what is known now."""
    from broodsweep.bootstrap import open_cluster, open_desk
    from broodsweep.cli.progress import showing
    from broodsweep.desk.hidden import look_for_hidden
    from broodsweep.desk.rehearsing import STANDARD, rehearse_strategies, strategies_from
    from broodsweep.spread import Settings

    chosen = strategies_from(_read(strategies)) if strategies else STANDARD
    settings = Settings(most_batches=batches) if batches else Settings()
    say_when_compiling()
    day = on.date() if on else None
    with open_desk(ground=ground, home=home, on=day, rulebook=rulebook, write=False) as desk:
        with showing(help_text("cli.hidden.running"), quiet=as_json) as progress:
            found = look_for_hidden(
                desk, disease, desk.today(), seed=seed, settings=settings, progress=progress
            )
        with (
            showing(help_text("cli.rehearse.running"), quiet=as_json) as progress,
            open_cluster(cluster) as client,
        ):
            made = rehearse_strategies(
                found, chosen, days=days, futures=futures, seed=seed, client=client, progress=progress
            )
    if as_json:
        print_json(
            {
                "disease": disease,
                "on": found.answer.on,
                "days": days,
                "futures": futures,
                "seed": seed,
                "strategies": list(made),
                "diagnostics": found.answer.diagnostics.as_record(),
            }
        )
        return
    _tell(made, days, futures)
    if not found.answer.diagnostics.converged:
        print_line("cli.rehearse.not_converged")


def _read(path: Path) -> list[dict[str, Any]]:
    try:
        rows = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise BroodsweepError("cli.rehearse.unreadable", path=str(path), why=str(error)) from error
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows) or not rows:
        raise BroodsweepError("cli.rehearse.no_list", path=str(path))
    return rows


def _tell(made: tuple[Rehearsed, ...], days: int, futures: int) -> None:
    print_table(
        (
            "cli.column.strategy",
            "cli.column.infected",
            "cli.column.against_first",
            "cli.column.destroyed",
            "cli.column.inspector_days",
            "cli.column.released",
            "cli.column.over",
        ),
        [
            (
                _named(row.strategy.name),
                _range(row.infected),
                "–"
                if row.differences is None
                else f"{row.differences['infected'].mean:+.1f} "
                f"({row.differences['infected'].low:+.1f} … {row.differences['infected'].high:+.1f})",
                _range(row.destroyed),
                _range(row.inspector_days),
                f"{row.released_share:.2f}",
                " · ".join(f"{day}: {chance:.2f}" for day, chance in row.over_probability.items()),
            )
            for row in made
        ],
        title=help_text("cli.rehearse.title", futures=futures, days=days),
    )
    print_line("cli.rehearse.reading")


def _range(row: Outcome) -> str:
    return f"{row.mean:.1f} ({row.low:.0f}–{row.high:.0f})"


def _named(name: str) -> str:
    from broodsweep.desk.rehearsing import strategy_said

    said = strategy_said(name)
    return said if isinstance(said, str) else tell(said)
