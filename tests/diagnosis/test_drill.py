"""Practice: cases from the model, proper scores, calibration, pictures."""

from __future__ import annotations

from xml.etree import ElementTree

import numpy as np
import pytest

from broodsweep.diagnosis import Condition, ObservationError, signs
from broodsweep.diagnosis.drill import (
    Attempt,
    brier_by_finding,
    brier_over_time,
    calibration,
    calibration_over_time,
    make_case,
    model_answer,
    score,
)
from broodsweep.diagnosis.picture import DRAWABLE, draw_comb


def test_a_case_can_be_made_again_from_its_seed() -> None:
    one, two = make_case(np.random.default_rng(5)), make_case(np.random.default_rng(5))
    assert one == two
    assert one != make_case(np.random.default_rng(6))


def test_a_case_shows_only_signs_that_are_there_and_denies_only_those_that_are_not() -> None:
    rng = np.random.default_rng(1)
    for _ in range(10):
        case = make_case(rng)
        shown = {sign for sign, is_seen in case.observed.signs.items() if is_seen}
        denied = {sign for sign, is_seen in case.observed.signs.items() if not is_seen}
        assert shown == case.seen
        assert not denied & case.seen


@pytest.mark.parametrize("truth", [0.0, 0.2, 0.7, 1.0])
def test_the_scores_are_proper(truth: float) -> None:
    """The expected score is best for who says what they believe (Brier 1950; Good 1952)."""
    steps = np.linspace(0, 1, 21)

    def expected(said: float, which: str) -> float:
        yes = getattr(score({"AFB": said}, ["AFB"], ["AFB"]), which)
        no = getattr(score({"AFB": said}, [], ["AFB"]), which)
        return truth * yes + (1 - truth) * no

    for which in ("brier", "log_bits"):
        best = steps[int(np.argmin([expected(float(said), which) for said in steps]))]
        assert abs(best - truth) < 0.026


def test_scores_of_known_answers() -> None:
    assert score({"AFB": 1.0}, ["AFB"], ["AFB"]).brier == 0.0
    assert score({"AFB": 0.5}, ["AFB"], ["AFB"]).log_bits == pytest.approx(1.0)
    assert score({}, ["AFB"], ["AFB", "EFB"]).brier == pytest.approx(0.5)
    with pytest.raises(ObservationError):
        score({"AFB": 1.2}, ["AFB"])


def test_the_model_scores_better_than_saying_nothing_or_the_base_rate() -> None:
    rng = np.random.default_rng(11)
    cases = [make_case(rng) for _ in range(60)]
    base = 1 / (len(Condition) + 1)
    model = np.mean([score(model_answer(case), case.truth).brier for case in cases])
    flat = np.mean([score(dict.fromkeys(Condition, base), case.truth).brier for case in cases])
    assert model < 0.6 * flat


def test_calibration_groups_answers_and_tells_how_often_they_were_right() -> None:
    attempts = [Attempt(finding="AFB", said_probability=0.9, was_true=i < 8) for i in range(10)]
    attempts += [Attempt(finding="EFB", said_probability=0.1, was_true=False)] * 5
    low, high = calibration(attempts)
    assert (low.count, low.true_share) == (5, 0.0)
    assert (high.count, high.true_share) == (10, 0.8)
    assert high.said_probability == pytest.approx(0.9)


def test_scores_over_time_and_by_finding() -> None:
    attempts = [Attempt(finding="patchy", said_probability=0.0, was_true=True)] * 2
    attempts += [Attempt(finding="mummies", said_probability=1.0, was_true=True)] * 3
    assert brier_over_time(attempts, 2) == (1.0, 0.0, 0.0)
    assert brier_by_finding(attempts) == {"patchy": (1.0, 2), "mummies": (0.0, 3)}


def test_a_picture_is_drawn_for_every_sign_and_differs_from_a_healthy_comb() -> None:
    healthy = draw_comb([], np.random.default_rng(1))
    assert set(signs()) >= DRAWABLE
    for sign in DRAWABLE:
        drawn = draw_comb([sign], np.random.default_rng(1))
        ElementTree.fromstring(drawn)
        assert drawn != healthy, sign
    assert draw_comb(["smell_sour"], np.random.default_rng(1)) == healthy


def test_calibration_over_time_is_kept_for_each_sign() -> None:
    early = [Attempt(finding="patchy", said_probability=0.9, was_true=turn == 0) for turn in range(4)]
    late = [Attempt(finding="patchy", said_probability=0.25, was_true=turn == 0) for turn in range(4)]
    other = [Attempt(finding="AFB", said_probability=0.5, was_true=True)]
    found = calibration_over_time([*early, *other, *late], 4)
    first, second = found["patchy"]
    assert (first.count, first.said_probability, first.true_share) == (4, pytest.approx(0.9), 0.25)
    assert second.said_probability == second.true_share == 0.25, "by then the sign is known"
    assert second.brier < first.brier
    assert [step.count for step in found["AFB"]] == [1]
    with pytest.raises(ValueError, match="window"):
        calibration_over_time([], 0)
