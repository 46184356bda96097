"""Which question to ask next: first what must always be looked at, then what tells most."""

from __future__ import annotations

from broodsweep.diagnosis.decide import ESSENTIAL, Thresholds, decide
from broodsweep.diagnosis.infer import beliefs, state_weights
from broodsweep.diagnosis.network import point_network
from broodsweep.diagnosis.next_test import next_tests
from broodsweep.diagnosis.observations import Observations
from broodsweep.diagnosis.reading import interpret
from broodsweep.words import Message, say

OPENING = ("patchy", "caps_sunken", "dead_in_open", "coffee_brown", "larva_twisted", "lone_sealed_cell")
"""Asked first, whatever is answered: what a keeper can see with the comb in hand. Project choice."""
MOST_QUESTIONS = 18
"""A telephone call that is longer gets careless answers. Project choice."""
WORTH_ASKING_BITS = 0.002
AT_ONCE_MIN = 4.0


def question_for(sign: str, *, simple: bool) -> Message:
    """Return the question about a sign: in simple words, or by its name."""
    return say(f"diagnosis.ask.{sign}" if simple else f"diagnosis.sign.{sign}")


def next_question(observed: Observations, asked: frozenset[str] = frozenset()) -> str | None:
    """Return the sign to ask about next, None when the rest would tell next to nothing.

    Parameters
    ----------
    observed
        What is known so far.
    asked
        Signs already asked about, answered or not.
    """
    if len(asked) >= MOST_QUESTIONS:
        return None
    done = asked | set(observed.signs)
    essential = [signs[0] for _, signs in ESSENTIAL if not done & set(signs)]
    opening = [sign for sign in OPENING if sign not in done]
    if opening or essential:
        return (opening or essential)[0]
    results = tuple(interpret(reading) for reading in observed.tests)
    weights = state_weights(point_network(), observed, results, seed=0)
    decision = decide(beliefs(weights), observed, results, Thresholds())
    further = next_tests(weights[:, 0], observed, results, decision, Thresholds())
    for test in further:
        if test.is_test or test.name in done or test.minutes > AT_ONCE_MIN:
            continue
        return test.name if test.bits >= WORTH_ASKING_BITS else None
    return None
