"""The questions of `weigh` in the terminal: signs first, the telling ones, then what was bought, fed and tested."""

from __future__ import annotations

import sys
from dataclasses import replace

from broodsweep.cli.speech import help_text, tell
from broodsweep.diagnosis import Context, Observations, Reading, Season
from broodsweep.diagnosis.questions import next_question, question_for
from broodsweep.errors import BroodsweepError
from broodsweep.words import say


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
    context = Context(
        bought_in=_ask_yes_no("diagnosis.ui.ask_bought"), fed_honey=_ask_yes_no("diagnosis.ui.ask_fed")
    )
    return replace(observed, context=context, tests=_ask_tests())


def _ask_yes_no(key: str) -> bool | None:
    yes, no = help_text("diagnosis.ui.yes"), help_text("diagnosis.ui.no")
    said = _ask_word(help_text(key) + ":", (yes, no, ""))
    return None if said in (None, "") else said == yes


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
