"""Turns the desk's answers about practice into shapes, in the user's language."""

from __future__ import annotations

from dataclasses import dataclass

from broodsweep.desk.practice import WINDOW_ANSWERS, WINDOW_CASES, Marked, PracticeCase, PracticeRecord
from broodsweep.diagnosis import NOTHING_WRONG, Condition, interpret, name_of
from broodsweep.diagnosis.reasons import result_text
from broodsweep.web.shapes import practice as p
from broodsweep.web.shapes.base import shape
from broodsweep.words import Message, render, say


@dataclass(frozen=True)
class PracticeShaper:
    """Shapes answers about practice in one language."""

    locale: str

    def say(self, key: str, **params: object) -> str:
        """Put a key into words."""
        return render(say(key, **params), self.locale)

    def words(self, message: Message) -> str:
        """Put a sentence into words."""
        return render(message, self.locale)

    def practice_case(self, case: PracticeCase) -> p.PracticeCaseShape:
        """Shape an invented case without its truth."""
        observed = case.case.observed
        absent = [sign for sign, is_seen in observed.signs.items() if not is_seen]
        return p.PracticeCaseShape(
            seed=case.seed,
            picture=case.picture,
            in_words=[self.say(f"diagnosis.sign.{sign}") for sign in case.drawn],
            season=self.say(f"diagnosis.season.{observed.season}") if observed.season else None,
            told=[self.say(f"diagnosis.sign.{sign}") for sign in case.told],
            absent=[self.say(f"diagnosis.sign.{sign}") for sign in absent if sign not in case.signs],
            tests=[self.words(result_text(interpret(reading))) for reading in observed.tests],
            conditions=[
                p.PracticeConditionShape(condition=name, name=self.words(name_of(name)))
                for name in case.conditions
            ],
            signs=[
                p.PracticeSignShape(sign=sign, name=self.say(f"diagnosis.sign.{sign}")) for sign in case.signs
            ],
        )

    def marked(self, marked: Marked, answer: p.PracticeAnswer, record: PracticeRecord) -> p.MarkedShape:
        """Shape an answered case."""
        truth = marked.case.truth
        return p.MarkedShape(
            truth=[self.words(name_of(name)) for name in truth],
            brier=marked.score.brier,
            log_bits=marked.score.log_bits,
            model_brier=marked.model_score.brier,
            conditions=[
                p.MarkedConditionShape(
                    condition=name,
                    name=self.words(name_of(name)),
                    said=answer.conditions[name],
                    is_so=name in truth,
                    model=marked.model[name],
                )
                for name in marked.case.conditions
            ],
            signs=[
                p.MarkedSignShape(
                    sign=sign,
                    name=self.say(f"diagnosis.sign.{sign}"),
                    said=said,
                    is_so=marked.signs[sign],
                )
                for sign, said in answer.signs.items()
            ],
            record=self.record(record),
        )

    def record(self, record: PracticeRecord) -> p.PracticeRecordShape:
        """Shape how good somebody's answers have been."""
        return p.PracticeRecordShape(
            who=record.who,
            cases=record.cases,
            brier=record.brier,
            bins=[shape(p.BinShape, row, self.locale) for row in record.bins],
            window=WINDOW_CASES,
            over_time=list(record.over_time),
            answers_in_step=WINDOW_ANSWERS,
            by_finding=[
                p.FindingScoreShape(
                    finding=name,
                    name=self.say(f"diagnosis.sign.{name}") if _is_sign(name) else self.words(name_of(name)),
                    is_sign=_is_sign(name),
                    brier=brier,
                    count=count,
                    steps=[shape(p.CalibrationStepShape, step, self.locale) for step in record.steps[name]],
                )
                for name, brier, count in record.by_finding
            ],
        )


def _is_sign(finding: str) -> bool:
    return finding not in (*Condition, NOTHING_WRONG)
