"""What to look at next: information that adds up, decisions that would change, and enough."""

from __future__ import annotations

import numpy as np
import pytest

from broodsweep.diagnosis import METHODS, Observations, Reading, Thresholds, interpret, signs, weigh
from broodsweep.diagnosis.decide import decide
from broodsweep.diagnosis.infer import beliefs, state_weights
from broodsweep.diagnosis.network import all_states, point_network
from broodsweep.diagnosis.next_test import next_tests

SUSPECT = Observations(signs={"caps_sunken": True, "coffee_brown": True, "larva_twisted": False})


def ranked(observed: Observations):  # type: ignore[no-untyped-def]
    return weigh(observed, draws=2).next_tests


def test_only_what_was_not_done_is_offered() -> None:
    offered = {test.name for test in ranked(SUSPECT)}
    assert not offered & set(SUSPECT.signs)
    assert offered <= set(signs()) | set(METHODS)


def test_rope_comes_before_the_laboratory_on_a_sunken_brown_comb() -> None:
    names = [test.name for test in ranked(SUSPECT)]
    assert names[0] == "ropiness"
    assert names.index("ropiness") < names.index("culture_afb")


def test_bits_are_the_expected_fall_of_entropy_computed_the_long_way() -> None:
    """Each outcome is entered as an observation and inferred anew; the average must be what was promised."""

    def classes(observed: Observations) -> np.ndarray:
        results = tuple(interpret(r) for r in observed.tests)
        weights = state_weights(point_network(), observed, results, seed=0)[:, 0]
        has = all_states().has
        code = (has[0] + 2 * has[1] + 4 * np.maximum(has[12], has[13])).astype(int)
        return np.bincount(code, weights=weights, minlength=8)

    def entropy(p: np.ndarray) -> float:
        p = p[p > 0]
        return float(-(p * np.log2(p)).sum())

    offered = {test.name: test for test in ranked(SUSPECT)}
    before = classes(SUSPECT)
    for name in ("hard_scale", "ropiness", "lateral_flow_efb"):
        options = []
        if name in METHODS:
            for outcome in METHODS[name].outcomes:
                reading = Reading(test=name, outcome=outcome, lot="L")
                options.append(Observations(signs=SUSPECT.signs, tests=(reading,)))
        else:
            options = [Observations(signs={**SUSPECT.signs, name: seen}) for seen in (True, False)]
        after = [classes(option) for option in options]
        # the chances of the outcomes are those that mix the posteriors back to where we stand
        chance = np.linalg.lstsq(np.array(after).T, before, rcond=None)[0]
        assert np.allclose(np.array(after).T @ chance, before, atol=1e-9)
        if len(options) == 2:
            promised = entropy(before) - sum(c * entropy(p) for c, p in zip(chance, after, strict=True))
            assert offered[name].bits == pytest.approx(promised, abs=1e-9)
        assert 0 <= offered[name].bits <= entropy(before)


def test_chance_of_changing_the_decision_is_a_probability_and_zero_when_nothing_can() -> None:
    for observed in (SUSPECT, Observations()):
        assert all(0 <= test.decision_change_probability <= 1 for test in ranked(observed))
    settled = Observations(
        signs={**SUSPECT.signs, "hard_scale": True}, tests=(Reading(test="ropiness", length_mm=40),)
    )
    looks = [test for test in ranked(settled) if not test.is_test]
    assert max(test.decision_change_probability for test in looks) < 0.05


def test_enough_is_said_when_no_look_here_changes_what_must_be_done() -> None:
    assert not weigh(Observations(), draws=2).is_enough
    assert not weigh(SUSPECT, draws=2).is_enough
    rope = Observations(signs=SUSPECT.signs, tests=(Reading(test="ropiness", length_mm=40),))
    assert weigh(rope, draws=2).is_enough


def test_per_minute_and_per_cost_follow_from_the_bits() -> None:
    for test in ranked(SUSPECT):
        assert test.bits_per_minute == pytest.approx(test.bits / test.minutes)
        change = test.decision_change_probability
        assert test.decision_change_per_minute == pytest.approx(change / test.minutes)
        if test.cost == 0:
            assert test.bits_per_cost is None
            assert test.decision_change_per_cost is None
        else:
            assert test.bits_per_cost == pytest.approx(test.bits / test.cost)
            assert test.decision_change_per_cost == pytest.approx(change / test.cost)


def test_a_laboratory_can_change_suspected_to_confirmed() -> None:
    rope = Observations(signs=SUSPECT.signs, tests=(Reading(test="ropiness", length_mm=40),))
    results = tuple(interpret(r) for r in rope.tests)
    weights = state_weights(point_network(), rope, results, seed=0)
    decision = decide(beliefs(weights), rope, results, Thresholds())
    offered = {t.name: t for t in next_tests(weights[:, 0], rope, results, decision, Thresholds())}
    assert offered["culture_afb"].decision_change_probability > 0.8
    assert offered["lateral_flow_afb"].decision_change_probability < 0.05


def test_a_suspicion_that_rests_on_a_positive_test_does_not_fall_with_the_next_look() -> None:
    """Found by hand: with a positive of little trust every look "changed" the decision for certain."""
    kept = Reading(test="lateral_flow_afb", lines=frozenset("CT"), read_after_min=15)
    observed = Observations(signs={"head_raised_sac": True, "larva_twisted": True}, tests=(kept,))
    answer = weigh(observed)
    assert "AFB" in answer.decision.conditions, "on the positive, not on the probability"
    assert answer.decision.state == "suspected"
    chewed = next(test for test in answer.next_tests if test.name == "chewed_brood")
    assert chewed.decision_change_probability < 0.9
