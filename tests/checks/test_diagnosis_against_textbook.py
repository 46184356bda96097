"""Diagnostic arithmetic against textbook examples.

Sources: Altman & Bland, BMJ 1994;308:1552 and 309:102 (liver scan; from memory); Newcombe 1998, Stat. Med.
17:857 (Wilson intervals; from memory); Bayes by hand. Numbers 50, 51, 55 to 59, 90 to 93 of the project's
epidemiology reference, recomputed there. The network is checked with the same figures: a test without a
sample node is Bayes' rule.
"""

from __future__ import annotations

import pytest

from broodsweep.diagnosis.accuracy import (
    Accuracy,
    after_clean_looks,
    after_likelihood_ratio,
    from_table,
    in_parallel,
    in_series,
    wilson_interval,
)

Z_95 = 1.959963984540054


def test_liver_scan() -> None:
    """Checks 55 to 57: 231 of 258 abnormal and 32 of 86 normal livers were scan-positive."""
    scan = from_table(true_positive=231, false_negative=27, false_positive=32, true_negative=54)
    assert 258 / 344 == 0.75
    assert scan.sensitivity == pytest.approx(0.895349, abs=1e-6)
    assert scan.specificity == pytest.approx(0.627907, abs=1e-6)
    assert scan.positive_predictive_value(0.75) == pytest.approx(0.878327, abs=1e-6)
    assert scan.negative_predictive_value(0.75) == pytest.approx(0.666667, abs=1e-6)
    assert scan.likelihood_ratio_positive == pytest.approx(2.40625, abs=1e-6)
    assert scan.likelihood_ratio_negative == pytest.approx(0.166667, abs=1e-6)
    assert scan.positive_predictive_value(0.25) == pytest.approx(0.445087, abs=1e-6)
    assert scan.negative_predictive_value(0.25) == pytest.approx(0.947368, abs=1e-6)


def test_rare_conditions_make_good_tests_look_bad() -> None:
    """Check 58."""
    assert Accuracy(sensitivity=0.95, specificity=0.95).positive_predictive_value(0.01) == pytest.approx(
        0.161017, abs=1e-6
    )
    assert Accuracy(sensitivity=0.99, specificity=0.99).positive_predictive_value(0.001) == pytest.approx(
        0.090164, abs=1e-6
    )


def test_pcr_of_brood_nest_bees() -> None:
    """Check 59: Se 0.935, Sp 0.586 (Swiss apiaries)."""
    pcr = Accuracy(sensitivity=0.935, specificity=0.586)
    assert pcr.positive_predictive_value(0.02) == pytest.approx(0.044060, abs=1e-6)
    assert pcr.positive_predictive_value(0.2) == pytest.approx(0.360865, abs=1e-6)
    assert pcr.negative_predictive_value(0.02) == pytest.approx(0.997741, abs=1e-6)


def test_two_positive_tests() -> None:
    """Check 90."""
    once = after_likelihood_ratio(0.05, 18)
    assert once == pytest.approx(0.486486, abs=1e-6)
    assert after_likelihood_ratio(once, 40) == pytest.approx(0.974290, abs=1e-6)


def test_clean_looks() -> None:
    """Checks 91 and 92."""
    found = [after_clean_looks(0.3, 0.7, looks) for looks in (1, 2, 3)]
    assert found == pytest.approx([0.113924, 0.037139, 0.011439], abs=1e-6)
    assert after_clean_looks(0.1, 0.9 * 0.49) == pytest.approx(0.058479, abs=1e-6)


def test_parallel_and_series() -> None:
    """Check 93."""
    pair = (Accuracy(sensitivity=0.9, specificity=0.95), Accuracy(sensitivity=0.8, specificity=0.98))
    parallel, series = in_parallel(*pair), in_series(*pair)
    assert (parallel.sensitivity, parallel.specificity) == pytest.approx((0.98, 0.931), abs=1e-9)
    assert (series.sensitivity, series.specificity) == pytest.approx((0.72, 0.999), abs=1e-9)


@pytest.mark.parametrize(
    ("successes", "n", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (1, 29, 0.0061, 0.1718), (0, 20, 0.0, 0.1611)],
)
def test_wilson_intervals(successes: int, n: int, low: float, high: float) -> None:
    """Checks 50 and 51 (Newcombe 1998)."""
    assert wilson_interval(successes, n, Z_95) == pytest.approx((low, high), abs=5e-5)


def test_the_network_is_bayes_rule_when_one_condition_and_one_test_are_left() -> None:
    """A colony with a prior of 0.2 and one device: PPV by hand from what the test does in this network."""
    import numpy as np

    from broodsweep.diagnosis import METHODS, Condition, Observations, Prior, Reading, interpret
    from broodsweep.diagnosis.infer import marginals, state_weights
    from broodsweep.diagnosis.network import all_states, point_network
    from broodsweep.diagnosis.next_test import outcome_table

    rare = 1e-9
    priors = {condition: Prior(probability=rare) for condition in Condition}
    priors[Condition.AFB] = Prior(probability=0.2)
    reading = Reading(test="culture_afb", outcome="positive")
    observed = Observations(prior=priors, tests=(reading,))
    found = marginals(state_weights(point_network(), observed, (interpret(reading),), seed=0))[0, 0]
    before = state_weights(point_network(), Observations(prior=priors), (), seed=0)[:, 0]
    has = all_states().has[0] > 0
    table = outcome_table(point_network(), METHODS["culture_afb"])[0]
    accuracy = Accuracy(
        sensitivity=float(np.average(table[has], weights=before[has])),
        specificity=1 - float(np.average(table[~has], weights=before[~has])),
    )
    assert found == pytest.approx(accuracy.positive_predictive_value(0.2), abs=1e-7)


def test_two_tests_in_two_populations_without_a_gold_standard() -> None:
    """Checks 87 and 88: Hui & Walter 1980, Biometrics 36:167 (from memory; likelihood computed)."""
    import numpy as np

    from broodsweep.diagnosis.latent_class import from_two_populations

    found = from_two_populations(np.array([[14, 4, 9, 528], [887, 31, 37, 367]]))
    assert found.prevalences == pytest.approx((0.0268, 0.7168), abs=5e-5)
    assert 1 - found.first.specificity == pytest.approx(0.0067, abs=5e-5)
    assert 1 - found.first.sensitivity == pytest.approx(0.0339, abs=5e-5)
    assert 1 - found.second.specificity == pytest.approx(0.0159, abs=5e-5)
    assert 1 - found.second.sensitivity == pytest.approx(0.0312, abs=5e-5)
    assert found.log_likelihood == pytest.approx(-1207.61675, abs=1e-4)


def test_two_tests_in_one_population_with_prior_knowledge() -> None:
    """Check 89: Joseph, Gyorkos & Coupal 1995 print .76; stool .31, .96; serology .89, .67 (from memory)."""
    import numpy as np

    from broodsweep.diagnosis.latent_class import Beta, from_one_population

    prevalence, serology, stool = from_one_population(
        np.array([38, 87, 2, 35]),
        prevalence=Beta(),
        sensitivities=(Beta(a=21.96, b=5.49), Beta(a=4.44, b=13.31)),
        specificities=(Beta(a=4.1, b=1.76), Beta(a=71.25, b=3.75)),
        rng=np.random.default_rng(1),
        draws=6000,
    )
    assert prevalence == pytest.approx(0.76, abs=0.03)
    assert (stool.sensitivity, stool.specificity) == pytest.approx((0.31, 0.96), abs=0.03)
    assert (serology.sensitivity, serology.specificity) == pytest.approx((0.88, 0.69), abs=0.03)
