"""How good a test is: predictive values, likelihood ratios, tests put together, an interval for a share.

References
----------
Altman & Bland, BMJ 1994;308:1552 and 309:102; Wilson, J. Am. Stat. Assoc. 1927;22:209.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import prod, sqrt

from broodsweep.units import Probability


@dataclass(frozen=True, kw_only=True)
class Accuracy:
    """Sensitivity and specificity of a yes-or-no test."""

    sensitivity: Probability
    specificity: Probability

    def __post_init__(self) -> None:
        for name in ("sensitivity", "specificity"):
            if not 0.0 <= getattr(self, name) <= 1.0:
                raise ValueError(f"Expected a {name} in [0, 1], got {getattr(self, name)}.")

    @property
    def likelihood_ratio_positive(self) -> float:
        """How many times likelier a positive is with the condition than without; infinite at specificity 1."""
        false_positive = 1.0 - self.specificity
        return self.sensitivity / false_positive if false_positive > 0.0 else float("inf")

    @property
    def likelihood_ratio_negative(self) -> float:
        """How many times likelier a negative is with the condition than without."""
        return (1.0 - self.sensitivity) / self.specificity if self.specificity > 0.0 else float("inf")

    def positive_predictive_value(self, prevalence: Probability) -> Probability:
        """Return the chance of the condition after a positive result."""
        true = prevalence * self.sensitivity
        return true / (true + (1.0 - prevalence) * (1.0 - self.specificity))

    def negative_predictive_value(self, prevalence: Probability) -> Probability:
        """Return the chance that the condition is absent after a negative result."""
        true = (1.0 - prevalence) * self.specificity
        return true / (true + prevalence * (1.0 - self.sensitivity))


def from_table(
    *, true_positive: int, false_negative: int, false_positive: int, true_negative: int
) -> Accuracy:
    """Return the accuracy that a two-by-two table shows."""
    return Accuracy(
        sensitivity=true_positive / (true_positive + false_negative),
        specificity=true_negative / (true_negative + false_positive),
    )


def in_parallel(*tests: Accuracy) -> Accuracy:
    """Return the accuracy of calling positive when any test is, the tests erring independently."""
    return Accuracy(
        sensitivity=1.0 - prod(1.0 - test.sensitivity for test in tests),
        specificity=prod(test.specificity for test in tests),
    )


def in_series(*tests: Accuracy) -> Accuracy:
    """Return the accuracy of calling positive when all tests are, the tests erring independently."""
    return Accuracy(
        sensitivity=prod(test.sensitivity for test in tests),
        specificity=1.0 - prod(1.0 - test.specificity for test in tests),
    )


def after_likelihood_ratio(prior: Probability, ratio: float) -> Probability:
    """Return the probability after evidence with that likelihood ratio."""
    odds = prior / (1.0 - prior) * ratio
    return odds / (1.0 + odds)


def after_clean_looks(prior: Probability, sensitivity: Probability, looks: int = 1) -> Probability:
    """Return the chance that it is there still, after that many looks found nothing."""
    missed = prior * (1.0 - sensitivity) ** looks
    return missed / (missed + 1.0 - prior)


def wilson_interval(successes: int, n: int, z: float) -> tuple[Probability, Probability]:
    """Return Wilson's score interval for a share of counts."""
    if not 0 <= successes <= n or n == 0:
        raise ValueError(f"Expected 0 <= successes <= n and n > 0, got {successes} of {n}.")
    share = successes / n
    middle = (share + z * z / (2 * n)) / (1 + z * z / n)
    half = z / (1 + z * z / n) * sqrt(share * (1 - share) / n + z * z / (4 * n * n))
    return max(0.0, middle - half), min(1.0, middle + half)
