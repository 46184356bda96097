"""How good two tests are when neither is always right: from paired results, without a gold standard.

A season's field devices sent to the laboratory as well give such pairs; what comes out can replace a
figure of ours in ``constants``.

References
----------
Hui & Walter, Biometrics 1980;36:167. Joseph, Gyorkos & Coupal, Am. J. Epidemiol. 1995;141:263.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from broodsweep.diagnosis.accuracy import Accuracy
from broodsweep.units import FloatArray

_SIGNS = np.array([[1, 1], [1, 0], [0, 1], [0, 0]], dtype=float)
"""Results of the two tests in the order ++, +-, -+, --."""
_MOST_STEPS, _SETTLED = 20_000, 1e-13


@dataclass(frozen=True, kw_only=True)
class PairedAccuracy:
    """What paired results say: prevalence in each population, both tests, and the log likelihood."""

    prevalences: tuple[float, ...]
    first: Accuracy
    second: Accuracy
    log_likelihood: float


@dataclass(frozen=True, kw_only=True)
class Beta:
    """A beta distribution: what is known beforehand of a share."""

    a: float = 1.0
    b: float = 1.0


def _given(sick: FloatArray, well: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the chance of each pair of results with and without the disease, shape (4,)."""
    with_disease = np.prod(np.where(_SIGNS > 0, sick, 1.0 - sick), axis=1)
    without = np.prod(np.where(_SIGNS > 0, 1.0 - well, well), axis=1)
    return with_disease, without


def from_two_populations(counts: FloatArray) -> PairedAccuracy:
    """Return the most likely accuracy of two tests used on two populations of different prevalence.

    Parameters
    ----------
    counts
        Pairs ++, +-, -+, -- in each population, shape (2, 4).

    Raises
    ------
    ValueError
        If the counts do not have that shape or are negative.
    """
    table = np.asarray(counts, dtype=float)
    if table.shape != (2, len(_SIGNS)) or (table < 0).any():
        raise ValueError(f"Expected counts of shape (2, 4), none negative, got {counts!r}.")
    prevalence = (table[:, 0] + 0.5) / (table.sum(axis=1) + 1.0)
    sick, well = np.full(2, 0.8), np.full(2, 0.9)
    before = -np.inf
    for _ in range(_MOST_STEPS):
        with_disease, without = _given(sick, well)
        joint = prevalence[:, None] * with_disease
        chance = joint + (1.0 - prevalence[:, None]) * without
        likelihood = float((table * np.log(chance)).sum())
        diseased = table * joint / chance
        healthy = table - diseased
        prevalence = diseased.sum(axis=1) / table.sum(axis=1)
        sick = diseased.sum(axis=0) @ _SIGNS / diseased.sum()
        well = healthy.sum(axis=0) @ (1.0 - _SIGNS) / healthy.sum()
        if likelihood - before < _SETTLED * abs(likelihood):
            break
        before = likelihood
    return PairedAccuracy(
        prevalences=tuple(float(p) for p in prevalence),
        first=Accuracy(sensitivity=float(sick[0]), specificity=float(well[0])),
        second=Accuracy(sensitivity=float(sick[1]), specificity=float(well[1])),
        log_likelihood=likelihood,
    )


def from_one_population(
    counts: FloatArray,
    *,
    prevalence: Beta,
    sensitivities: tuple[Beta, Beta],
    specificities: tuple[Beta, Beta],
    rng: np.random.Generator,
    draws: int = 20_000,
    burn_in: int = 1_000,
) -> tuple[float, Accuracy, Accuracy]:
    """Return the posterior means of prevalence and of both tests, by Gibbs sampling.

    One population alone does not determine them: what is known beforehand must say enough.

    Parameters
    ----------
    counts
        Pairs ++, +-, -+, --, shape (4,).
    """
    table = np.asarray(counts, dtype=np.int64)
    if table.shape != (len(_SIGNS),) or (table < 0).any():
        raise ValueError(f"Expected counts of shape (4,), none negative, got {counts!r}.")
    share, sick, well = 0.5, np.full(2, 0.8), np.full(2, 0.8)
    total = np.zeros(5)
    for step in range(burn_in + draws):
        with_disease, without = _given(sick, well)
        chance = share * with_disease / (share * with_disease + (1.0 - share) * without)
        diseased = rng.binomial(table, chance)
        healthy = table - diseased
        share = rng.beta(prevalence.a + diseased.sum(), prevalence.b + healthy.sum())
        found, cleared = diseased @ _SIGNS, healthy @ (1.0 - _SIGNS)
        sick = np.array(
            [rng.beta(p.a + found[i], p.b + diseased.sum() - found[i]) for i, p in enumerate(sensitivities)]
        )
        well = np.array(
            [
                rng.beta(p.a + cleared[i], p.b + healthy.sum() - cleared[i])
                for i, p in enumerate(specificities)
            ]
        )
        if step >= burn_in:
            total += np.array([share, *sick, *well])
    mean = total / draws
    first = Accuracy(sensitivity=float(mean[1]), specificity=float(mean[3]))
    return float(mean[0]), first, Accuracy(sensitivity=float(mean[2]), specificity=float(mean[4]))
