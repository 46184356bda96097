"""The draws of all chains together, and what follows from them: figures, intervals, diagnostics."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from broodsweep.spread.chain import Batch, Chain
from broodsweep.spread.diagnostics import batch_error, effective_mean_size, effective_size, rhat
from broodsweep.spread.priors import Prior, Slot
from broodsweep.units import AnyArray, BoolArray, FloatArray, IntArray

_NORMAL_90 = 1.6448536269514722
_TINY = 1e-12
_WORST = 40
"""Nodes whose error is worked out from the effective number of draws."""
_LEAST_DRAWS = 40


@dataclass(frozen=True, kw_only=True)
class Draws:
    """Draws kept for figures, for re-weighting and for the worth of visits.

    ``near`` are the nodes of the columns of ``rows`` (conditional chances, shape (draws, near)); the infected of draw
    d are ``node[first[d]:first[d + 1]]`` with ``days`` (infection, signs).
    """

    theta: FloatArray
    unseen: FloatArray
    near: IntArray
    rows: AnyArray
    first: IntArray
    node: IntArray
    days: IntArray
    chance: FloatArray
    """Chance of every node, shape (nodes,)."""
    error: FloatArray
    """Monte-Carlo error of it; of far nodes from the batches in which their turn came."""

    def __len__(self) -> int:
        return len(self.theta)

    @classmethod
    def of_nothing(cls) -> Draws:
        """Return no draws of no nodes."""
        nothing, none = np.zeros(0), np.zeros(0, dtype=np.int64)
        return cls(
            theta=np.zeros((0, int(Slot.CONTACT) + 1)),
            unseen=nothing,
            near=none,
            rows=np.zeros((0, 0)),
            first=np.zeros(1, dtype=np.int64),
            node=none,
            days=np.zeros((0, 2), dtype=np.int64),
            chance=nothing,
            error=nothing,
        )

    @property
    def draw_of(self) -> IntArray:
        """Draw to which each entry of ``node`` belongs."""
        return np.repeat(np.arange(len(self)), np.diff(self.first))


@dataclass(frozen=True, kw_only=True)
class Check:
    """Agreement and error of all figures so far."""

    rhat_max: float
    ess_min: float
    mcse_max: float


def check(chains: list[Chain], priors: tuple[Prior, ...]) -> Check:
    """Return whether the chains agree, from their batches."""
    series = [np.stack([_joined(chain, "figures")[:, k] for chain in chains]) for k in range(2)]
    theta = np.stack([_joined(chain, "theta") for chain in chains])
    series += [np.log(theta[:, :, row.slot]) for row in priors if row.family != "fixed"]
    series = [one for one in series if one.std() > 0]
    return Check(
        rhat_max=max((rhat(one) for one in series), default=1.0),
        ess_min=min((effective_size(one) for one in series), default=float(theta.shape[0] * theta.shape[1])),
        mcse_max=float(errors_of(chains).max(initial=0.0)),
    )


def errors_of(chains: list[Chain]) -> FloatArray:
    """Return the Monte-Carlo error of the near nodes' chances.

    From the means of batches; where these are greatest, from the effective number of draws, which is less noisy: the
    greatest of a thousand noisy errors would be far above every true one.
    """
    batches = [batch for chain in chains for batch in chain.batches]
    means = np.stack([batch.rows.mean(axis=0, dtype=float) for batch in batches])
    error = batch_error(means)
    spread = np.sqrt(
        np.stack([batch.rows.var(axis=0, dtype=float) for batch in batches]).mean(axis=0) + means.var(axis=0)
    )
    if len(batches[0].sizes) * len(chains[0].batches) < _LEAST_DRAWS:
        return error
    worst = np.union1d(np.argsort(-error)[:_WORST], np.argsort(-spread)[:_WORST])
    for j in worst:
        draws = np.stack([np.concatenate([batch.rows[:, j] for batch in chain.batches]) for chain in chains])
        error[j] = spread[j] / np.sqrt(effective_mean_size(draws.astype(float)))
    return error


def _joined(chain: Chain, name: str) -> FloatArray:
    return np.concatenate([getattr(batch, name) for batch in chain.batches])


def collect(chains: list[Chain], near: IntArray, far: IntArray, most: int) -> Draws:
    """Return the draws of all chains, evenly thinned to at most ``most``, and the chances from all of them."""
    batches = [batch for chain in chains for batch in chain.batches]
    n = len(chains[0].world.node)
    chance, error = np.zeros(n), np.zeros(n)
    means = np.stack([batch.rows.mean(axis=0, dtype=float) for batch in batches])
    chance[near], error[near] = means.mean(axis=0), errors_of(chains)
    if len(far):
        means = np.stack([batch.far_mean for batch in batches])
        known = np.isfinite(means)
        often = np.maximum(known.sum(axis=0), 1)
        chance[far] = np.where(known, means, 0.0).sum(axis=0) / often
        off = np.where(known, means - chance[far], 0.0)
        error[far] = np.sqrt((off**2).sum(axis=0) / np.maximum(often - 1, 1) / often)
    total = sum(len(batch.sizes) for batch in batches)
    step = max(1, -(-total // most))
    parts = [_thinned(batch, step) for batch in batches]
    sizes = np.concatenate([part[1] for part in parts])
    return Draws(
        theta=np.concatenate([batch.theta[keep] for (keep, *_), batch in zip(parts, batches, strict=True)]),
        unseen=np.concatenate(
            [batch.figures[keep, 0] for (keep, *_), batch in zip(parts, batches, strict=True)]
        ),
        near=near,
        rows=np.concatenate([batch.rows[keep] for (keep, *_), batch in zip(parts, batches, strict=True)]),
        first=np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64),
        node=np.concatenate([part[2] for part in parts]).astype(np.int64),
        days=np.concatenate([part[3] for part in parts]).astype(np.int64),
        chance=chance,
        error=error,
    )


def _thinned(batch: Batch, step: int) -> tuple[IntArray, IntArray, IntArray, IntArray]:
    keep = (
        np.arange(step - 1, len(batch.sizes), step)
        if len(batch.sizes) >= step
        else np.array([len(batch.sizes) - 1])
    )
    wanted = np.zeros(len(batch.sizes), dtype=np.bool_)
    wanted[keep] = True
    of_draw = np.repeat(wanted, batch.sizes)
    return keep, batch.sizes[keep], batch.node[of_draw], batch.days[of_draw]


def spread_over_parameters(draws: Draws, priors: tuple[Prior, ...]) -> FloatArray:
    """Return, for each near node, how much its chance varies with the parameters (standard deviation).

    The chances of the draws are regressed on the walking-scale parameters and their squares; the standard deviation
    of the fit, less what chance alone would fit, is how far the figure would move if the parameters were known.
    """
    columns = [np.ones(len(draws))]
    for row in priors:
        if row.family == "fixed":
            continue
        value = draws.theta[:, row.slot]
        z = np.log(value) if row.family == "lognormal" else np.log(value / np.maximum(1.0 - value, _TINY))
        z = (z - z.mean()) / max(float(z.std()), _TINY)
        columns += [z, z * z]
    design = np.stack(columns, axis=1)
    if len(draws) < 3 * design.shape[1]:
        return np.zeros(len(draws.near))
    basis, _ = np.linalg.qr(design)
    values = draws.rows.astype(np.float64)
    weights = basis.T @ values
    mean = values.mean(axis=0)
    explained = (weights**2).sum(axis=0) / len(draws) - mean**2
    whole = values.var(axis=0)
    by_chance = (design.shape[1] - 1) / len(draws)
    return np.asarray(np.sqrt(np.maximum(explained - by_chance * whole, 0.0)))


def intervals(chance: FloatArray, spread: FloatArray, error: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the 90 % range of a chance on the logit scale from its spread and Monte-Carlo error."""
    p = np.clip(chance, _TINY, 1.0 - _TINY)
    logit = np.log(p / (1.0 - p))
    wide = np.sqrt(spread**2 + np.where(np.isfinite(error), error, 0.0) ** 2)
    relative = np.minimum(wide / (p * (1.0 - p)), 6.0)
    # A log-normal with this relative spread: near 0 and 1 the logit is the log.
    sigma = np.sqrt(np.log1p(relative**2))
    low = 1.0 / (1.0 + np.exp(-(logit - _NORMAL_90 * sigma)))
    high = 1.0 / (1.0 + np.exp(-(logit + _NORMAL_90 * sigma)))
    return np.minimum(low, chance), np.maximum(high, chance)


def none_left(chains: list[Chain]) -> tuple[float, float]:
    """Return the chance that nothing infected is left unfound, with its Monte-Carlo error."""
    means = np.array([[float((b.figures[:, 0] == 0).mean())] for chain in chains for b in chain.batches])
    return float(means.mean()), float(batch_error(means)[0])


def is_infected(draws: Draws, node: int) -> BoolArray:
    """Mark the draws in which a node is infected."""
    inside = np.zeros(len(draws), dtype=np.bool_)
    inside[draws.draw_of[draws.node == node]] = True
    return inside


def parameter_table(draws: Draws, priors: tuple[Prior, ...]) -> list[tuple[Prior, FloatArray]]:
    """Return each sampled parameter with its 2.5 %, 50 % and 97.5 % points."""
    return [
        (row, np.quantile(draws.theta[:, row.slot], [0.025, 0.5, 0.975]))
        for row in priors
        if row.family != "fixed" and row.slot != Slot.CONTACT
    ]
