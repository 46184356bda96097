"""`weigh`: observations from a file or from questions; probabilities, reasons, next tests and duty out."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from broodsweep.cli.options import GroundOption, HomeOption, JsonOption, OnOption, RulebookOption
from broodsweep.cli.speech import LOCALE, help_text, print_json, print_line, print_message, print_table
from broodsweep.errors import BroodsweepError
from broodsweep.words import say

if TYPE_CHECKING:
    from broodsweep.diagnosis import Answer, Thresholds
    from broodsweep.register import Lot

_SHOWN_CONDITIONS, _SHOWN_REASONS, _SHOWN_NEXT = 8, 3, 5
_LEAST_SHOWN = 0.005
_LEAST_BITS = 0.02
SEED = 1


def weigh(
    file: Annotated[
        Path | None,
        typer.Argument(metavar="FILE", help=help_text("diagnosis.ui.file"), show_default=False),
    ] = None,
    list_signs: Annotated[bool, typer.Option("--signs", help=help_text("diagnosis.ui.signs"))] = False,
    guide: Annotated[
        str | None,
        typer.Option("--guide", metavar="TEST", help=help_text("diagnosis.ui.guide"), show_default=False),
    ] = None,
    simple: Annotated[bool, typer.Option("--simple", help=help_text("diagnosis.ui.simple"))] = False,
    drill: Annotated[bool, typer.Option("--drill", help=help_text("diagnosis.ui.drill"))] = False,
    number: Annotated[
        int, typer.Option("--cases", min=1, max=200, help=help_text("diagnosis.ui.number"))
    ] = 5,
    seed: Annotated[int, typer.Option("--seed", min=0, help=help_text("diagnosis.ui.seed"))] = SEED,
    pictures: Annotated[
        Path | None,
        typer.Option(
            "--pictures", metavar="DIR", help=help_text("diagnosis.ui.pictures"), show_default=False
        ),
    ] = None,
    record: Annotated[
        Path | None,
        typer.Option("--record", metavar="FILE", help=help_text("diagnosis.ui.record"), show_default=False),
    ] = None,
    ground: GroundOption = None,
    home: HomeOption = None,
    on: OnOption = None,
    rulebook: RulebookOption = None,
    as_json: JsonOption = False,
) -> None:
    """Weigh what was seen and tested on a comb."""
    if list_signs:
        _list_signs(as_json=as_json)
    elif guide is not None:
        _show_guide(guide, as_json=as_json)
    elif drill:
        from broodsweep.cli.weigh_drill import practise

        practise(number=number, seed=seed, pictures=pictures, record=record, as_json=as_json)
    else:
        _weigh(file, simple=simple, ground=ground, home=home, on=on, rulebook=rulebook, as_json=as_json)


def _weigh(
    file: Path | None,
    *,
    simple: bool,
    ground: Path | None,
    home: Path | None,
    on: datetime | None,
    rulebook: str | None,
    as_json: bool,
) -> None:
    from broodsweep.diagnosis import as_dict, from_mapping
    from broodsweep.diagnosis import weigh as weigh_observations

    lots = _lots_of(ground, home) if ground is not None or home is not None else None
    if file is None:
        from broodsweep.cli.weigh_questions import ask

        observed = ask(simple=simple)
    else:
        observed, listed = from_mapping(read_json(file))
        lots = lots if listed is None else listed
    if on is not None:
        tests = tuple(
            reading if reading.done_on else replace(reading, done_on=on.date()) for reading in observed.tests
        )
        observed = replace(observed, tests=tests)
    answer = weigh_observations(observed, lots=lots, thresholds=_thresholds(rulebook, home, on))
    if as_json:
        print_json(as_dict(answer, locale=LOCALE))
    else:
        show(answer)


def _thresholds(rulebook: str | None, home: Path | None, on: datetime | None) -> Thresholds | None:
    if rulebook is None:
        return None
    from broodsweep.bootstrap import books_for, clock
    from broodsweep.diagnosis import thresholds_from
    from broodsweep.rulebook import get_book

    day = (on or clock()).date()
    return thresholds_from(get_book(books_for(home), rulebook), day)


def _lots_of(ground: Path | None, home: Path | None) -> tuple[Lot, ...]:
    from broodsweep.bootstrap import open_desk

    with open_desk(ground=ground, home=home) as desk:
        return desk.snapshot().ground.lots


def read_json(file: Path) -> Any:
    """Read a JSON file, or standard input for ``-``.

    Raises
    ------
    BroodsweepError
        If it cannot be read or is not JSON; the sentence says where.
    """
    try:
        content = sys.stdin.read() if str(file) == "-" else file.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise BroodsweepError("diagnosis.error_no_file", file=str(file), why=str(error)) from error
    try:
        return json.loads(content)
    except json.JSONDecodeError as error:
        raise BroodsweepError(
            "diagnosis.error_not_json", file=str(file), line=error.lineno, column=error.colno
        ) from error


def show(answer: Answer) -> None:
    """Print an answer for people: what, why, what next, what to do now."""
    from broodsweep.diagnosis import name_of
    from broodsweep.diagnosis.decide import in_words
    from broodsweep.diagnosis.numbers_said import number_said

    print_table(
        ("diagnosis.ui.heading", "diagnosis.ui.probability", "diagnosis.ui.interval"),
        [
            (name_of(b.condition), in_words(b.probability), f"{b.low:.2f}–{b.high:.2f}")
            for b in answer.conditions[:_SHOWN_CONDITIONS]
            if b.probability >= _LEAST_SHOWN
        ],
    )
    _section("diagnosis.ui.decision", [answer.decision.text])
    _section("diagnosis.ui.duty", list(answer.decision.duty))
    carrying = [reason.text for reason in answer.reasons if reason.bits > 0]
    against = [reason.text for reason in answer.reasons if reason.bits < 0]
    _section("diagnosis.ui.reasons", carrying[:_SHOWN_REASONS])
    _section("diagnosis.ui.against", against[:1])
    if answer.is_enough:
        print_line("diagnosis.ui.enough")
    _section("diagnosis.ui.next", _worth_showing(answer))
    _section("diagnosis.ui.unseen", list(answer.decision.not_looked_at))
    if answer.assumptions:
        first = answer.assumptions[0]
        low, high = sorted((first.at_low, first.at_high))
        row = say(
            "diagnosis.ui.assumption_row",
            number=number_said(first.where),
            value_probability=first.value,
            low=in_words(low),
            high=in_words(high),
        )
        _section("diagnosis.ui.assumptions", [row])
    _section("diagnosis.ui.notes", list(answer.notes))


def _worth_showing(answer: Answer) -> list[Any]:
    worth = [test for test in answer.next_tests if test.bits >= _LEAST_BITS]
    return [_next_row(test) for test in worth[:_SHOWN_NEXT]]


def _next_row(test: Any) -> Any:
    from broodsweep.diagnosis.decide import in_words

    days = say("common.days", count=int(test.waiting_days))
    return say(
        "diagnosis.ui.next_row",
        text=test.text,
        bits=round(test.bits, 2),
        change=in_words(test.decision_change_probability),
        minutes=test.minutes,
        waiting=say("diagnosis.ui.waiting", days=days) if test.waiting_days else "",
    )


def _section(key: str, messages: list[Any]) -> None:
    if not messages:
        return
    print_line(key)
    for message in messages:
        sys.stdout.write("  · ")
        print_message(message)
    sys.stdout.write("\n")


def _list_signs(*, as_json: bool) -> None:
    from broodsweep.diagnosis import METHODS, Condition, signs

    if as_json:
        print_json(
            {
                "signs": [
                    {"sign": s, "text": say(f"diagnosis.sign.{s}"), "question": say(f"diagnosis.ask.{s}")}
                    for s in signs()
                ],
                "tests": [
                    {
                        "test": method.name,
                        "text": say(f"diagnosis.test.{method.name}"),
                        "outcomes": [*method.outcomes, "invalid"],
                        "minutes": method.minutes,
                        "waiting_days": method.waiting_days,
                    }
                    for method in METHODS.values()
                ],
                "conditions": list(Condition),
            }
        )
        return
    print_line("diagnosis.ui.signs_heading")
    for sign in signs():
        print_line("diagnosis.ui.sign_row", name=f"{sign:18}", text=say(f"diagnosis.sign.{sign}"))
    sys.stdout.write("\n")
    print_line("diagnosis.ui.tests_heading")
    for method in METHODS.values():
        outcomes = [say(f"diagnosis.outcome.{name}") for name in method.outcomes]
        name = say(f"diagnosis.test.{method.name}")
        row = say("diagnosis.ui.test_row", test=name, outcomes=outcomes)
        print_line("diagnosis.ui.sign_row", name=f"{method.name:18}", text=row)


def _show_guide(test: str, *, as_json: bool) -> None:
    from broodsweep.diagnosis import guide_to, guides

    known = [guide.test for guide in guides()]
    if test not in known:
        raise BroodsweepError("diagnosis.error_unknown_test", test=test, known=known)
    found = guide_to(test)
    if as_json:
        print_json(found)
        return
    for caution in found.cautions:
        print_line("diagnosis.ui.caution", text=caution)
    for count, step in enumerate(found.steps, start=1):
        key = "diagnosis.ui.step" if step.timer_s is None else "diagnosis.ui.step_timed"
        print_line(key, number=count, text=step.text, seconds=int(step.timer_s or 0))
