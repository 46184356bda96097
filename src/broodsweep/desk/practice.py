"""Practice on invented cases: what is shown, what is asked, how good the answers were, over time and by sign."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from broodsweep.desk.context import Desk
from broodsweep.desk.ports import Author
from broodsweep.desk.snapshot import Snapshot
from broodsweep.diagnosis import NOTHING_WRONG, Condition
from broodsweep.diagnosis.drill import (
    Attempt,
    Bin,
    DrillCase,
    Score,
    Step,
    brier_by_finding,
    calibration,
    calibration_over_time,
    make_case,
    model_answer,
    score,
)
from broodsweep.diagnosis.errors import ObservationError
from broodsweep.diagnosis.picture import DRAWABLE, draw_comb

PRACTICE = "practice"
"""Settings that keep the answers: one for each answered case, ``practice/<who>/<number>``."""
KEPT_CASES = 200
"""How many cases of a person are kept; older ones go (project choice: some seasons of practice)."""
WINDOW_CASES = 10
"""Cases in one step of the score over time (project choice)."""
ALWAYS = (Condition.AFB, Condition.EFB, NOTHING_WRONG)
WINDOW_ANSWERS = 5
"""Answers about one finding in one step of its calibration over time (project choice)."""
_DISTRACTORS = 3


@dataclass(frozen=True, kw_only=True)
class PracticeCase:
    """An invented case and what is asked about it: probabilities of conditions, and signs in the picture."""

    seed: int
    case: DrillCase
    picture: str
    conditions: tuple[str, ...]
    signs: tuple[str, ...]

    @property
    def told(self) -> tuple[str, ...]:
        """Signs that are there and cannot be drawn, to be told in words."""
        return tuple(sorted(self.case.seen - DRAWABLE))

    @property
    def drawn(self) -> tuple[str, ...]:
        """Signs that the picture shows."""
        return tuple(sorted(self.case.seen & DRAWABLE))

    @property
    def truth(self) -> tuple[str, ...]:
        """What the case is."""
        return tuple(sorted(str(name) for name in self.case.truth)) or (NOTHING_WRONG,)


@dataclass(frozen=True, kw_only=True)
class Marked:
    """An answered case: the truth, the score, and what the model would have said."""

    case: PracticeCase
    score: Score
    model: Mapping[str, float]
    model_score: Score
    signs: Mapping[str, bool]


@dataclass(frozen=True, kw_only=True)
class PracticeRecord:
    """How good somebody's answers have been: mean Brier score, calibration, over time, by finding.

    ``steps`` gives for each finding its calibration over time.
    """

    who: str
    cases: int
    brier: float | None
    bins: tuple[Bin, ...]
    over_time: tuple[float, ...]
    by_finding: tuple[tuple[str, float, int], ...]
    steps: Mapping[str, tuple[Step, ...]]


def practice_case(seed: int, *, locale: str = "en") -> PracticeCase:
    """Return the invented case of that number: the same number gives the same case."""
    rng = np.random.Generator(np.random.PCG64(seed))
    case = make_case(rng)
    there = [str(name) for name in sorted(case.truth) if name not in ALWAYS]
    absent = [str(name) for name in Condition if name not in case.truth and name not in ALWAYS]
    chosen = [*there, *(absent[int(i)] for i in rng.choice(len(absent), size=_DISTRACTORS, replace=False))]
    others = [chosen[int(i)] for i in rng.permutation(len(chosen))]
    signs = [
        names[int(rng.integers(len(names)))]
        for names in (sorted(case.seen & DRAWABLE), sorted(DRAWABLE - case.seen))
        if names
    ]
    return PracticeCase(
        seed=seed,
        case=case,
        picture=draw_comb(case.seen, rng, locale=locale),
        conditions=(*(str(name) for name in ALWAYS), *others),
        signs=tuple(signs[int(i)] for i in rng.permutation(len(signs))),
    )


def mark(case: PracticeCase, answers: Mapping[str, float], signs: Mapping[str, float]) -> Marked:
    """Score the answers to a case.

    Raises
    ------
    ObservationError
        If a condition was not answered, something was answered that was not asked, or an answer is not a
        probability.
    """
    asked = list(case.conditions)
    if set(answers) != set(asked) or not set(signs) <= set(case.signs):
        raise ObservationError("weigh.practice_answer_all", seed=str(case.seed))
    model = model_answer(case.case)
    for said in signs.values():
        score({"": said}, (), [""])  # refuses what is no probability
    return Marked(
        case=case,
        score=score(answers, case.case.truth, asked),
        model={name: model[name] for name in asked},
        model_score=score(model, case.case.truth, asked),
        signs={sign: sign in case.case.seen for sign in case.signs},
    )


def keep_answers(
    desk: Desk,
    author: Author,
    marked: Marked,
    answers: Mapping[str, float],
    signs: Mapping[str, float],
    on: date,
) -> None:
    """Keep the answers of whoever practised; of their oldest cases beyond the limit the answers go."""
    kept = _kept(desk.snapshot(), author.who)
    attempts = [[name, round(said, 3), name in marked.case.truth] for name, said in answers.items()]
    attempts += [[sign, round(said, 3), marked.signs[sign]] for sign, said in signs.items()]
    number = 1 + max((n for n, _ in kept), default=0)
    with desk.store.work(author, "practise") as work:
        work.set(
            f"{PRACTICE}/{author.who}/{number}",
            {
                "on": on.isoformat(),
                "seed": marked.case.seed,
                "brier": marked.score.brier,
                "attempts": attempts,
            },
        )
        for old, _ in kept[: max(0, len(kept) + 1 - KEPT_CASES)]:
            work.set(f"{PRACTICE}/{author.who}/{old}", None)


def practice_record(desk: Desk, who: str) -> PracticeRecord:
    """Return how good somebody's answers have been."""
    kept = [value for _, value in _kept(desk.snapshot(), who)]
    attempts = [attempt for value in kept for attempt in _attempts(value["attempts"])]
    scores = [float(value["brier"]) for value in kept]
    return PracticeRecord(
        who=who,
        cases=len(kept),
        brier=float(np.mean(scores)) if scores else None,
        bins=calibration(attempts),
        over_time=_windows(scores),
        steps=calibration_over_time(attempts, WINDOW_ANSWERS),
        by_finding=tuple((name, brier, count) for name, (brier, count) in brier_by_finding(attempts).items()),
    )


def _windows(scores: Sequence[float]) -> tuple[float, ...]:
    return tuple(
        float(np.mean(scores[start : start + WINDOW_CASES])) for start in range(0, len(scores), WINDOW_CASES)
    )


def _attempts(rows: Iterable[Sequence[Any]]) -> list[Attempt]:
    return [
        Attempt(finding=str(name), said_probability=float(said), was_true=bool(true))
        for name, said, true in rows
    ]


def _kept(kept: Snapshot, who: str) -> list[tuple[int, Mapping[str, Any]]]:
    """Return the answered cases of a person, the oldest first."""
    start = f"{PRACTICE}/{who}/"
    found = [
        (int(name.removeprefix(start)), value)
        for name, value in kept.settings.items()
        if name.startswith(start) and name.removeprefix(start).isdecimal()
    ]
    return sorted(found, key=lambda pair: pair[0])
