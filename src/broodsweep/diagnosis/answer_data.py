"""An answer as plain data for JSON, its sentences written in the user's language."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from broodsweep.diagnosis.conditions import name_of
from broodsweep.diagnosis.infer import Belief
from broodsweep.diagnosis.next_test import NextTest
from broodsweep.diagnosis.reading import Result
from broodsweep.diagnosis.reasons import Assumption, Reason, result_text
from broodsweep.diagnosis.weigh import Answer
from broodsweep.words import Message, render, say

_SHOWN_NEXT = 8
Text = Callable[[Message], str]


def as_dict(answer: Answer, *, locale: str = "en") -> dict[str, Any]:
    """Return the answer as plain data for JSON, its sentences written in the user's language."""

    def text(message: Message) -> str:
        return render(message, locale)

    decision = answer.decision
    return {
        "conditions": [_belief(belief, text) for belief in answer.conditions],
        "reasons": [_reason(reason, text) for reason in answer.reasons],
        "next_tests": [_next_test(test, text) for test in answer.next_tests[:_SHOWN_NEXT]],
        "decision": {
            "state": str(decision.state),
            "conditions": [str(name) for name in decision.conditions],
            "text": text(decision.text),
        },
        "stages": {
            str(disease): {str(stage): share for stage, share in shares.items()}
            for disease, shares in answer.stages.items()
        },
        "enough": answer.is_enough,
        "duty": [text(message) for message in decision.duty],
        "not_looked_at": [text(message) for message in decision.not_looked_at],
        "tests": [_result(result, text) for result in answer.results],
        "notes": [text(message) for message in answer.notes],
        "assumptions": [_assumption(assumption) for assumption in answer.assumptions],
    }


def _belief(belief: Belief, text: Text) -> dict[str, Any]:
    return {
        "condition": belief.condition,
        "name": text(name_of(belief.condition)),
        "probability": belief.probability,
        "low": belief.low,
        "high": belief.high,
    }


def _reason(reason: Reason, text: Text) -> dict[str, Any]:
    return {
        "finding": reason.finding,
        "condition": reason.condition,
        "bits": reason.bits,
        "text": text(reason.text),
    }


def _result(result: Result, text: Text) -> dict[str, Any]:
    return {
        "test": result.method.name,
        "outcome": result.outcome or "invalid",
        "trust": result.trust,
        "evidential": result.is_evidential and result.outcome is not None,
        "text": text(result_text(result)),
    }


def _assumption(assumption: Assumption) -> dict[str, Any]:
    return {
        "number": assumption.where,
        "value": assumption.value,
        "source": assumption.source,
        "published": assumption.is_published,
        "at_low": assumption.at_low,
        "at_high": assumption.at_high,
    }


def _next_test(test: NextTest, text: Text) -> dict[str, Any]:
    return {
        "test": test.name,
        "kind": "test" if test.is_test else "look",
        "bits": test.bits,
        "decision_change_probability": test.decision_change_probability,
        "minutes": test.minutes,
        "cost": test.cost,
        "waiting_days": test.waiting_days,
        "bits_per_minute": test.bits_per_minute,
        "bits_per_cost": test.bits_per_cost,
        "decision_change_per_minute": test.decision_change_per_minute,
        "decision_change_per_cost": test.decision_change_per_cost,
        "how": None if test.is_test else text(say(f"diagnosis.ask.{test.name}")),
        "text": text(test.text),
    }
