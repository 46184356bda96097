"""The decision: never "carry on" on little evidence, duty in plain words, thresholds from outside."""

from __future__ import annotations

import pytest

from broodsweep.diagnosis import (
    Condition,
    Evidence,
    Observations,
    Prior,
    Reading,
    State,
    Thresholds,
    as_dict,
    weigh,
)
from broodsweep.diagnosis.decide import ESSENTIAL

LOOKED = {sign: False for _, members in ESSENTIAL for sign in members}
NO_ROPE = Reading(test="ropiness", length_mm=0)


def decision(**given: object):  # type: ignore[no-untyped-def]
    thresholds = given.pop("thresholds", None)
    return weigh(Observations(**given), thresholds=thresholds, draws=2).decision  # type: ignore[arg-type]


def test_little_evidence_never_clears_and_says_what_was_not_looked_at() -> None:
    found = decision()
    assert found.state is State.LOOK_FURTHER
    assert len(found.not_looked_at) == len(ESSENTIAL) + 1


def test_nothing_found_needs_every_essential_look() -> None:
    assert decision(signs=LOOKED, tests=(NO_ROPE,)).state is State.NOTHING_FOUND
    for name, members in ESSENTIAL:
        seen = {sign: False for sign in LOOKED if sign not in members}
        found = decision(signs=seen, tests=(NO_ROPE,))
        assert found.state is State.LOOK_FURTHER
        assert [m.key for m in found.not_looked_at] == [f"diagnosis.unseen.{name}"]


def test_no_state_tells_anyone_to_carry_on_or_to_wait() -> None:
    for signs in ({}, LOOKED, {"caps_sunken": True, "coffee_brown": True}, LOOKED | {"mummies": True}):
        answer = as_dict(weigh(Observations(signs=signs, tests=(NO_ROPE,)), draws=2))
        words = " ".join([answer["decision"]["text"], *answer["duty"]]).lower()
        assert "carry on" not in words
        assert "not diseased" not in words
        assert "wait" not in words.replace("do not wait", "")
        assert answer["duty"]


def test_suspicion_carries_the_plain_duty() -> None:
    found = decision(signs={"caps_sunken": True, "coffee_brown": True, "smell_putrid": True})
    assert found.state is State.SUSPECTED
    assert Condition.AFB in found.conditions
    keys = [message.key for message in found.duty]
    assert keys[:5] == [
        f"diagnosis.duty.{n}" for n in ("notify", "close_up", "nothing_moves", "wash", "never_wait")
    ]


def test_a_positive_specific_test_is_suspicion_whatever_the_probability_and_the_kit() -> None:
    for lot in ("L", None):
        reading = Reading(test="lateral_flow_efb", lines=frozenset("CT"), read_after_min=3, lot=lot)
        found = decision(
            signs=LOOKED, tests=(NO_ROPE, reading), prior={Condition.EFB: Prior(probability=0.0001)}
        )
        assert Condition.EFB in found.conditions


def test_confirmation_needs_the_evidence_that_the_rulebook_names() -> None:
    field = (
        Reading(test="ropiness", length_mm=30),
        Reading(test="lateral_flow_afb", lines=frozenset("CT"), read_after_min=3, lot="L"),
    )
    by_field = Thresholds(confirm_by={Condition.AFB: frozenset({Evidence.FIELD_TEST, Evidence.LABORATORY})})
    seen = {"caps_sunken": True, "coffee_brown": True}
    assert decision(signs=seen, tests=field).state is State.SUSPECTED
    assert decision(signs=seen, tests=field, thresholds=by_field).state is State.CONFIRMED
    laboratory = (*field, Reading(test="culture_afb", outcome="positive"))
    assert decision(signs=seen, tests=laboratory).state is State.CONFIRMED
    assert decision(signs=seen, tests=laboratory, thresholds=by_field).state is State.CONFIRMED


def test_an_expired_or_unrecorded_kit_never_confirms() -> None:
    tests = (
        Reading(test="ropiness", length_mm=30),
        Reading(test="lateral_flow_afb", lines=frozenset("CT"), read_after_min=3, lot=None),
    )
    by_field = Thresholds(confirm_by={Condition.AFB: frozenset({Evidence.FIELD_TEST, Evidence.LABORATORY})})
    answer = weigh(
        Observations(signs={"caps_sunken": True, "coffee_brown": True}, tests=tests), thresholds=by_field
    )
    assert answer.lead.probability > 0.98
    assert answer.decision.state is State.SUSPECTED
    assert any(note.key == "diagnosis.note_not_evidential" for note in answer.notes)


def test_pcr_of_bees_alone_is_not_a_case() -> None:
    """Carriage without signs is common near cases (Belloy et al. 2007)."""
    tests = (Reading(test="pcr_bees_efb", outcome="positive"),)
    found = decision(signs=LOOKED, tests=(NO_ROPE, *tests))
    assert found.state is State.NOTHING_FOUND
    likely = {Condition.EFB: Prior(probability=0.9)}
    assert decision(signs={"larva_twisted": True}, tests=tests, prior=likely).state is State.SUSPECTED


def test_an_exotic_pest_is_reported_sooner() -> None:
    found = decision(signs={"beetle_slime": True, "silk_tunnels": False})
    assert found.state is State.SUSPECTED
    assert Condition.HIVE_BEETLE in found.conditions
    assert "diagnosis.duty.keep_specimen" in [message.key for message in found.duty]


def test_another_condition_does_not_rule_out_foulbrood_beside_it() -> None:
    seen = LOOKED | {"mummies": True, "mummies_entrance": True}
    found = decision(signs=seen, tests=(NO_ROPE,))
    assert found.state is State.OTHER_CONDITION
    assert "diagnosis.duty.recheck" in [message.key for message in found.duty]


def test_stonebrood_warns_of_the_lungs() -> None:
    found = decision(
        signs=LOOKED | {"green_powder": True},
        tests=(NO_ROPE,),
        prior={Condition.STONEBROOD: Prior(probability=0.2)},
    )
    assert found.state is State.OTHER_CONDITION
    assert "diagnosis.duty.lungs" in [message.key for message in found.duty]


def test_thresholds_move_the_decision() -> None:
    seen = {"caps_sunken": True, "coffee_brown": True}
    assert decision(signs=seen, thresholds=Thresholds(suspect_probability=0.9)).state is State.LOOK_FURTHER
    assert decision(signs=seen, thresholds=Thresholds(suspect_probability=0.02)).state is State.SUSPECTED
    with pytest.raises(ValueError, match="suspect_probability"):
        Thresholds(suspect_probability=0.0)


def test_thresholds_come_from_the_rulebook() -> None:
    """New Zealand: signs, laboratory or field kit confirm American foulbrood (SR 1998/260)."""
    from datetime import date

    from broodsweep.diagnosis import thresholds_from
    from broodsweep.rulebook import load_books

    found = thresholds_from(load_books()["new-zealand"], date(2026, 6, 1))
    assert {Evidence.FIELD_LOOK, Evidence.LABORATORY, Evidence.FIELD_TEST} <= found.confirm_by[Condition.AFB]
    seen = {"caps_sunken": True, "coffee_brown": True}
    rope = (Reading(test="ropiness", length_mm=35),)
    assert decision(signs=seen, tests=rope).state is State.SUSPECTED
    assert decision(signs=seen, tests=rope, thresholds=found).state is State.CONFIRMED


def test_every_rulebook_gives_thresholds() -> None:
    from datetime import date

    from broodsweep.diagnosis import thresholds_from
    from broodsweep.rulebook import load_books

    for book in load_books().values():
        found = thresholds_from(book, date(2026, 6, 1))
        assert all(found.confirm_by[disease] for disease in (Condition.AFB, Condition.EFB))
