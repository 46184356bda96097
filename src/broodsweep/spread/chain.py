"""Chains: warm them up from different starts, run them batch by batch on threads, and keep their draws."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np

from broodsweep.spread.arrays import State, World
from broodsweep.spread.priors import Prior, draw_parameters
from broodsweep.spread.running import FAR_SLICE, SHARES, chances, run_batch, set_weights, sweep_many
from broodsweep.spread.settings import Settings
from broodsweep.spread.start import belief_of, infect_found, new_state, put_parameters
from broodsweep.units import AnyArray, FloatArray, IntArray

_NEAR = 1500
"""Nodes whose chance is worked out for every draw, when there are more than ``_MANY``; the others take turns."""
_MANY = 2000
_PASSES = 8
_COOL = 0.3
"""Weight of the evidence in the first part of every other chain's warm-up: it starts from too many infections."""
_FLOOR = 0.02
"""Least share of the proposals that is spread evenly over all nodes."""


@dataclass(frozen=True, kw_only=True)
class Batch:
    """Draws of one chain in one batch: parameters, figures (unseen today, log target), infected and chances."""

    theta: FloatArray
    figures: FloatArray
    sizes: IntArray
    node: IntArray
    days: IntArray
    rows: AnyArray
    far_mean: FloatArray


@dataclass(kw_only=True)
class Chain:
    """One chain with its state and the batches it has made."""

    world: World
    state: State
    belief: FloatArray
    number: int
    updates: int
    done: int = 0
    batches: list[Batch] = field(default_factory=list)


def start_chain(w: World, priors: tuple[Prior, ...], seed: int, number: int, updates: int) -> Chain:
    """Return a chain at its start: parameters from the prior, only the found apiaries infected."""
    rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, number, 1])))
    state = new_state(w, seed, number)
    put_parameters(w, state, draw_parameters(priors, rng))
    infect_found(w, state, rng)
    chain = Chain(world=w, state=state, belief=belief_of(priors), number=number, updates=updates)
    reweigh_proposals(chain, passes=1)
    return chain


def reweigh_proposals(chain: Chain, passes: int = _PASSES, sweeps: int = 10) -> None:
    """Set the proposal weights to the mean conditional chances over a few explanations, with a floor."""
    w, st = chain.world, chain.state
    nodes = np.arange(len(w.node), dtype=np.int64)
    total, once = np.zeros(len(nodes)), np.zeros(len(nodes))
    for _ in range(passes):
        if passes > 1:
            sweep_many(w, st, chain.belief, sweeps, chain.updates, np.array(SHARES), chain.done, True)
            chain.done += sweeps
        chances(w, st, nodes, once)
        total += once
    mean = total / passes
    # A little of every neighbour's luck: the square root evens out what few passes could not tell apart.
    values = np.where(w.node["found_how"] > 0, -1.0, 0.5 * mean + 0.5 * np.sqrt(mean * mean.mean()))
    possible = max(float(np.clip(values, 0.0, None).sum()), 1e-9)
    set_weights(st, values, _FLOOR * possible / max(len(nodes), 1))


def warm_up(chain: Chain, sweeps: int) -> None:
    """Let a chain find its way: every other one begins with most of the evidence left out."""
    w, st = chain.world, chain.state
    shares = np.array(SHARES)
    parts = (0.15, 0.15, 0.2, 0.25, 0.25)
    for part, share in enumerate(parts):
        st.sums[3, 0] = _COOL if part == 0 and chain.number % 2 == 1 else 1.0
        count = int(sweeps * share)
        sweep_many(w, st, chain.belief, count, chain.updates, shares, chain.done, True)
        chain.done += count
        if 0 < part < len(parts) - 1:
            reweigh_proposals(chain)
    st.sums[3, 0] = 1.0
    st.tally[:, :2] = 0.0


def run_one(chain: Chain, settings: Settings, near: IntArray, far: IntArray) -> Batch:
    """Run one batch of a chain and return its draws."""
    w, st = chain.world, chain.state
    draws = max(1, settings.batch_sweeps // settings.thin)
    room = draws * len(st.rate)
    theta, figures = np.zeros((draws, len(st.theta))), np.zeros((draws, 2))
    sizes = np.zeros(draws, dtype=np.int64)
    node, days = np.zeros(room, dtype=np.int32), np.zeros((room, 2), dtype=np.int32)
    rows = np.zeros((draws, len(near)), dtype=np.float32)
    far_sum, far_count = np.zeros(len(far)), np.zeros(len(far))
    # Every chain goes round the far nodes from a place of its own, and on where its last batch ended.
    before = sum(len(batch.sizes) for batch in chain.batches) * FAR_SLICE
    at_far = (before + chain.number * len(far) // settings.chains) % max(len(far), 1)
    used = run_batch(
        w, st, chain.belief, chain.updates, np.array(SHARES), chain.done, settings.thin, near, far, at_far,
        theta, figures, sizes, node, days, rows, far_sum, far_count,
    )  # fmt: skip
    chain.done += draws * settings.thin
    far_mean = np.where(far_count > 0, far_sum / np.maximum(far_count, 1.0), np.nan)
    return Batch(
        theta=theta,
        figures=figures,
        sizes=sizes,
        node=node[:used].astype(np.int64),
        days=days[:used].astype(np.int64),
        rows=rows,
        far_mean=far_mean,
    )


def start_all(
    w: World, priors: tuple[Prior, ...], seed: int, settings: Settings, pool: ThreadPoolExecutor
) -> list[Chain]:
    """Start and warm up every chain, on the pool's threads; the answer does not depend on how many there are."""
    found = int((w.node["found_how"] > 0).sum())
    updates = max(settings.updates, min(4 * found, 200))

    def make(number: int) -> Chain:
        chain = start_chain(w, priors, seed, number, updates)
        warm_up(chain, settings.warm_sweeps)
        return chain

    return list(pool.map(make, range(settings.chains)))


def split_nodes(chains: list[Chain]) -> tuple[IntArray, IntArray]:
    """Return the nodes whose chance every draw works out, and the others, by the mean proposal weight."""
    n = len(chains[0].world.node)
    if n <= _MANY:
        return np.arange(n, dtype=np.int64), np.zeros(0, dtype=np.int64)
    weight = np.mean(
        [chain.state.life["weight"] / chain.state.life["ladder"][-1] for chain in chains], axis=0
    )
    order = np.argsort(-weight, kind="stable")
    return np.sort(order[:_NEAR]), np.sort(order[_NEAR:])
