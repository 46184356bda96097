"""Surveillance arithmetic against printed tables and formulas.

Sources: Cannon & Roe 1982, Livestock Disease Surveys (sample sizes; recalled from memory of the printed table, every
cell agrees with the exact hypergeometric); MacDiarmid 1988, Prev Vet Med 5:283; Cannon 2001, Prev Vet Med 49:141;
Cameron & Baldock 1998, Prev Vet Med 34:1; Martin, Shoukri & Thorburn 1992, Prev Vet Med 14:33; Martin, Cameron &
Greiner 2007, Prev Vet Med 79:71; Rogan & Gladen 1978, Am J Epidemiol 107:71. Values marked "computed" were computed
from these formulas by separate code; tolerance 1e-6 is their printed precision.
"""

from __future__ import annotations

import math

import pytest

from broodsweep.surveillance import detection, freedom

CANNON_ROE_95 = [  # population, diseased, sample: printed table, from memory
    (100, 5, 45),
    (100, 2, 78),
    (20, 1, 19),
    (20, 2, 16),
    (200, 2, 155),
    (200, 4, 105),
    (200, 10, 51),
    (300, 3, 189),
    (300, 6, 117),
    (300, 15, 54),
    (500, 5, 225),
    (500, 10, 129),
    (500, 25, 56),
    (1000, 1, 950),
    (1000, 5, 450),
    (1000, 10, 258),
    (1000, 20, 138),
    (2000, 2, 1553),
    (2000, 10, 517),
    (2000, 20, 277),
    (10000, 10, 2588),
    (10000, 50, 581),
    (10000, 100, 294),
    (10000, 200, 148),
    (100, 1, 95),  # printed tables show 96; exact and formula give 95
]


@pytest.mark.parametrize(("population", "diseased", "sample"), CANNON_ROE_95)
def test_sample_sizes_of_the_printed_table(population: int, diseased: int, sample: int) -> None:
    assert detection.sample_size(population, diseased, 0.95) == sample


@pytest.mark.parametrize(
    ("prevalence", "confidence", "sample"),
    [
        (0.01, 0.95, 299),
        (0.05, 0.95, 59),
        (0.1, 0.95, 29),
        (0.02, 0.95, 149),
        (0.001, 0.95, 2995),
        (0.01, 0.99, 459),
        (0.05, 0.99, 90),
    ],
)
def test_sample_sizes_for_large_populations(prevalence: float, confidence: float, sample: int) -> None:
    assert detection.sample_size_large(prevalence, confidence) == sample


def test_print_rule_for_a_fractional_number_of_diseased() -> None:
    assert math.ceil(detection.sample_size_tabulated(30, 1.5, 0.95)) == 26


PRINTED_95 = """
20    4   9   10  16  19   -    -    -    -
50    5   -   12  22  -    48   -    -    -
100   5   10  13  25  45   78   95   -    -
200   5   11  13  27  51   105  155  190  -
300   5   11  14  28  54   117  189  -    -
500   5   11  14  28  56   129  225  -    -
1000  5   11  14  29  57   138  258  450  950
2000  5   11  14  29  58   143  277  517  1553
5000  5   11  14  29  59   147  290  564  2253
10000 5   11  14  29  59   148  294  581  2588
"""
"""Sample sizes at 95 %, prevalences as in `PER_THOUSAND`; cells whose number of diseased is not whole are left out."""
PER_THOUSAND = (500, 250, 200, 100, 50, 20, 10, 5, 1)
BY_EXACT_99 = """
100 50 59; 100 20 90; 100 10 99; 200 100 40; 200 50 73; 200 20 136; 200 10 180; 500 50 83; 500 20 183; 500 10 300;
1000 50 86; 1000 20 204; 1000 10 368; 1000 5 601; 10000 50 90; 10000 20 226; 10000 10 448; 10000 1 3689
"""
"""Population, diseased per thousand, sample at 99 %: computed by the exact hypergeometric with other code."""


def test_the_whole_printed_table() -> None:
    cells = 0
    for row in PRINTED_95.split("\n")[1:-1]:
        population, *samples = row.split()
        for share, sample in zip(PER_THOUSAND, samples, strict=True):
            if sample != "-":
                assert int(population) * share % 1000 == 0
                assert detection.sample_size(int(population), int(population) * share // 1000, 0.95) == int(
                    sample
                )
                cells += 1
    assert cells == 74


@pytest.mark.parametrize("line", BY_EXACT_99.replace("\n", " ").split(";"))
def test_99_percent_by_exact_hypergeometric(line: str) -> None:
    population, share, sample = (int(part) for part in line.split())
    assert detection.sample_size(population, population * share // 1000, 0.99) == sample


@pytest.mark.parametrize(
    ("prevalence", "sample"), [(0.1, 44), (0.05, 90), (0.02, 228), (0.01, 459), (0.005, 919), (0.001, 4603)]
)
def test_99_percent_of_a_large_population(prevalence: float, sample: int) -> None:
    assert detection.sample_size_large(prevalence, 0.99) == sample


@pytest.mark.parametrize(
    ("population", "diseased", "sample", "sensitivity", "expected"),
    [
        (20, 2, 10, 0.8, 0.648421),
        (100, 5, 45, 1.0, 0.953794),
        (100, 5, 45, 0.8, 0.896806),
        (50, 5, 20, 0.8, 0.864455),
        (12, 1, 12, 0.7, 0.7),
        (12, 3, 6, 0.7, 0.747091),
    ],
)
def test_group_sensitivity_is_exact(
    population: int, diseased: int, sample: int, sensitivity: float, expected: float
) -> None:
    got = detection.group_sensitivity(population, diseased, sample, sensitivity)
    assert got == pytest.approx(expected, abs=1e-6)


def test_approximations_of_group_sensitivity() -> None:
    assert detection.group_sensitivity_approximate(20, 2, 10, 0.8) == pytest.approx(0.64, abs=1e-9)
    assert detection.group_sensitivity_large(0.1, 10, 0.8) == pytest.approx(0.565612, abs=1e-6)
    assert detection.group_sensitivity_approximate(50, 5, 20, 0.8) == pytest.approx(0.854607, abs=1e-6)


@pytest.mark.parametrize(
    ("population", "diseased", "sensitivity", "sample"),
    [
        (100, 5, 0.9, 50),
        (100, 5, 0.8, 56),
        (50, 5, 0.8, 28),
        (500, 5, 0.9, 250),
        (20, 2, 0.8, 20),
        (20, 1, 0.8, None),
        (10, 1, 0.7, None),
    ],
)
def test_sample_size_with_an_imperfect_look(
    population: int, diseased: int, sensitivity: float, sample: int | None
) -> None:
    assert detection.sample_size(population, diseased, 0.95, sensitivity) == sample


def test_cannons_approximation() -> None:
    assert detection.sample_size_imperfect_approximate(100, 5, 0.95, 0.8) == pytest.approx(56.34, abs=0.01)
    assert detection.sample_size_tabulated(100, 5 * 0.8, 0.95) == pytest.approx(51.922, abs=0.01)


def test_positives_with_an_imperfect_test() -> None:
    chances = detection.chance_of_positives(50, 5, 20, 0.8, 0.98)
    assert chances[:4] == pytest.approx([0.091681, 0.275413, 0.330789, 0.207613], abs=1e-6)
    assert chances.sum() == pytest.approx(1.0, abs=1e-9)
    assert chances @ range(21) == pytest.approx(1.96, abs=1e-9)
    assert detection.chance_of_positives(100, 0, 30, 0.9, 0.95)[:3] == pytest.approx(
        [0.214639, 0.338903, 0.258637], abs=1e-6
    )
    assert detection.chance_of_positives(100, 10, 30, 0.9, 0.95)[:3] == pytest.approx(
        [0.008106, 0.047777, 0.128088], abs=1e-6
    )


@pytest.mark.parametrize(
    ("population", "diseased", "sensitivity", "specificity", "expected"),
    [(200, 20, 0.9, 0.98, (65, 3)), (1000, 50, 0.95, 0.98, (189, 7)), (100, 10, 0.9, 0.95, (90, 8))],
)
def test_design_with_a_cut_point(
    population: int, diseased: int, sensitivity: float, specificity: float, expected: tuple[int, int]
) -> None:
    assert detection.design_with_cut_point(population, diseased, sensitivity, specificity) == expected


def test_group_level_test() -> None:
    assert detection.group_test(0.1, 20, 0.8, 0.99) == pytest.approx((0.844987, 0.817907), abs=1e-6)
    got = [detection.group_test(0.1, 30, 0.9, 0.98, cut) for cut in (1, 2, 3)]
    assert [found for found, _ in got] == pytest.approx([0.967570, 0.849775, 0.642974], abs=1e-6)
    assert [cleared for _, cleared in got] == pytest.approx([0.545484, 0.879454, 0.978282], abs=1e-6)


@pytest.mark.parametrize(("prevalence", "sample"), [(0.1, 36), (0.05, 74), (0.02, 186), (0.01, 373)])
def test_large_population_with_sensitivity(prevalence: float, sample: int) -> None:
    assert detection.sample_size_large(prevalence, 0.95, 0.8) == sample


def test_two_stages() -> None:
    within = detection.group_sensitivity_large(0.1, 10, 0.8)
    assert within == pytest.approx(0.565612, abs=1e-6)
    assert detection.sample_size_large(0.02, 0.95, within) == 264
    assert freedom.system_sensitivity_large(0.02, 200, within) == pytest.approx(0.897238, abs=1e-6)
    got = [freedom.system_sensitivity(120, 3, inspected, 0.85) for inspected in (60, 80, 100, 110, 120)]
    assert got == pytest.approx([0.812509, 0.920377, 0.975918, 0.989532, 0.996625], abs=1e-6)
    assert freedom.apiaries_needed(120, 3, 0.85, 0.95) == 89
    assert freedom.apiaries_needed(120, 3, 0.90, 0.95) == 84


def test_probability_of_freedom() -> None:
    got = [freedom.probability_free(0.5, sensitivity) for sensitivity in (0.95, 0.8, 0.6)]
    assert got == pytest.approx([0.952381, 0.833333, 0.714286], abs=1e-6)
    assert freedom.probability_free(0.1, 0.8) == pytest.approx(0.978261, abs=1e-6)
    chain = freedom.probability_free_over_time(0.5, [0.6] * 6, 0.01)
    assert chain == pytest.approx((0.714286, 0.857886, 0.933731, 0.968320, 0.983034, 0.989106), abs=1e-6)


@pytest.mark.parametrize(
    ("prior", "target", "expected"),
    [(0.5, 0.95, 0.947368), (0.5, 0.99, 0.989899), (0.8, 0.99, 0.959596), (0.9, 0.95, 0.526316)],
)
def test_sensitivity_needed_for_freedom(prior: float, target: float, expected: float) -> None:
    needed = freedom.sensitivity_needed(prior, target)
    assert needed == pytest.approx(expected, abs=1e-6)
    assert freedom.probability_free(1 - prior, needed) == pytest.approx(target, abs=1e-9)


def test_risk_groups() -> None:
    assert freedom.adjusted_risks((4, 1), (0.2, 0.8)) == pytest.approx([2.5, 0.625], abs=1e-12)
    assert freedom.adjusted_risks((5, 2, 1), (0.1, 0.3, 0.6)) == pytest.approx(
        [2.941176, 1.176471, 0.588235], abs=1e-6
    )
    groups = ((4, 1), (0.2, 0.8))
    got = [
        freedom.component_sensitivity(0.01, *groups, 0.9, inspected)
        for inspected in ((60, 40), (20, 80), (100, 0))
    ]
    assert got == pytest.approx([0.796289, 0.596028, 0.897275], abs=1e-6)
    assert freedom.component_sensitivity(0.01, (1,), (1,), 0.9, (100,)) == pytest.approx(0.595084, abs=1e-6)
    three = freedom.component_sensitivity(0.02, (5, 2, 1), (0.1, 0.3, 0.6), 0.85, (30, 30, 40))
    assert three == pytest.approx(0.921675, abs=1e-6)
    assert freedom.combine((0.5, 0.3, 0.2)) == pytest.approx(0.72, abs=1e-12)


def test_prevalence_from_an_imperfect_test() -> None:
    assert freedom.true_prevalence(0.12, 200, 0.9, 0.95)[:2] == pytest.approx((0.082353, 0.027033), abs=1e-6)
    assert freedom.true_prevalence(0.25, 100, 0.8, 0.98)[:2] == pytest.approx((0.294872, 0.055514), abs=1e-6)
    estimate, _, fits = freedom.true_prevalence(4 / 150, 150, 0.9, 0.9)
    assert estimate == pytest.approx(-0.091667, abs=1e-6)
    assert not fits


@pytest.mark.parametrize(
    ("sample", "upper"), [(10, 0.258866), (30, 0.095034), (100, 0.029513), (300, 0.009936)]
)
def test_upper_limit_after_none_of_a_sample(sample: int, upper: float) -> None:
    assert freedom.upper_prevalence(sample) == pytest.approx(upper, abs=1e-6)


def test_belief_in_a_low_prevalence_after_none_of_sixty() -> None:
    assert freedom.chance_prevalence_below(0.05, 60) == pytest.approx(0.956234, abs=1e-6)
    assert freedom.upper_prevalence(61) == pytest.approx(0.047924, abs=1e-6)
    assert freedom.chance_prevalence_below(freedom.upper_prevalence(61), 60) == pytest.approx(0.95, abs=1e-12)
    with pytest.raises(ValueError, match="Expected a limit"):
        freedom.chance_prevalence_below(1.5, 60)


def test_a_sample_that_is_too_small_by_one_does_not_serve() -> None:
    for population, diseased, sample in CANNON_ROE_95:
        reached = detection.group_sensitivity(population, diseased, sample, 1.0)
        short = detection.group_sensitivity(population, diseased, sample - 1, 1.0)
        assert short < 0.95 <= reached + 1e-12
