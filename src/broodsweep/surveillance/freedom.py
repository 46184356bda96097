"""How sure one may be that nothing is left: two stages, risk groups, and probability of freedom over time.

References
----------
Martin, Cameron & Greiner 2007, Prev Vet Med 79:71 (scenario trees); Christensen & Gardner 2000, Prev Vet Med 45:83.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from broodsweep.surveillance.detection import chance_of_diseased_in_sample, group_sensitivity_large
from broodsweep.units import FloatArray


def system_sensitivity_large(prevalence: float, apiaries: int, apiary_sensitivity: float) -> float:
    """Return the chance that looking at that many of very many apiaries finds disease."""
    return group_sensitivity_large(prevalence, apiaries, apiary_sensitivity)


def system_sensitivity(population: int, infected: int, inspected: int, apiary_sensitivity: float) -> float:
    """Return the chance that inspecting some of a finite number of apiaries finds at least one infected."""
    chances = chance_of_diseased_in_sample(population, infected, inspected)
    return float(1.0 - chances @ (1.0 - apiary_sensitivity) ** np.arange(inspected + 1))


def apiaries_needed(population: int, infected: int, apiary_sensitivity: float, target: float) -> int | None:
    """Return how many apiaries must be inspected for a system sensitivity, None where all are not enough."""
    for inspected in range(population + 1):
        if system_sensitivity(population, infected, inspected, apiary_sensitivity) >= target:
            return inspected
    return None


def adjusted_risks(relative_risks: Sequence[float], shares: Sequence[float]) -> FloatArray:
    """Return the adjusted risk of each group, so that the population's mean risk is 1.

    Parameters
    ----------
    relative_risks
        Relative risk of each group, > 0.
    shares
        Share of the population in each group, summing to 1.
    """
    risks, parts = np.asarray(relative_risks, dtype=np.float64), np.asarray(shares, dtype=np.float64)
    if risks.shape != parts.shape or not math.isclose(float(parts.sum()), 1.0, rel_tol=1e-9):
        raise ValueError(f"Expected one share a group summing to 1, got {shares} for {relative_risks}.")
    return np.asarray(risks / (risks @ parts), dtype=np.float64)


def component_sensitivity(
    prevalence: float,
    relative_risks: Sequence[float],
    shares: Sequence[float],
    unit_sensitivity: float,
    inspected: Sequence[int],
) -> float:
    """Return the sensitivity of one surveillance component with risk groups (a scenario tree)."""
    effective = np.minimum(1.0, prevalence * adjusted_risks(relative_risks, shares))
    return float(1.0 - np.prod((1.0 - effective * unit_sensitivity) ** np.asarray(inspected)))


def combine(sensitivities: Sequence[float]) -> float:
    """Return the sensitivity of independent components together: 1 - product of (1 - Se)."""
    return float(1.0 - np.prod(1.0 - np.asarray(sensitivities, dtype=np.float64)))


def probability_free(prior_infected: float, sensitivity: float) -> float:
    """Return the probability of freedom after a clean round: (1 - PI) / (1 - PI x Se)."""
    return (1.0 - prior_infected) / (1.0 - prior_infected * sensitivity)


def probability_free_over_time(
    prior_infected: float, sensitivities: Sequence[float], introduction_probability: float
) -> tuple[float, ...]:
    """Return the probability of freedom after each clean round, with a chance of introduction between rounds."""
    found, infected = [], prior_infected
    for sensitivity in sensitivities:
        free = probability_free(infected, sensitivity)
        found.append(free)
        left = 1.0 - free
        infected = left + introduction_probability - left * introduction_probability
    return tuple(found)


def sensitivity_needed(prior_free: float, target: float) -> float:
    """Return the system sensitivity that lifts the probability of freedom to the target; 0 when it is there already."""
    if not 0.0 < prior_free < 1.0 or not 0.0 < target < 1.0:
        raise ValueError(f"Expected prior and target strictly between 0 and 1, got {prior_free}, {target}.")
    return max(0.0, 1.0 - prior_free * (1.0 - target) / ((1.0 - prior_free) * target))


def upper_prevalence(sample: int, confidence: float = 0.95) -> float:
    """Return the exact upper limit of a prevalence after none of ``sample`` was positive: 1 - a^(1/n)."""
    return float(1.0 - (1.0 - confidence) ** (1.0 / sample))


def chance_prevalence_below(limit: float, sample: int) -> float:
    """Return how likely the prevalence is below a limit after none of ``sample`` was positive, all equally likely before.

    The posterior is Beta(1, sample + 1), so that its upper 95 % point is `upper_prevalence` of one more in the sample.
    """
    if not 0.0 <= limit <= 1.0 or sample < 0:
        raise ValueError(f"Expected a limit in [0, 1] and sample >= 0, got {limit}, {sample}.")
    return float(1.0 - (1.0 - limit) ** (sample + 1))


def true_prevalence(
    apparent: float, sample: int, sensitivity: float, specificity: float
) -> tuple[float, float, bool]:
    """Return Rogan & Gladen's estimate, its standard error, and whether it fits between 0 and 1.

    An estimate outside contradicts the sensitivity or specificity assumed: say so, do not hide it.

    References
    ----------
    Rogan & Gladen 1978, Am J Epidemiol 107:71.
    """
    gain = sensitivity + specificity - 1.0
    if not gain > 0.0:
        raise ValueError(f"Expected sensitivity + specificity > 1, got {sensitivity + specificity}.")
    estimate = (apparent + specificity - 1.0) / gain
    error = math.sqrt(apparent * (1.0 - apparent) / sample) / gain
    return estimate, error, 0.0 <= estimate <= 1.0
