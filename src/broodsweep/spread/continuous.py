"""How well an outbreak whose times are known fits rates of infection, in continuous time.

For closed outbreaks, and for measuring the daily model against published fits: infection times and removal times are
known, the rate at which a unit is infected adds up over those that can infect it,

    rate of j at t = sum_k theta_k [ constant_k(j) + sum_i pairs_k(i, j) 1{infected_i < t <= removed_i} ],

and the log likelihood is the sum of the log rates at the times of infection less the rates summed over the time at
risk. It is concave in theta, so that there is one maximum. The daily model comes to the same as its steps shrink.

References
----------
Gibson & Renshaw 1998, IMA J Math Appl Med Biol 15:19; Höhle 2009, Biom J 51:961 (additive rates);
Neal & Roberts 2004, Biostatistics 5:249.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from broodsweep.units import BoolArray, FloatArray

_ENOUGH = 1e-11
"""Gain of a Newton step, in log likelihood, below which the maximum is reached."""
_MOST_STEPS = 200
_LEAST_SHARE = 1e-9


@dataclass(frozen=True, kw_only=True)
class Times:
    """When each unit was infected and removed, infinite for never; shape (units,), any unit of time.

    Those infected before ``start`` are taken as given. ``end`` is the last moment seen.
    """

    infected: FloatArray
    removed: FloatArray
    start: float
    end: float

    def __post_init__(self) -> None:
        if self.infected.shape != self.removed.shape or not self.start < self.end:
            raise ValueError(f"Expected one removal per infection and start < end, got {self}.")
        if (
            np.isnan(self.infected).any()
            or np.isnan(self.removed).any()
            or (self.removed < self.infected).any()
        ):
            raise ValueError("Expected every removal behind its infection and infinity for never.")

    @property
    def is_given(self) -> BoolArray:
        """Mark the units infected before the start."""
        return np.asarray(self.infected < self.start)

    @property
    def is_infected(self) -> BoolArray:
        """Mark the units infected from the start to the end."""
        return np.asarray((self.infected >= self.start) & (self.infected <= self.end))


@dataclass(frozen=True, kw_only=True)
class Rates:
    """Everything the likelihood needs of an outbreak: it is linear in the parameters but for the logarithm.

    Parameters
    ----------
    at_infection
        Rate of each unit infected at the time of its infection by part, shape (infected, parts).
    exposure
        Time at risk times the rate, over all units, by part; shape (parts,).
    """

    at_infection: FloatArray
    exposure: FloatArray

    def log_likelihood(self, theta: FloatArray) -> float:
        """Return the log likelihood; minus infinity where an infection had no chance."""
        rate = self.at_infection @ theta
        if (rate <= 0.0).any():
            return -np.inf
        return float(np.log(rate).sum() - self.exposure @ theta)

    def score(self, theta: FloatArray) -> FloatArray:
        """Return the slope of the log likelihood, shape (parts,)."""
        return np.asarray(self.at_infection.T @ (1.0 / (self.at_infection @ theta)) - self.exposure)

    def information(self, theta: FloatArray) -> FloatArray:
        """Return minus the curvature of the log likelihood, shape (parts, parts)."""
        share = self.at_infection / (self.at_infection @ theta)[:, None]
        return np.asarray(share.T @ share)


def rates_of(times: Times, pairs: FloatArray, constant: FloatArray) -> Rates:
    """Return what the likelihood needs.

    Parameters
    ----------
    times
        When each unit was infected and removed.
    pairs
        Rate from unit i to unit j by part, shape (parts, units, units); nothing infects itself.
    constant
        Rate that does not depend on who is infected by part, shape (constant parts, units); these parts come last.
    """
    n = len(times.infected)
    if pairs.shape[1:] != (n, n) or constant.shape[1:] != (n,):
        raise ValueError(
            f"Expected pairs (parts, {n}, {n}) and constant (parts, {n}), got {pairs.shape}, {constant.shape}."
        )
    at_risk = ~times.is_given
    until = np.minimum(times.infected, times.end)
    begin = np.maximum(times.infected, times.start)
    # Time for which i infects while j is at risk: rows i, columns j.
    overlap = np.minimum(times.removed[:, None], until[None]) - np.minimum(begin[:, None], until[None])
    spent = np.where(at_risk[None], np.maximum(overlap, 0.0), 0.0)
    np.fill_diagonal(spent, 0.0)
    alone = np.where(at_risk, until - times.start, 0.0)
    who = np.flatnonzero(times.is_infected)
    now = times.infected[who]
    on = (times.infected[:, None] < now[None]) & (now[None] <= times.removed[:, None])
    on[who, np.arange(len(who))] = False
    by_pairs = np.einsum("kim,im->mk", pairs[:, :, who], on)
    return Rates(
        at_infection=np.concatenate([by_pairs, constant[:, who].T], axis=1),
        exposure=np.concatenate([np.einsum("kij,ij->k", pairs, spent), constant @ alone]),
    )


@dataclass(frozen=True, kw_only=True)
class Fit:
    """The parameters that fit best, with their standard errors from the curvature there."""

    theta: FloatArray
    error: FloatArray
    log_likelihood: float

    @property
    def log_error(self) -> FloatArray:
        """Standard error of the logarithm of each parameter, which is the same curvature seen on another scale."""
        return np.asarray(self.error / self.theta)


def fit(rates: Rates, start: FloatArray) -> Fit:
    """Return the maximum of the likelihood by Newton's steps, kept inside positive parameters.

    Raises
    ------
    ValueError
        If the start is not positive, or the maximum lies at a parameter of zero: leave that part out then.
    """
    theta = np.asarray(start, dtype=np.float64)
    if not (theta > 0.0).all():
        raise ValueError(f"Expected a positive start, got {start}.")
    for _ in range(_MOST_STEPS):
        slope, curve = rates.score(theta), rates.information(theta)
        step = np.linalg.solve(curve, slope)
        gain, share = float(slope @ step), 1.0
        here = rates.log_likelihood(theta)
        while share > _LEAST_SHARE and not (
            (theta + share * step > 0.0).all() and rates.log_likelihood(theta + share * step) >= here
        ):
            share /= 2.0
        theta = theta + share * step if share > _LEAST_SHARE else theta
        if gain < _ENOUGH:
            break
        if share <= _LEAST_SHARE:
            raise ValueError(f"Expected a maximum inside positive parameters, got stuck at {theta}.")
    else:
        raise ValueError(f"Expected a maximum within {_MOST_STEPS} steps, got no further than {theta}.")
    error = np.sqrt(np.diag(np.linalg.inv(rates.information(theta))))
    return Fit(theta=theta, error=np.asarray(error), log_likelihood=rates.log_likelihood(theta))
