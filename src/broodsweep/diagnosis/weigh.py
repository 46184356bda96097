"""The use of the room: observations in; probabilities, reasons, next tests, duty out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from broodsweep.diagnosis import constants as c
from broodsweep.diagnosis.conditions import Condition, Stage
from broodsweep.diagnosis.decide import Decision, Thresholds, decide
from broodsweep.diagnosis.infer import Belief, beliefs, stage_shares, state_weights
from broodsweep.diagnosis.network import drawn_network
from broodsweep.diagnosis.next_test import NextTest, is_enough, next_tests
from broodsweep.diagnosis.observations import Observations
from broodsweep.diagnosis.reading import Result, interpret
from broodsweep.diagnosis.reasons import Assumption, Reason, assumptions, explain, result_text
from broodsweep.register import Lot
from broodsweep.words import Message, say

_SHOWN_ASSUMPTIONS = 5


@dataclass(frozen=True, kw_only=True)
class Answer:
    """Everything that can be said about a colony from what was seen and tested."""

    conditions: tuple[Belief, ...]
    reasons: tuple[Reason, ...]
    next_tests: tuple[NextTest, ...]
    decision: Decision
    is_enough: bool
    results: tuple[Result, ...]
    notes: tuple[Message, ...]
    assumptions: tuple[Assumption, ...]
    stages: Mapping[Condition, Mapping[Stage, float]]

    @property
    def lead(self) -> Belief:
        """The most probable answer."""
        return self.conditions[0]


def posterior(
    observed: Observations,
    results: tuple[Result, ...] = (),
    *,
    seed: int = int(c.SEED.value),
    draws: int = int(c.DRAWS.value),
) -> tuple[Belief, ...]:
    """Return the probability of every condition with its interval, the most probable first."""
    return beliefs(state_weights(drawn_network(seed, draws), observed, results, seed=seed))


def weigh(
    observed: Observations,
    *,
    lots: tuple[Lot, ...] | None = None,
    thresholds: Thresholds | None = None,
    seed: int = int(c.SEED.value),
    draws: int = int(c.DRAWS.value),
) -> Answer:
    """Weigh what was seen and tested on one colony.

    Parameters
    ----------
    observed
        What is known; what is not named was not looked at.
    lots
        The register of kit lots, None when there is none to look in.
    thresholds
        From the rulebook; the project's defaults when None.
    seed, draws
        Of the draws of the model's numbers that give the intervals.

    Raises
    ------
    ObservationError
        If a reading cannot be.
    """
    thresholds = thresholds or Thresholds()
    results = tuple(interpret(reading, lots) for reading in observed.tests)
    weights = state_weights(drawn_network(seed, draws), observed, results, seed=seed)
    believed = beliefs(weights)
    decision = decide(believed, observed, results, thresholds)
    further = next_tests(weights[:, 0], observed, results, decision, thresholds)
    asked = decision.conditions[0] if decision.conditions else believed[0].condition
    return Answer(
        conditions=believed,
        reasons=explain(observed, results, asked, seed=seed),
        next_tests=further,
        decision=decision,
        is_enough=is_enough(decision, further),
        results=results,
        notes=_notes(results),
        assumptions=assumptions(observed, results, asked, seed=seed)[:_SHOWN_ASSUMPTIONS],
        stages=stage_shares(weights),
    )


def _notes(results: tuple[Result, ...]) -> tuple[Message, ...]:
    notes = [note for result in results for note in result.notes]
    kept = [result_text(result) for result in results if result.outcome and not result.is_evidential]
    if kept:
        notes.append(say("diagnosis.note_not_evidential", results=kept))
    if any(result.is_positive is False and result.outcome and result.method.confirms for result in results):
        notes.append(say("diagnosis.note_negative"))
    notes.append(say("diagnosis.note_together"))
    notes.append(say("diagnosis.note_numbers"))
    return tuple(notes)
