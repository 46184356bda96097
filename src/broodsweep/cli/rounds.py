"""`rounds`: who drives where, when, in which order."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from broodsweep.cli.options import GroundOption, HomeOption, JsonOption, OnOption, RulebookOption
from broodsweep.cli.progress import showing
from broodsweep.cli.rounds_table import print_rounds, rounds_record
from broodsweep.cli.speech import LOCALE, PARTLY, help_text, print_json, print_line
from broodsweep.errors import BroodsweepError

if TYPE_CHECKING:
    from broodsweep.desk.context import Desk
    from broodsweep.desk.rounds import RoundsAnswer, TravelSource, Wishes
    from broodsweep.rounds.day import ForecastHour

ROADS_WORD = "roads"
DEFAULT_SECONDS = 20.0


def rounds(
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="[roads FILE]", help=help_text("cli.rounds.words"), show_default=False),
    ] = None,
    first: Annotated[
        datetime | None,
        typer.Option(
            "--from",
            metavar="DATE",
            formats=["%Y-%m-%d"],
            help=help_text("cli.rounds.from"),
            show_default=False,
        ),
    ] = None,
    days: Annotated[int, typer.Option("--days", metavar="N", help=help_text("cli.rounds.days"))] = 5,
    seconds: Annotated[
        float, typer.Option("--seconds", metavar="S", min=0.0, help=help_text("cli.rounds.seconds"))
    ] = DEFAULT_SECONDS,
    iterations: Annotated[
        int | None,
        typer.Option(
            "--iterations", metavar="N", min=1, help=help_text("cli.rounds.iterations"), show_default=False
        ),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", metavar="N", help=help_text("cli.rounds.seed"))] = 1,
    roads: Annotated[
        Path | None,
        typer.Option("--roads", metavar="FILE", help=help_text("cli.rounds.roads"), show_default=False),
    ] = None,
    forecast: Annotated[
        Path | None,
        typer.Option("--forecast", metavar="FILE", help=help_text("cli.rounds.forecast"), show_default=False),
    ] = None,
    overtime: Annotated[
        int, typer.Option("--overtime", metavar="MINUTES", min=0, help=help_text("cli.rounds.overtime"))
    ] = 0,
    bound: Annotated[bool, typer.Option("--bound", help=help_text("cli.rounds.bound"))] = False,
    gpx: Annotated[
        Path | None,
        typer.Option("--gpx", metavar="DIR", help=help_text("cli.rounds.gpx"), show_default=False),
    ] = None,
    calendar: Annotated[
        Path | None,
        typer.Option("--calendar", metavar="FILE", help=help_text("cli.rounds.calendar"), show_default=False),
    ] = None,
    ground: GroundOption = None,
    home: HomeOption = None,
    on: OnOption = None,
    rulebook: RulebookOption = None,
    as_json: JsonOption = False,
) -> None:
    """Plan rounds: who drives where, when, in which order."""
    if words:
        _keep_roads(words, home)
        return
    from broodsweep.bootstrap import open_desk
    from broodsweep.desk.rounds import plan_rounds

    with (
        open_desk(
            ground=ground, home=home, on=on.date() if on else None, rulebook=rulebook, write=False
        ) as desk,
        showing(help_text("cli.rounds.planning"), quiet=as_json) as progress,
    ):
        start = first.date() if first else desk.today()
        wishes, noted = _noted(desk, start, days, overtime)
        answer = plan_rounds(
            desk,
            start,
            days,
            effort=_effort(seconds, iterations, seed, progress),
            travel=_travel(roads, ground, home),
            forecast=_forecast(forecast, desk) or noted,
            wishes=wishes,
            with_bound=bound,
        )
    _send(answer, gpx, calendar)
    if as_json:
        print_json(rounds_record(answer))
    else:
        print_rounds(answer)
    if answer.plan.unplanned:
        raise typer.Exit(PARTLY)


def _noted(desk: Desk, start: date, days: int, overtime: int) -> tuple[Wishes, tuple[ForecastHour, ...]]:
    """Return what was noted at the desk for these days: who is away or ill, what is agreed, the weather, the rules."""
    from broodsweep.desk.round_plans import Question, facts_in_force
    from broodsweep.desk.round_worker import wishes_for

    question = Question(first_on=start, days=days, overtime_minutes=overtime)
    facts = facts_in_force(desk).from_day(start)
    return wishes_for(question, facts, start, None), facts.forecast(question.span)


def _effort(seconds: float, iterations: int | None, seed: int, progress: Callable[[float], None]) -> Any:
    from broodsweep.rounds.solve import Effort

    if iterations is None and seconds == 0.0:
        return None
    if iterations is not None:
        return Effort(iterations=iterations, seeds=(seed, seed + 1))
    begun = time.monotonic()
    return Effort(
        seeds=(seed, seed + 1),
        gone=lambda: (time.monotonic() - begun) / seconds,
        progress=lambda share: progress(min(1.0, share)),
    )


def _travel(roads: Path | None, ground: Path | None, home: Path | None) -> TravelSource:
    """Return the drive times: of the file named, of a road file that lies at hand, else by distance."""
    from broodsweep.rounds.travel import travel_by_distance
    from broodsweep.tables.travel_cache import travel_source

    path = roads or _roads_at_hand(ground, home)
    if path is None:
        return travel_by_distance
    return travel_source(path, _home(home) / "travel" if ground is None else None)


def _home(home: Path | None) -> Path:
    from broodsweep.bootstrap import default_home

    return home or default_home()


def _roads_at_hand(ground: Path | None, home: Path | None) -> Path | None:
    from broodsweep.bootstrap import road_file_in

    folder = ground or _home(home)
    return road_file_in(folder, folder.resolve().parent)


def _keep_roads(words: list[str], home: Path | None) -> None:
    """Keep a road file in the home folder, checked, so that every plan from now on drives by it."""
    from broodsweep.bootstrap import ROAD_FILES
    from broodsweep.tables.osm_roads import read_roads

    if len(words) != 2 or words[0] != ROADS_WORD:  # noqa: PLR2004 - the word and its file
        raise typer.BadParameter(help_text("cli.rounds.bad_words", words=" ".join(words)))
    path = Path(words[1])
    net = read_roads(path)
    folder = _home(home)
    folder.mkdir(parents=True, exist_ok=True)
    for name in ROAD_FILES:
        (folder / name).unlink(missing_ok=True)
    target = folder / (ROAD_FILES[0] if path.suffix == ".pbf" else ROAD_FILES[1])
    shutil.copyfile(path, target)
    print_line("cli.rounds.roads_kept", file=str(target), junctions=len(net.longitude), pieces=len(net.start))


def _forecast(path: Path | None, desk: Desk) -> tuple[ForecastHour, ...]:
    """Read a forecast: CSV with a header, or JSON (a list of rows, or an object with the list as ``hours``)."""
    if path is None:
        return ()
    from broodsweep.desk.rounds import time_zone
    from broodsweep.tables.forecast import read_forecast_file

    return read_forecast_file(path, time_zone(desk.snapshot()))


def _send(answer: RoundsAnswer, gpx: Path | None, calendar: Path | None) -> None:
    from broodsweep.bootstrap import clock
    from broodsweep.rounds.sending import gpx_of, rounds_calendar

    points = dict(zip(answer.task.travel.names, answer.task.travel.points, strict=True))
    try:
        if gpx is not None:
            gpx.mkdir(parents=True, exist_ok=True)
            for row in answer.plan.rounds:
                name = f"{row.on.isoformat()}-{_file_name(row.inspector)}.gpx"
                written = gpx_of(
                    row, points, answer.zone, called=answer.called, contacts=answer.contacts, locale=LOCALE
                )
                (gpx / name).write_text(written, encoding="utf-8")
        if calendar is not None:
            written_days = rounds_calendar(
                answer.plan,
                points,
                answer.zone,
                stamp_at=clock(),
                called=answer.called,
                contacts=answer.contacts,
                locale=LOCALE,
            )
            calendar.write_bytes(written_days)
    except OSError as error:
        raise BroodsweepError("cli.rounds.not_written", reason=str(error)) from error


def _file_name(text: str) -> str:
    return "".join(letter if letter.isalnum() or letter in "-_" else "_" for letter in text)
