"""`weigh --drill`: invented cases to practise on, scored with a proper rule and kept for calibration."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np

from broodsweep.cli.speech import LOCALE, help_text, print_json, print_line
from broodsweep.cli.weigh_questions import ask_line
from broodsweep.diagnosis import Condition, Reading, interpret, name_of
from broodsweep.diagnosis.conditions import NOTHING_WRONG
from broodsweep.diagnosis.drill import (
    Attempt,
    DrillCase,
    brier_by_finding,
    brier_over_time,
    calibration,
    calibration_over_time,
    make_case,
    model_answer,
    score,
)
from broodsweep.diagnosis.picture import DRAWABLE, draw_comb
from broodsweep.diagnosis.reasons import result_text
from broodsweep.errors import TroubleError
from broodsweep.words import Message, say

_DISTRACTORS = 3
_WINDOW = 30
_ANSWERS = 5
_ALWAYS = (Condition.AFB, Condition.EFB, NOTHING_WRONG)


def practise(*, number: int, seed: int, pictures: Path | None, record: Path | None, as_json: bool) -> None:
    """Give the cases one after the other; as JSON, give them with their truth and the model's answer."""
    rng = np.random.Generator(np.random.PCG64(seed))
    cases = [make_case(rng) for _ in range(number)]
    drawings = [draw_comb(case.seen, rng, locale=LOCALE) for case in cases]
    if as_json:
        print_json({"seed": seed, "cases": [_as_dict(c, d) for c, d in zip(cases, drawings, strict=True)]})
        return
    attempts: list[Attempt] = []
    scores = []
    for count, (case, drawing) in enumerate(zip(cases, drawings, strict=True), start=1):
        asked = [*_ALWAYS, *_others(case, rng)]
        _tell(case, count, seed)
        _save_picture(drawing, pictures, count)
        answer = _answers(asked)
        if answer is None:
            break
        true = case.truth or {NOTHING_WRONG}
        given = score(answer, case.truth, asked)
        scores.append(given.brier)
        attempts += [
            Attempt(finding=str(name), said_probability=said, was_true=name in true)
            for name, said in answer.items()
        ]
        if pictures is not None:
            attempts += _ask_signs(case, rng)
        print_line("diagnosis.drill.truth", conditions=[name_of(name) for name in sorted(true)])
        best = score(model_answer(case), case.truth, asked)
        print_line(
            "diagnosis.drill.score",
            brier=round(given.brier, 3),
            log=round(given.log_bits, 2),
            model=round(best.brier, 3),
        )
    _summary(_kept(record, attempts), scores)


def _others(case: DrillCase, rng: Any) -> list[str]:
    """Return further conditions to ask about: those that are there, and some that are not."""
    there = [name for name in case.truth if name not in _ALWAYS]
    absent = [name for name in Condition if name not in case.truth and name not in _ALWAYS]
    chosen = [*there, *(absent[int(i)] for i in rng.choice(len(absent), size=_DISTRACTORS, replace=False))]
    return [str(chosen[int(i)]) for i in rng.permutation(len(chosen))]


def _tell(case: DrillCase, count: int, seed: int) -> None:
    print_line("diagnosis.drill.intro", number=count, seed=seed)
    if case.observed.season is not None:
        print_line("diagnosis.drill.season", season=say(f"diagnosis.season.{case.observed.season}"))
    seen, absent = _named(case, seen=True), _named(case, seen=False)
    if seen:
        print_line("diagnosis.drill.seen", signs=seen)
    else:
        print_line("diagnosis.drill.nothing")
    if absent:
        print_line("diagnosis.drill.absent", signs=absent)
    if case.observed.tests:
        print_line("diagnosis.drill.tested", tests=[_tested(reading) for reading in case.observed.tests])


def _named(case: DrillCase, *, seen: bool) -> list[Message]:
    return [say(f"diagnosis.sign.{sign}") for sign, is_seen in case.observed.signs.items() if is_seen is seen]


def _tested(reading: Reading) -> Message:
    return result_text(interpret(reading))


def _save_picture(drawing: str, pictures: Path | None, count: int) -> None:
    if pictures is None:
        return
    path = pictures / f"case-{count}.svg"
    try:
        pictures.mkdir(parents=True, exist_ok=True)
        path.write_text(drawing, encoding="utf-8")
    except OSError as error:
        raise TroubleError("diagnosis.error_no_write", file=str(path), why=str(error)) from error
    print_line("diagnosis.drill.picture", file=str(path))


def _ask_probability(prompt: str) -> float | None:
    """Ask until a probability is given; None when nobody answers, or to stop."""
    stop = help_text("diagnosis.ui.stop")
    while (said := ask_line(prompt)) not in (None, stop):
        try:
            value = float((said or "").replace(",", "."))
        except ValueError:
            value = -1.0
        if 0.0 <= value <= 1.0:
            return value
    return None


def _answers(asked: list[Any]) -> dict[str, float] | None:
    found = {}
    for name in asked:
        said = _ask_probability(help_text("diagnosis.drill.question", condition=name_of(name)))
        if said is None:
            return None
        found[str(name)] = said
    return found


def _ask_signs(case: DrillCase, rng: Any) -> list[Attempt]:
    """Ask about one sign that is in the picture and one that is not."""
    found = []
    for there in (True, False):
        names = sorted(sign for sign in DRAWABLE if (sign in case.seen) is there)
        if not names:
            continue
        sign = names[int(rng.integers(len(names)))]
        prompt = help_text("diagnosis.drill.sign_question", sign=say(f"diagnosis.sign.{sign}"))
        said = _ask_probability(prompt)
        if said is None:
            break
        found.append(Attempt(finding=sign, said_probability=said, was_true=there))
    return found


def _kept(record: Path | None, attempts: list[Attempt]) -> list[Attempt]:
    """Add the attempts to the record and return all of it, or only these where none is kept."""
    if record is None:
        return attempts
    try:
        with record.open("a", encoding="utf-8") as file:
            for attempt in attempts:
                file.write(json.dumps([attempt.finding, attempt.said_probability, attempt.was_true]) + "\n")
        lines = record.read_text(encoding="utf-8").splitlines()
        rows = [json.loads(line) for line in lines if line.strip()]
        return [Attempt(finding=name, said_probability=said, was_true=true) for name, said, true in rows]
    except (OSError, ValueError, TypeError) as error:
        raise TroubleError("diagnosis.error_no_write", file=str(record), why=str(error)) from error


def _summary(attempts: list[Attempt], scores: list[float]) -> None:
    if not attempts:
        return
    sys.stdout.write("\n")
    if scores:
        print_line("diagnosis.drill.average", count=len(scores), brier=round(sum(scores) / len(scores), 3))
    for group in calibration(attempts):
        print_line(
            "diagnosis.drill.bin",
            count=group.count,
            said_probability=group.said_probability,
            true_share=group.true_share,
        )
    windows = brier_over_time(attempts, _WINDOW)
    if len(windows) > 1:
        print_line("diagnosis.drill.over_time", windows=[round(window, 3) for window in windows])
    steps = calibration_over_time(attempts, _ANSWERS)
    for finding, (brier, count) in brier_by_finding(attempts).items():
        known = finding in (*Condition, NOTHING_WRONG)
        name = name_of(finding) if known else say(f"diagnosis.sign.{finding}")
        print_line("diagnosis.drill.sign_bin", sign=name, brier=round(brier, 3), count=count)
        if len(steps[finding]) > 1:
            print_line(
                "diagnosis.drill.sign_steps",
                steps=[
                    say(
                        "diagnosis.drill.sign_step",
                        said_probability=step.said_probability,
                        true_share=step.true_share,
                    )
                    for step in steps[finding]
                ],
            )


def _as_dict(case: DrillCase, drawing: str) -> dict[str, Any]:
    return {
        "season": case.observed.season,
        "signs": case.observed.signs,
        "tests": [
            {"test": result.method.name, "outcome": result.outcome}
            for result in (interpret(reading) for reading in case.observed.tests)
        ],
        "truth": sorted(case.truth) or [NOTHING_WRONG],
        "model": model_answer(case),
        "picture": drawing,
    }
