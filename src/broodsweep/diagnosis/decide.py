"""What follows: suspected, confirmed, look further; the plain duty; what was not looked at.

The thresholds and the kind of evidence that confirms come from the rulebook as arguments; the defaults
are the project's choice. A low probability never says "not diseased, carry on".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum

from broodsweep.constants import Disease
from broodsweep.diagnosis import constants as c
from broodsweep.diagnosis.conditions import EXOTICS, FOULBROODS, NOTHING_WRONG, Condition, name_of
from broodsweep.diagnosis.infer import Belief
from broodsweep.diagnosis.methods import Evidence, Method
from broodsweep.diagnosis.observations import Observations
from broodsweep.diagnosis.reading import Result
from broodsweep.rulebook import Rulebook
from broodsweep.words import Message, say

ESSENTIAL: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("cappings", ("caps_sunken", "caps_perforated")),
    ("sealed_odd", ("lone_sealed_cell",)),
    ("under_caps", ("dead_under_caps",)),
    ("open_larvae", ("larva_twisted", "dead_in_open")),
    ("colour", ("coffee_brown", "larva_yellow")),
    ("lower_wall", ("hard_scale",)),
    ("pattern", ("patchy",)),
)
"""What must be looked at before "nothing found" may be said: each item is done when one of its signs was looked for."""


_SURE = 0.99


class State(StrEnum):
    """Where the evidence leaves the colony."""

    CONFIRMED = "confirmed"
    SUSPECTED = "suspected"
    LOOK_FURTHER = "look_further"
    OTHER_CONDITION = "other_condition"
    NOTHING_FOUND = "nothing_found"


@dataclass(frozen=True, kw_only=True)
class Thresholds:
    """From which probability, and on which evidence, a case is suspected or confirmed.

    ``confirm_by`` lists, for each foulbrood, the kinds of evidence that confirm it where this rulebook
    holds. The defaults are the project's choice and ask for a laboratory.
    """

    suspect_probability: float = c.SUSPECT_PROBABILITY.value
    exotic_probability: float = c.EXOTIC_PROBABILITY.value
    confirm_probability: float = c.CONFIRM_PROBABILITY.value
    confirm_by: Mapping[Condition, frozenset[Evidence]] = field(
        default_factory=lambda: dict.fromkeys(FOULBROODS, frozenset({Evidence.LABORATORY}))
    )

    def __post_init__(self) -> None:
        for name in ("suspect_probability", "exotic_probability", "confirm_probability"):
            if not 0.0 < getattr(self, name) < 1.0:
                raise ValueError(f"Expected {name} between 0 and 1, got {getattr(self, name)}.")

    def is_confirmed_by(self, method: Method) -> bool:
        """Say whether a positive of this test is evidence of a kind that confirms its target here.

        Where signs confirm, a rope that only American foulbrood makes does.
        """
        accepted = self.confirm_by.get(method.target, frozenset())
        fit = method.confirms or (method.is_specific and method.evidence is Evidence.FIELD_LOOK)
        return fit and method.evidence in accepted


def thresholds_from(book: Rulebook, on: date) -> Thresholds:
    """Return the thresholds with the evidence that a rulebook asks for on a day.

    The probabilities are the rulebook's too (a project choice there, to be changed locally: no law names one); of
    the two diseases the lower counts for suspicion, the higher for confirmation.
    """
    confirm_by = {}
    limits = [rule for disease in Disease if (rule := book.find("weigh.limits", disease, on)) is not None]
    for disease in Disease:
        rule = book.find("confirm.by", disease, on)
        words = rule.value if rule is not None and isinstance(rule.value, (list, tuple)) else ()
        kinds = frozenset(Evidence(word) for word in words if word in tuple(Evidence))
        confirm_by[Condition(disease.value)] = kinds or frozenset({Evidence.LABORATORY})
    if not limits:
        return Thresholds(confirm_by=confirm_by)
    return Thresholds(
        suspect_probability=min(rule.figure("suspect_share") for rule in limits),
        confirm_probability=max(rule.figure("confirm_share") for rule in limits),
        confirm_by=confirm_by,
    )


@dataclass(frozen=True, kw_only=True)
class Decision:
    """What follows for the colony; ``conditions`` are those it is suspected or confirmed for."""

    state: State
    conditions: tuple[Condition, ...]
    text: Message
    duty: tuple[Message, ...]
    not_looked_at: tuple[Message, ...]


def in_words(probability: float) -> Message:
    """Write a probability with two decimals, never as certainty: at the ends, over 0.99 or under 0.01."""
    if probability > _SURE:
        return say("diagnosis.chance.over")
    if probability < 1.0 - _SURE:
        return say("diagnosis.chance.under")
    return say("diagnosis.chance.about", value_probability=probability)


def missing_looks(observed: Observations, results: tuple[Result, ...]) -> tuple[Message, ...]:
    """Return what was not looked at, in words; never empty talk: each item names the place on the comb."""
    found = [
        say(f"diagnosis.unseen.{name}")
        for name, signs in ESSENTIAL
        if not any(sign in observed.signs for sign in signs)
    ]
    if not any(result.method.name == "ropiness" and result.outcome for result in results):
        found.append(say("diagnosis.unseen.rope"))
    return tuple(found)


def decide(
    believed: tuple[Belief, ...],
    observed: Observations,
    results: tuple[Result, ...],
    thresholds: Thresholds,
) -> Decision:
    """Return what follows from the probabilities and from the kind of evidence."""
    chance = {belief.condition: belief.probability for belief in believed}
    unseen = missing_looks(observed, results)
    confirmed = tuple(
        disease for disease in FOULBROODS if _is_confirmed(disease, chance[disease], results, thresholds)
    )
    suspected = tuple(
        condition
        for condition in (*FOULBROODS, *EXOTICS)
        if condition not in confirmed and _is_suspected(condition, chance[condition], results, thresholds)
    )
    if confirmed:
        return _act(State.CONFIRMED, confirmed, suspected, chance, unseen)
    if suspected:
        found = _act(State.SUSPECTED, suspected, (), chance, unseen)
        accepted = {kind for name in suspected for kind in thresholds.confirm_by.get(name, ())}
        if not accepted:
            return found
        kinds = [say(f"diagnosis.evidence.{kind}") for kind in sorted(accepted)]
        return replace(found, duty=(*found.duty, say("diagnosis.duty.confirm", evidence=kinds)))
    return _no_suspicion(believed, chance, unseen)


def _is_confirmed(
    disease: Condition, probability: float, results: tuple[Result, ...], thresholds: Thresholds
) -> bool:
    return probability >= thresholds.confirm_probability and any(
        result.is_positive
        and result.is_evidential
        and result.method.target is disease
        and thresholds.is_confirmed_by(result.method)
        for result in results
    )


def _is_suspected(
    condition: Condition, probability: float, results: tuple[Result, ...], thresholds: Thresholds
) -> bool:
    """Say whether it must be reported: by probability, or because a specific test was positive."""
    limit = thresholds.exotic_probability if condition in EXOTICS else thresholds.suspect_probability
    specific = any(
        result.is_positive and result.method.target is condition and result.method.is_specific
        for result in results
    )
    return probability >= limit or specific


def _act(
    state: State,
    conditions: tuple[Condition, ...],
    also: tuple[Condition, ...],
    chance: Mapping[str, float],
    unseen: tuple[Message, ...],
) -> Decision:
    names = [name_of(condition) for condition in conditions]
    lead = conditions[0] if len(conditions) == 1 else max(conditions, key=lambda name: chance[name])
    text = say(f"diagnosis.state.{state}", conditions=names, lead=in_words(chance[lead]))
    duty = [
        say(f"diagnosis.duty.{name}")
        for name in ("notify", "close_up", "nothing_moves", "wash", "never_wait")
    ]
    if {*conditions, *also} & set(FOULBROODS):
        duty.append(say("diagnosis.duty.more_cells"))
    if {*conditions, *also} & set(EXOTICS):
        duty.append(say("diagnosis.duty.keep_specimen"))
    return Decision(
        state=state, conditions=conditions + also, text=text, duty=tuple(duty), not_looked_at=unseen
    )


def _no_suspicion(
    believed: tuple[Belief, ...], chance: Mapping[str, float], unseen: tuple[Message, ...]
) -> Decision:
    lead = believed[0]
    given = {"afb": in_words(chance[Condition.AFB]), "efb": in_words(chance[Condition.EFB])}
    again = [say("diagnosis.duty.wash"), say("diagnosis.duty.look_again")]
    if unseen:
        text = say("diagnosis.state.look_further", unseen=list(unseen), **given)
        return Decision(
            state=State.LOOK_FURTHER,
            conditions=(),
            text=text,
            duty=(say("diagnosis.duty.until_looked"), *again),
            not_looked_at=unseen,
        )
    if lead.condition != NOTHING_WRONG:
        text = say("diagnosis.state.other_condition", condition=name_of(lead.condition), **given)
        duty = [say("diagnosis.duty.recheck"), *again]
        if lead.condition == Condition.STONEBROOD:
            duty.insert(0, say("diagnosis.duty.lungs"))
        return Decision(
            state=State.OTHER_CONDITION, conditions=(), text=text, duty=tuple(duty), not_looked_at=()
        )
    text = say("diagnosis.state.nothing_found", **given)
    return Decision(state=State.NOTHING_FOUND, conditions=(), text=text, duty=tuple(again), not_looked_at=())
