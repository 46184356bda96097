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
from broodsweep.cli.speech import LOCALE, help_text, print_json, print_line, print_message, print_table, tell
from broodsweep.errors import BroodsweepError
from broodsweep.words import say

if TYPE_CHECKING:
    from broodsweep.diagnosis import Answer, Observations, Thresholds
    from broodsweep.diagnosis.reading import Reading
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


def ask_line(prompt: str) -> str | None:
    """Ask for one line; None when nobody answers any more."""
    sys.stderr.write(f"{prompt} ")
    sys.stderr.flush()
    line = sys.stdin.readline()
    return line.strip() if line else None


def ask(*, simple: bool) -> Observations:
    """Lead somebody through the questions, the telling ones first, until they stop.

    Raises
    ------
    BroodsweepError
        If nobody answers.
    """
    from broodsweep.diagnosis import Observations, Season
    from broodsweep.diagnosis.questions import next_question, question_for

    season = ask_line(help_text("diagnosis.ui.ask_season") + ":")
    if season is None:
        raise BroodsweepError("diagnosis.error_need_terminal")
    known = season if season in tuple(Season) else None
    observed = Observations(
        season=Season(known) if known else None, observer="untrained" if simple else "trained"
    )
    yes, no, stop = (help_text(f"diagnosis.ui.{word}") for word in ("yes", "no", "stop"))
    asked: set[str] = set()
    while (sign := next_question(observed, frozenset(asked))) is not None:
        asked.add(sign)
        question = tell(question_for(sign, simple=simple))
        row = help_text("diagnosis.ui.question_row", number=len(asked), question=question)
        said = _ask_word(f"{row} [{help_text('diagnosis.ui.answer_hint')}]", (yes, no, stop, ""))
        if said in (None, stop):
            break
        if said in (yes, no):
            observed = replace(observed, signs={**observed.signs, sign: said == yes})
    return replace(observed, tests=_ask_tests())


def _ask_word(prompt: str, words: tuple[str, ...]) -> str | None:
    """Ask until one of the words (or its first letter) is given; None when nobody answers."""
    while (said := ask_line(prompt)) is not None:
        lowered = said.casefold()
        found = [word for word in words if word == lowered or (lowered and word[:1] == lowered)]
        if found:
            return found[0]
        prompt = help_text("diagnosis.ui.not_understood", hint=help_text("diagnosis.ui.answer_hint"))
    return None


def _ask_tests() -> tuple[Reading, ...]:
    from broodsweep.diagnosis import Reading

    found = []
    length = _ask_number("diagnosis.ui.ask_rope")
    if length is not None:
        found.append(Reading(test="ropiness", length_mm=length))
    for disease in ("AFB", "EFB"):
        prompt = help_text("diagnosis.ui.ask_lines", disease=say(f"disease.{disease}"))
        said = (ask_line(prompt + ":") or "").upper()
        if not said:
            continue
        lines = (
            frozenset() if said == help_text("diagnosis.ui.none").upper() else frozenset(said) - set(" ,+")
        )
        found.append(
            Reading(
                test=f"lateral_flow_{disease.lower()}",
                lines=lines,
                read_after_min=_ask_number("diagnosis.ui.ask_minutes"),
                lot=ask_line(help_text("diagnosis.ui.ask_lot") + ":") or None,
            )
        )
    return tuple(found)


def _ask_number(key: str) -> float | None:
    prompt = help_text(key)
    while said := ask_line(prompt + ":"):
        try:
            return float(said.replace(",", "."))
        except ValueError:
            prompt = help_text("diagnosis.ui.not_understood", hint=help_text(key))
    return None


def show(answer: Answer) -> None:
    """Print an answer for people: what, why, what next, what to do now."""
    from broodsweep.diagnosis import name_of
    from broodsweep.diagnosis.decide import in_words

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
            number=first.where,
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
    days = say("common.days", count=int(test.waiting_days))
    return say(
        "diagnosis.ui.next_row",
        text=test.text,
        bits=round(test.bits, 2),
        change_probability=test.decision_change_probability,
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
