"""How likely it is to find disease that is there, and how many to look at: exact finite-population arithmetic.

Notation of the literature: N units of which D are diseased, n looked at, Se the sensitivity for one diseased unit.

References
----------
Cannon & Roe 1982, Livestock Disease Surveys; MacDiarmid 1988, Prev Vet Med 5:283; Cannon 2001, Prev Vet Med 49:141;
Cameron & Baldock 1998, Prev Vet Med 34:1; Martin, Shoukri & Thorburn 1992, Prev Vet Med 14:33.
"""

from __future__ import annotations

import math

import numpy as np

from broodsweep.units import FloatArray

ROUNDING = 1e-12
"""A confidence that is met exactly in whole numbers must not be missed by floating-point rounding."""


def _check(population: int, diseased: int, sample: int) -> None:
    if not 0 <= diseased <= population or not 0 <= sample <= population:
        raise ValueError(
            f"Expected 0 <= diseased, sample <= population, got {diseased}, {sample}, {population}."
        )


def _check_share(name: str, value: float) -> None:
    if not 0.0 <= value <= 1.0:
        raise ValueError(f"Expected {name} in [0, 1], got {value}.")


def chance_of_diseased_in_sample(population: int, diseased: int, sample: int) -> FloatArray:
    """Return the chance of 0, 1, … ``sample`` diseased units in a sample without replacement.

    Returns
    -------
    Hypergeometric probabilities, shape (sample + 1,).
    """
    _check(population, diseased, sample)
    counts = np.arange(sample + 1)
    chances = np.zeros(sample + 1)
    possible = (counts <= diseased) & (sample - counts <= population - diseased)
    some = counts[possible]
    chances[possible] = np.exp(
        _log_choose(diseased, some)
        + _log_choose(population - diseased, sample - some)
        - _log_choose(population, np.array([sample]))
    )
    return chances


def _log_choose(total: int, chosen: np.ndarray) -> FloatArray:
    from scipy.special import gammaln

    log_ways = gammaln(total + 1) - gammaln(chosen + 1) - gammaln(total - chosen + 1)
    return np.asarray(log_ways, dtype=np.float64)


def group_sensitivity(population: int, diseased: int, sample: int, sensitivity: float) -> float:
    """Return the chance that looking at ``sample`` of ``population`` units finds at least one of the diseased.

    Exact: 1 - sum over y of P(y diseased in the sample) (1 - Se)^y.
    """
    _check_share("sensitivity", sensitivity)
    chances = chance_of_diseased_in_sample(population, diseased, sample)
    return float(1.0 - chances @ (1.0 - sensitivity) ** np.arange(sample + 1))


def group_sensitivity_approximate(population: int, diseased: int, sample: int, sensitivity: float) -> float:
    """Return MacDiarmid's approximation 1 - (1 - n Se / N)^D: for checking by hand."""
    _check(population, diseased, sample)
    return float(1.0 - (1.0 - sample * sensitivity / population) ** diseased)


def group_sensitivity_large(prevalence: float, sample: int, sensitivity: float) -> float:
    """Return the chance for a population that is large beside the sample: 1 - (1 - Se p)^n."""
    _check_share("prevalence", prevalence)
    return float(1.0 - (1.0 - sensitivity * prevalence) ** sample)


def sample_size(population: int, diseased: int, confidence: float, sensitivity: float = 1.0) -> int | None:
    """Return the smallest sample that finds disease with the confidence asked for.

    Returns
    -------
    Number of units, or None where even looking at all of them does not reach it: 1 - (1 - Se)^D is the ceiling.
    """
    _check_share("confidence", confidence)
    if group_sensitivity(population, diseased, population, sensitivity) < confidence - ROUNDING:
        return None
    low, high = 0, population
    while low < high:
        middle = (low + high) // 2
        if group_sensitivity(population, diseased, middle, sensitivity) >= confidence - ROUNDING:
            high = middle
        else:
            low = middle + 1
    return low


def sample_size_large(prevalence: float, confidence: float, sensitivity: float = 1.0) -> int:
    """Return the smallest sample from a large population: ln(1 - confidence) / ln(1 - Se p), rounded up."""
    if not 0.0 < prevalence * sensitivity < 1.0:
        raise ValueError(f"Expected 0 < prevalence x sensitivity < 1, got {prevalence * sensitivity}.")
    return math.ceil(math.log(1.0 - confidence) / math.log1p(-prevalence * sensitivity))


def sample_size_tabulated(population: int, diseased: float, confidence: float) -> float:
    """Return the printed tables' approximation (1 - a^(1/D)) (N - (D - 1) / 2), not rounded."""
    return float((1.0 - (1.0 - confidence) ** (1.0 / diseased)) * (population - (diseased - 1.0) / 2.0))


def sample_size_imperfect_approximate(
    population: int, diseased: int, confidence: float, sensitivity: float
) -> float:
    """Return Cannon's approximation (N / Se) (1 - a^(1/D)), not rounded."""
    return float(population / sensitivity * (1.0 - (1.0 - confidence) ** (1.0 / diseased)))


def chance_of_positives(
    population: int, diseased: int, sample: int, sensitivity: float, specificity: float
) -> FloatArray:
    """Return the chance of 0, 1, … ``sample`` test-positive units with an imperfect test.

    Returns
    -------
    Probabilities, shape (sample + 1,).

    References
    ----------
    Cameron & Baldock 1998, Prev Vet Med 34:1.
    """
    from scipy.stats import binom

    _check_share("sensitivity", sensitivity)
    _check_share("specificity", specificity)
    chances = np.zeros(sample + 1)
    for count, weight in enumerate(chance_of_diseased_in_sample(population, diseased, sample)):
        if weight > 0.0:
            true = binom.pmf(np.arange(count + 1), count, sensitivity)
            false = binom.pmf(np.arange(sample - count + 1), sample - count, 1.0 - specificity)
            chances += weight * np.convolve(true, false)
    return chances


def design_with_cut_point(
    population: int,
    diseased: int,
    sensitivity: float,
    specificity: float,
    *,
    miss: float = 0.05,
    false_alarm: float = 0.05,
) -> tuple[int, int] | None:
    """Return the smallest sample and cut-point k such that "diseased if more than k positive" errs rarely enough.

    Returns
    -------
    (sample, cut-point), or None where no sample up to the whole population serves.
    """
    for sample in range(1, population + 1):
        with_disease = np.cumsum(chance_of_positives(population, diseased, sample, sensitivity, specificity))
        without = np.cumsum(chance_of_positives(population, 0, sample, sensitivity, specificity))
        cuts = np.flatnonzero((with_disease <= miss) & (1.0 - without <= false_alarm))
        if cuts.size:
            return sample, int(cuts[0])
    return None


def group_test(
    prevalence: float, sample: int, sensitivity: float, specificity: float, cut_point: int = 1
) -> tuple[float, float]:
    """Return group sensitivity and specificity when ``cut_point`` or more positives condemn a large group."""
    from scipy.stats import binom

    apparent = prevalence * sensitivity + (1.0 - prevalence) * (1.0 - specificity)
    found = 1.0 - binom.cdf(cut_point - 1, sample, apparent)
    cleared = binom.cdf(cut_point - 1, sample, 1.0 - specificity)
    return float(found), float(cleared)
