"""Whether chains agree and how exact their averages are.

References
----------
Vehtari, Gelman, Simpson, Carpenter & Bürkner 2021, Rank-normalization, folding, and localization: an improved R-hat,
Bayesian Analysis 16:667 (from memory: equations 1-4 for split R-hat, 10-14 for the effective size);
Geyer 1992, Stat Sci 7:473 (initial monotone sequence).
"""

from __future__ import annotations

import numpy as np

from broodsweep.units import FloatArray

_RANK_SHIFT, _RANK_SIZE = 0.375, 0.25
"""Blom's offsets for normal scores."""
_LEAST = 4


def _split(draws: FloatArray) -> FloatArray:
    half = draws.shape[1] // 2
    return np.concatenate([draws[:, :half], draws[:, draws.shape[1] - half :]], axis=0)


def _normal_scores(draws: FloatArray) -> FloatArray:
    from scipy import special, stats

    ranks = stats.rankdata(draws, method="average").reshape(draws.shape)
    return np.asarray(special.ndtri((ranks - _RANK_SHIFT) / (draws.size + _RANK_SIZE)))


def _plain_rhat(draws: FloatArray) -> float:
    length = draws.shape[1]
    within = float(draws.var(axis=1, ddof=1).mean())
    between = length * float(draws.mean(axis=1).var(ddof=1))
    if within == 0.0:
        return 1.0 if between == 0.0 else float("inf")
    return float(np.sqrt(((length - 1) / length * within + between / length) / within))


def rhat(draws: FloatArray) -> float:
    """Return the rank-normalised split R-hat, the greater of bulk and folded.

    Parameters
    ----------
    draws
        Draws of one figure, shape (chains, draws).

    Raises
    ------
    ValueError
        If there are fewer than four draws a chain.
    """
    _require(draws)
    halves = _split(draws)
    folded = np.abs(halves - np.median(halves))
    return max(_plain_rhat(_normal_scores(halves)), _plain_rhat(_normal_scores(folded)))


def effective_size(draws: FloatArray) -> float:
    """Return the effective number of independent draws (bulk: of the split, rank-normalised draws)."""
    _require(draws)
    scores = _normal_scores(_split(draws))
    return _effective(scores)


def effective_mean_size(draws: FloatArray) -> float:
    """Return the effective number of independent draws for the plain mean (draws as they are, split, not ranked)."""
    _require(draws)
    return _effective(_split(draws))


def _effective(draws: FloatArray) -> float:
    chains, length = draws.shape
    centred = draws - draws.mean(axis=1, keepdims=True)
    size = 1 << (2 * length - 1).bit_length()
    power = np.abs(np.fft.rfft(centred, size, axis=1)) ** 2
    covariance = np.fft.irfft(power, size, axis=1)[:, :length] / length
    within = float((covariance[:, 0] * length / (length - 1)).mean())
    if within == 0.0:
        return float(draws.size)
    total = within * (length - 1) / length + (float(draws.mean(axis=1).var(ddof=1)) if chains > 1 else 0.0)
    rho = 1.0 - (within - covariance.mean(axis=0) * length / (length - 1)) / total
    rho[0] = 1.0
    pairs = rho[: length - length % 2].reshape(-1, 2).sum(axis=1)
    negative = np.flatnonzero(pairs < 0)
    pairs = np.minimum.accumulate(pairs[: negative[0]] if len(negative) else pairs)
    tau = max(-1.0 + 2.0 * float(pairs.sum()), 1.0 / np.log10(draws.size))
    return float(draws.size / tau)


def _require(draws: FloatArray) -> None:
    if draws.ndim != 2 or draws.shape[1] < _LEAST:  # noqa: PLR2004
        raise ValueError(f"Expected draws of shape (chains, at least {_LEAST}), got {draws.shape}.")


def batch_error(means: FloatArray) -> FloatArray:
    """Return the Monte-Carlo error of averages from the means of equal batches, over all chains.

    Parameters
    ----------
    means
        Shape (batches, figures).
    """
    if len(means) < 2:  # noqa: PLR2004
        return np.full(means.shape[1], np.inf)
    return np.asarray(means.std(axis=0, ddof=1) / np.sqrt(len(means)))
