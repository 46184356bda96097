"""Facts of the trade: lengths of ropes, lines on devices, published figures, the matrix of signs.

Source: the project's trade reference, sections 1 and 11 (numbers beside each test), whose own sources
are named beside the values. Copied here so that the tests stand alone. Accessed 2026-11-25.
"""

from __future__ import annotations

import pytest

from broodsweep.diagnosis import METHODS, Condition, Observations, Reading, State, interpret, posterior, weigh
from broodsweep.diagnosis import constants as c
from broodsweep.diagnosis.accuracy import Accuracy, wilson_interval
from broodsweep.diagnosis.conditions import FOULBROODS, STAGES
from broodsweep.diagnosis.matrix import letter_of, letters, signs, stage_numbers
from broodsweep.diagnosis.methods import POOLS
from broodsweep.diagnosis.network import all_states, point_network
from broodsweep.diagnosis.next_test import outcome_table
from broodsweep.diagnosis.reading import lines_outcome, rope_outcome

# Section 1.2, the matrix: letters for AFB, EFB, sacbrood, chalkbrood, stonebrood, PMS, chilled, drone-layer,
# bald, poisoning. The row "ropes >= 2 cm" is a test in this program.
MATRIX = {
    "dead_under_caps": "USUUUSSSNR",
    "dead_in_open": "SUSSSUUUNS",
    "caps_sunken": "USSRRURSNR",
    "caps_perforated": "USUSSURSSR",
    "caps_greasy": "USSRRURRNR",
    "patchy": "UUSSSURUNS",
    "whole_patch_dead": "NRNNNRUSNS",
    "larva_twisted": "RURRRSRSNR",
    "larva_stretched": "USUUUSSSNS",
    "head_raised_sac": "NRUNNRRRNN",
    "larva_yellow": "SUSRRUSSNR",
    "coffee_brown": "USSRRSSSNR",
    "watery": "SUSNNSUUNS",
    "hard_scale": "URNNNRRRNN",
    "loose_scale": "RUSNNSSUNS",
    "pupal_tongue": "SNNNNNNNNN",
    "mummies": "NNNURNNNNN",
    "green_powder": "NNNRUNNNNN",
    "smell_sour": "RSRRRSRRNR",
    "smell_putrid": "USRNNSSSNR",
    "mites_seen": "SSSSSASSSS",
    "domed_worker_caps": "RRRRRRRARR",
    "bare_pupae_line": "NNNNNRNNUN",
}
COLUMNS = (
    "AFB",
    "EFB",
    "sacbrood",
    "chalkbrood",
    "stonebrood",
    "mite_syndrome",
    "chilled",
    "drone_layer",
    "bald",
    "poisoning",
)
ROPES = {"AFB": "U", "EFB": "R"}


@pytest.mark.parametrize("sign", MATRIX)
def test_the_matrix_is_that_of_the_reference(sign: str) -> None:
    assert "".join(letters(sign)[column] for column in COLUMNS) == MATRIX[sign]


def stage_shares(disease: Condition) -> list[float]:
    start = FOULBROODS.index(disease) * 15  # "any season" stands first: three numbers, five rows a disease
    early, advanced, dried = (number.value for number in stage_numbers()[start : start + 3])
    first = [early, (1 - early) * advanced, (1 - early) * (1 - advanced) * dried]
    return [*first, 1 - sum(first)]


@pytest.mark.parametrize("disease", FOULBROODS)
def test_the_letters_by_stage_average_to_the_letter_of_the_matrix(disease: Condition) -> None:
    """Within the interval of the word, or 0.04 beside it (hard scale: 0.52 for "usually", 0.55 to 0.90)."""
    for sign in signs():
        word = c.FREQUENCIES[letters(sign)[disease]]
        mean = sum(
            share * c.FREQUENCIES[letter_of(sign, disease, stage)].value
            for share, stage in zip(stage_shares(disease), STAGES, strict=True)
        )
        assert word.low is not None
        assert word.high is not None
        assert word.low - 0.04 <= mean <= word.high + 0.04, (sign, mean)


def test_words_become_the_numbers_of_the_reference_once() -> None:
    """A 0.95, U 0.75, S 0.35, R 0.07, N 0.01 (section 1.2, the project's choice)."""
    values = {word.value: sourced.value for word, sourced in c.FREQUENCIES.items()}
    assert {k: values[k] for k in "AUSRN"} == {"A": 0.95, "U": 0.75, "S": 0.35, "R": 0.07, "N": 0.01}
    assert all(0 < v < 1 for v in values.values())


@pytest.mark.parametrize(
    ("cm", "said"), [(0.5, "negative"), (1.5, "doubtful"), (2.0, "positive"), (2.5, "long")]
)
def test_ropes(cm: float, said: str) -> None:
    """Check 51: 0.5, 1.5, 2.0 cm negative, doubtful, positive (Milbrath; the 1 cm limit is ours)."""
    assert rope_outcome(cm * 10) == said


@pytest.mark.parametrize(("lines", "said"), [("CT", "positive"), ("C", "negative"), ("T", None), ("", None)])
def test_lines(lines: str, said: str | None) -> None:
    """Check 52: C+T positive; C negative; T only invalid; none invalid (US extension page; invalid from memory)."""
    assert lines_outcome(frozenset(lines)) == said


def test_published_figures() -> None:
    """Checks 5 to 10: EFB field device and microscopy in the USA, England and Wales; PCR; LAMP."""
    assert c.EFB_LATERAL_FLOW_US_SENSITIVITY.value == pytest.approx(68 / 76, abs=5e-5)
    assert c.EFB_MICROSCOPY_SENSITIVITY.value == pytest.approx(75 / 77, abs=5e-5)
    device = Accuracy(
        sensitivity=c.EFB_LATERAL_FLOW_SENSITIVITY.value,
        specificity=1 - c.EFB_LATERAL_FLOW_FALSE_POSITIVE.value,
    )
    assert device.likelihood_ratio_positive == pytest.approx(96, abs=0.5)
    pcr = Accuracy(sensitivity=c.EFB_BEES_PCR_SENSITIVITY.value, specificity=c.EFB_BEES_PCR_SPECIFICITY.value)
    assert pcr.likelihood_ratio_positive == pytest.approx(2.258, abs=0.001)
    assert pcr.likelihood_ratio_negative == pytest.approx(0.1109, abs=0.001)
    assert c.AFB_ISOTHERMAL_SENSITIVITY.value == pytest.approx(62 / 63, abs=5e-5)
    assert c.AFB_ISOTHERMAL_SPECIFICITY.value == 1
    adult = Accuracy(sensitivity=1.0, specificity=c.EFB_ADULT_PCR_SPECIFICITY.value)
    assert adult.positive_predictive_value(0.52) == pytest.approx(0.866, abs=0.001)


@pytest.mark.parametrize(
    ("sourced", "positive", "n"),
    [
        (c.EFB_LATERAL_FLOW_US_SENSITIVITY, 68, 76),
        (c.EFB_MICROSCOPY_SENSITIVITY, 75, 77),
        (c.AFB_ISOTHERMAL_SENSITIVITY, 62, 63),
        (c.AFB_HONEY_CARRIAGE, 146, 1328),
    ],
)
def test_intervals_of_published_shares_are_wilsons(sourced, positive, n):  # type: ignore[no-untyped-def]
    assert (sourced.low, sourced.high) == pytest.approx(wilson_interval(positive, n, c.INTERVAL_Z), abs=5e-5)


def share_positive(test: str, *, disease: Condition | None, stage: int = 1) -> float:
    """Chance of a positive on a fresh sample in the colony that has only this disease, or none."""
    method = METHODS[test]
    has, key = all_states().has, all_states().stage_key
    if disease is None:
        state = 0
    else:
        row = list(Condition).index(disease)
        alone = (has.sum(axis=0) == 1) & (key[row] == stage)
        state = int(alone.nonzero()[0][0])
    table = outcome_table(point_network(), method)
    return float(sum(table[i, state] for i, name in enumerate(method.outcomes) if name in method.positives))


@pytest.mark.parametrize(
    ("test", "sensitivity", "false_positive"),
    [
        ("lateral_flow_efb", c.EFB_LATERAL_FLOW_SENSITIVITY.value, c.EFB_LATERAL_FLOW_FALSE_POSITIVE.value),
        ("isothermal_afb", c.AFB_ISOTHERMAL_SENSITIVITY.value, 0.005),
        ("microscopy_efb", c.EFB_MICROSCOPY_SENSITIVITY.value, c.MICROSCOPY_FALSE_POSITIVE.value),
        ("pcr_bees_efb", c.EFB_BEES_PCR_SENSITIVITY.value, 1 - c.EFB_BEES_PCR_SPECIFICITY.value),
        ("pcr_honey_efb", c.EFB_HONEY_PCR_SENSITIVITY.value, 1 - c.EFB_HONEY_PCR_SPECIFICITY.value),
        ("pcr_debris_efb", c.EFB_DEBRIS_PCR_SENSITIVITY.value, 1 - c.EFB_DEBRIS_PCR_SPECIFICITY.value),
    ],
)
def test_sample_and_device_together_give_the_published_figures(
    test: str, sensitivity: float, false_positive: float
) -> None:
    """Whitby 2023 found no false positive; the model keeps 0.005, because no test is perfect."""
    target = METHODS[test].target
    assert share_positive(test, disease=target) == pytest.approx(sensitivity, abs=0.02)
    assert share_positive(test, disease=None) == pytest.approx(false_positive, abs=0.005)
    assert (target, METHODS[test].sample) in POOLS


def chances(signs_seen: dict[str, bool], *tests: Reading) -> dict[str, float]:
    results = tuple(interpret(reading) for reading in tests)
    observed = Observations(signs=signs_seen, tests=tests)
    return {belief.condition: belief.probability for belief in posterior(observed, results, draws=2)}


def first(found: dict[str, float]) -> str:
    return max(found, key=lambda name: found[name])


def test_matrix_ranks_the_three_classic_combs() -> None:
    """Check 53."""
    afb = chances({"coffee_brown": True, "hard_scale": True}, Reading(test="ropiness", length_mm=25))
    efb = chances({"larva_twisted": True, "dead_in_open": True, "watery": True, "loose_scale": True})
    sac = chances({"head_raised_sac": True})
    assert (first(afb), first(efb), first(sac)) == ("AFB", "EFB", "sacbrood")


def test_nothing_but_american_foulbrood_ropes_out_two_and_a_half_centimetres() -> None:
    rope = Reading(test="ropiness", length_mm=25)
    for other in Condition:
        if other is not Condition.AFB:
            assert share_long(other) < 0.01
    found = chances({"patchy": True}, rope)
    assert first(found) == "AFB"
    assert found["AFB"] > 0.85


def share_long(condition: Condition) -> float:
    has = all_states().has
    row = list(Condition).index(condition)
    alone = (has.sum(axis=0) == 1) & (has[row] == 1)
    return float(outcome_table(point_network(), METHODS["ropiness"])[0, alone].max())


def test_sacbrood_keeps_a_form() -> None:
    without, with_form = (
        chances({"caps_perforated": True}),
        chances({"caps_perforated": True, "comes_out_whole": True}),
    )
    assert with_form["sacbrood"] > without["sacbrood"]
    assert with_form["AFB"] < without["AFB"]
    assert with_form["sacbrood"] / with_form["EFB"] > 1.5 * without["sacbrood"] / without["EFB"]


def test_scale_that_cannot_be_pulled_out_is_american_loose_scale_is_european() -> None:
    hard, loose = chances({"hard_scale": True}), chances({"loose_scale": True})
    assert first(hard) == "AFB"
    before = chances({})
    assert hard["AFB"] / hard["EFB"] > 5 * before["AFB"] / before["EFB"]
    assert loose["EFB"] > loose["AFB"]


def test_an_odd_sealed_cell_standing_alone_is_suspect() -> None:
    before, after = chances({}), chances({"lone_sealed_cell": True})
    gain = after["AFB"] / before["AFB"]
    assert gain > 2
    assert gain == max(after[name] / before[name] for name in before)


def test_dead_brood_that_does_not_rope_speaks_against_american_foulbrood_but_does_not_clear_it() -> None:
    """Milbrath: the field tests are highly specific, not highly sensitive; too fresh or too dry does not rope."""
    seen = {"caps_sunken": True, "coffee_brown": True}
    before, after = chances(seen), chances(seen, Reading(test="ropiness", length_mm=0))
    assert 0.1 * before["AFB"] < after["AFB"] < before["AFB"]


def test_chewed_cells_explained_by_chalkbrood_do_not_clear_the_next_one() -> None:
    """NZ agency: two conditions can be present together."""
    chalk = {"chewed_brood": True, "mummies": True, "mummies_entrance": True}
    scale = chances({**chalk, "hard_scale": True})
    assert scale["chalkbrood"] > 0.9
    assert scale["AFB"] > 10 * chances(chalk)["AFB"]
    answer = weigh(Observations(signs={**chalk, "hard_scale": True}), draws=2)
    assert (answer.decision.state, answer.decision.conditions) == (State.SUSPECTED, (Condition.AFB,))


def test_mite_syndrome_has_the_caps_of_foulbrood_but_comes_out_whole_and_does_not_rope() -> None:
    seen = {"mites_seen": True, "caps_sunken": True, "caps_perforated": True, "comes_out_whole": True}
    assert first(chances(seen, Reading(test="ropiness", length_mm=0))) == "mite_syndrome"


def test_season_moves_the_answer() -> None:
    """USDA-ARS: European foulbrood in the spring build-up; extension: sacbrood in the first half of the season."""
    from broodsweep.diagnosis import Season

    def in_season(season: Season, name: str) -> float:
        observed = Observations(signs={"dead_in_open": True}, season=season)
        return next(b.probability for b in posterior(observed, draws=2) if b.condition == name)

    assert in_season(Season.SPRING, "EFB") > in_season(Season.SUMMER, "EFB")
    assert in_season(Season.SPRING, "sacbrood") > in_season(Season.AUTUMN, "sacbrood")
    assert in_season(Season.AUTUMN, "mite_syndrome") > in_season(Season.SPRING, "mite_syndrome")
