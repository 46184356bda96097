"""`due`: what the rules require of each case, by when, and what is forbidden now."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Annotated

import typer

from broodsweep.cli.options import GroundOption, HomeOption, JsonOption, OnOption, RulebookOption
from broodsweep.cli.speech import help_text, print_json, print_line, print_message, print_table, tell
from broodsweep.outbreak import Due, DueState, Forbidden
from broodsweep.words import Message, say

COLUMNS = (
    "cli.column.outbreak",
    "cli.column.apiary",
    "cli.column.what",
    "cli.column.due",
    "cli.column.state",
    "cli.column.rule",
)


def due(
    ground: GroundOption = None,
    home: HomeOption = None,
    on: OnOption = None,
    rulebook: RulebookOption = None,
    all_: Annotated[bool, typer.Option("--all", help=help_text("cli.due.all"))] = False,
    as_json: JsonOption = False,
) -> None:
    """Say what the rules require, by when, and what is overdue or forbidden."""
    from broodsweep.bootstrap import open_desk
    from broodsweep.desk.overview import dues_of, forbidden_of

    with open_desk(
        ground=ground, home=home, on=on.date() if on else None, rulebook=rulebook, write=False
    ) as desk:
        today = desk.today()
        rows = dues_of(desk, today)
        bans = forbidden_of(desk, today)
    if as_json:
        print_json(
            {
                "on": today,
                "due": [row.as_record() for row in rows],
                "forbidden": [ban.as_record() for ban in bans],
                "remarks": desk.remarks,
            }
        )
        return
    for remark in desk.remarks:
        print_message(remark)
    shown = [row for row in rows if all_ or row.state != DueState.DONE]
    if shown:
        _print_dues(shown, title=help_text("cli.due.title", on=today))
    else:
        print_line("cli.due.none", on=today)
    if bans:
        print_line("cli.due.forbidden")
    for sentence in said_together(bans):
        print_message(sentence)


def _print_dues(rows: Sequence[Due], *, title: str) -> None:
    """Print the lines; each rule is numbered and written out once, below."""
    rules: dict[str, int] = {}
    for row in rows:
        rules.setdefault(tell(row.rule_text), len(rules) + 1)
    lines = [
        (
            row.outbreak,
            row.apiary,
            row.what,
            _when(row),
            say(f"outbreak.due_state.{row.state}"),
            rules[tell(row.rule_text)],
        )
        for row in rows
    ]
    print_table(COLUMNS, lines, title=title)
    print_line("cli.due.rules")
    for rule, number in rules.items():
        print_line("cli.due.rule", number=number, rule=rule)


def _when(row: Due) -> date | Message | None:
    if row.is_at_once and row.state is not DueState.NOT_YET_POSSIBLE:
        return say("cli.due.at_once", since_on=row.since_on)
    if row.earliest_on and row.due_on and row.earliest_on != row.due_on:
        return say("cli.due.window", first_on=row.earliest_on, last_on=row.due_on)
    return row.due_on


def said_together(bans: Iterable[Forbidden]) -> tuple[Message, ...]:
    """Return the bans in words, one sentence for all apiaries of an outbreak that the same ban holds for."""
    apiaries: dict[object, list[str]] = {}
    first: dict[object, Forbidden] = {}
    for ban in bans:
        same = (ban.outbreak, ban.key, ban.radius_m, ban.words)
        apiaries.setdefault(same, []).append(ban.apiary)
        first.setdefault(same, ban)
    return tuple(
        Message(ban.what.key, {**ban.what.params, "apiary": apiaries[same]}) for same, ban in first.items()
    )
