"""`season`: what falls in which week, and what the team can do."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Annotated, Any

import typer

from broodsweep.cli.options import GroundOption, HomeOption, JsonOption, OnOption, RulebookOption
from broodsweep.cli.speech import PARTLY, help_text, print_json, print_line, print_table, tell
from broodsweep.words import Message, say

if TYPE_CHECKING:
    from broodsweep.desk.season import SeasonAnswer

MINUTES_AN_HOUR = 60
SHOWN = 30


def season(
    first: Annotated[
        datetime | None,
        typer.Option(
            "--from",
            metavar="DATE",
            formats=["%Y-%m-%d"],
            help=help_text("cli.season.from"),
            show_default=False,
        ),
    ] = None,
    weeks: Annotated[int, typer.Option("--weeks", metavar="N", help=help_text("cli.season.weeks"))] = 16,
    every: Annotated[int, typer.Option("--every", metavar="MONTHS", help=help_text("cli.season.every"))] = 12,
    training: Annotated[
        list[datetime] | None,
        typer.Option(
            "--training",
            metavar="DATE",
            formats=["%Y-%m-%d"],
            help=help_text("cli.season.training"),
            show_default=False,
        ),
    ] = None,
    ground: GroundOption = None,
    home: HomeOption = None,
    on: OnOption = None,
    rulebook: RulebookOption = None,
    as_json: JsonOption = False,
) -> None:
    """Plan the season over the weeks."""
    from broodsweep.bootstrap import open_desk
    from broodsweep.desk.season import SeasonQuestion
    from broodsweep.desk.season import season as plan

    with open_desk(
        ground=ground, home=home, on=on.date() if on else None, rulebook=rulebook, write=False
    ) as desk:
        question = SeasonQuestion(
            first_on=first.date() if first else desk.today(), weeks=weeks, every_months=every
        )
        answer = plan(desk, question, [at.date() for at in training] if training else None)
    if as_json:
        print_json(season_record(answer))
    else:
        _tell(answer)
    if answer.plan.left_out:
        raise typer.Exit(PARTLY)


def season_record(answer: SeasonAnswer) -> dict[str, Any]:
    """Return the answer as `--json` gives it."""
    return {
        "from": answer.question.first_on,
        "to": answer.question.last_on,
        "weeks": [
            {
                "week": week.starts_on,
                "capacity_minutes": week.capacity_minutes,
                "used_minutes": week.used_minutes,
                "by_kind": dict(week.by_kind),
                "duties": [_line(answer, name) for name in week.duties],
            }
            for week in answer.plan.weeks
        ],
        "left_out": [{**_line(answer, name), "why_not": why} for name, why in answer.plan.left_out],
        "measures": {"cost": answer.plan.cost, "bound": answer.plan.bound, "within_share": within(answer)},
        "missed": list(answer.plan.missed),
        "training": list(answer.training),
        "method": say("season.method"),
        "travel": travel_said(answer),
    }


def _line(answer: SeasonAnswer, name: str) -> dict[str, Any]:
    line = answer.lines[name]
    duty = line.duty
    return {
        "apiary": duty.apiary,
        "kind": duty.kind,
        "minutes": duty.minutes,
        "first": duty.first_on,
        "last": duty.last_on,
        "why": list(line.why),
    }


def travel_said(answer: SeasonAnswer) -> Message:
    """Return what was counted for the roads."""
    key = "season.drive_learned" if answer.is_drive_learned else "season.drive_usual"
    return say(key, minutes=answer.drive_minutes)


def within(answer: SeasonAnswer) -> float | None:
    """Return how far the plan is above what no plan of these weeks can go below, at most."""
    return answer.plan.cost / answer.plan.bound - 1.0 if answer.plan.bound > 0.0 else None


def _tell(answer: SeasonAnswer) -> None:
    from broodsweep.rounds.season import DutyKind

    print_line("season.method")
    print_line(travel_said(answer).key, minutes=answer.drive_minutes)
    print_table(
        (
            "season.week",
            "season.hours_room",
            "season.hours_planned",
            *(f"season.kind_{kind}" for kind in DutyKind),
            "season.visits",
        ),
        [
            (
                help_text(
                    "season.week_of",
                    first_on=week.starts_on,
                    last_on=week.starts_on + timedelta(days=7 - week.starts_on.isoweekday()),
                ),
                _hours(week.capacity_minutes),
                _hours(week.used_minutes),
                *(_hours(week.by_kind.get(kind, 0)) for kind in DutyKind),
                sum(answer.lines[name].duty.apiary is not None for name in week.duties),
            )
            for week in answer.plan.weeks
        ],
        title=help_text("cli.season.weeks_title"),
    )
    share = within(answer)
    if share is not None:
        print_line("season.bound", bound=round(answer.plan.bound, 2), within_share=share)
    if answer.plan.missed:
        print_line("season.sum_missed", count=len(answer.plan.missed))
    left = answer.plan.left_out
    if left:
        print_table(
            ("cli.column.apiary", "season.kind", "season.asked_why", "season.left_why"),
            [
                (
                    answer.lines[name].duty.apiary or name,
                    help_text(f"season.kind_{answer.lines[name].duty.kind}"),
                    "; ".join(map(tell, answer.lines[name].why)),
                    tell(why),
                )
                for name, why in left[:SHOWN]
            ],
            title=help_text("cli.season.left_title", count=len(left)),
        )


def _hours(minutes: int) -> float:
    return round(minutes / MINUTES_AN_HOUR, 1)
