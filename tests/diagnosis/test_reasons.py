"""Reasons and assumptions: each finding left out in turn, each number moved in turn."""

from __future__ import annotations

from dataclasses import replace
from math import log2

import pytest

from broodsweep.diagnosis import Observations, Reading, interpret
from broodsweep.diagnosis.infer import marginals, state_weights
from broodsweep.diagnosis.network import numbers, point_network
from broodsweep.diagnosis.reasons import assumptions, explain

OBSERVED = Observations(
    signs={"caps_sunken": True, "hard_scale": True, "larva_twisted": False, "mummies": False},
    tests=(
        Reading(test="ropiness", length_mm=22, sample="a"),
        Reading(test="lateral_flow_efb", outcome="positive", lot="L", sample="b"),
    ),
)
RESULTS = tuple(interpret(reading) for reading in OBSERVED.tests)


def odds_bits(observed: Observations) -> float:
    results = tuple(interpret(reading) for reading in observed.tests)
    p = float(marginals(state_weights(point_network(), observed, results, seed=0))[0, 0])
    return log2(p / (1 - p))


def test_a_reason_weighs_what_leaving_the_finding_out_changes() -> None:
    found = {reason.finding: reason for reason in explain(OBSERVED, RESULTS, "AFB", seed=0)}
    here = odds_bits(OBSERVED)
    for sign in OBSERVED.signs:
        rest = replace(OBSERVED, signs={k: v for k, v in OBSERVED.signs.items() if k != sign})
        assert found[sign].bits == pytest.approx(here - odds_bits(rest), abs=1e-9)
    for index, reading in enumerate(OBSERVED.tests):
        rest = replace(OBSERVED, tests=tuple(t for i, t in enumerate(OBSERVED.tests) if i != index))
        assert found[reading.test].bits == pytest.approx(here - odds_bits(rest), abs=1e-9)


def test_what_speaks_for_and_against_is_told_apart_and_sorted() -> None:
    reasons = explain(OBSERVED, RESULTS, "AFB", seed=0)
    weights = [abs(reason.bits) for reason in reasons]
    assert weights == sorted(weights, reverse=True)
    by_name = {reason.finding: reason for reason in reasons}
    assert by_name["hard_scale"].text.key == "diagnosis.reason_for"
    assert by_name["lateral_flow_efb"].text.key == "diagnosis.reason_against"


def test_an_invalid_test_is_no_reason() -> None:
    results = (*RESULTS, interpret(Reading(test="culture_afb", outcome="invalid")))
    assert len(explain(OBSERVED, results, "AFB", seed=0)) == len(OBSERVED.signs) + 2


def test_assumptions_are_numbers_that_this_evidence_touches_the_widest_swing_first() -> None:
    found = assumptions(OBSERVED, RESULTS, "AFB", seed=0)
    swings = [assumption.swing for assumption in found]
    assert swings == sorted(swings, reverse=True)
    assert swings[0] > 0.01
    for assumption in found:
        assert "culture" not in assumption.where
        if assumption.where.startswith("sign/"):
            assert assumption.where.split("/")[1] in OBSERVED.signs
    assert all(a.source for a in found)


def test_moving_unsourced_numbers_by_half_leaves_published_ones_alone() -> None:
    found = assumptions(OBSERVED, RESULTS, "AFB", seed=0, change=0.5)
    assert found
    assert not any(assumption.is_published for assumption in found)


def test_every_number_of_the_model_has_a_source() -> None:
    for number in numbers():
        assert number.source.strip(), number.where
    assert len({number.where for number in numbers()}) == len(numbers())


def test_a_prior_from_outside_with_an_interval_does_not_blur_the_assumptions() -> None:
    from broodsweep.diagnosis import Condition, Prior

    told = replace(OBSERVED, prior={Condition.AFB: Prior(probability=0.1, low=0.02, high=0.4)})
    point = replace(OBSERVED, prior={Condition.AFB: Prior(probability=0.1)})
    assert assumptions(told, RESULTS, "AFB", seed=0) == assumptions(point, RESULTS, "AFB", seed=0)
