"""The compiled loop of a chain: sweeps, records, and the conditional chance of every apiary.

The chance of an apiary is not counted but averaged: for each recorded explanation, the chance that a step which does
nothing but infect or disinfect this apiary (Barker's acceptance) would leave it infected. That step keeps the
posterior, so the average of the chances is the posterior probability, without the noise of counting and without bias
however small it is (Rao-Blackwell).

References
----------
Barker 1965, Aust J Phys 18:119; Frenkel 2004, PNAS 101:17571 (using the rejected states).
"""

# Structured arrays and compiled calls have no element types that mypy can see.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import numpy as np

from broodsweep.spread.arrays import State, World
from broodsweep.spread.change import weigh
from broodsweep.spread.compiled import compiled, lean
from broodsweep.spread.likelihood import log_target, rebuild
from broodsweep.spread.moves import one_move
from broodsweep.spread.proposal import draw_infected, draw_signs, gather, log_density, log_density_signs
from broodsweep.spread.random_numbers import uniform
from broodsweep.spread.walks import all_walks
from broodsweep.units import AnyArray, FloatArray, IntArray

SHARES = (0.17, 0.17, 0.16, 0.16, 0.12, 0.06, 0.08, 0.08)
"""Chance of each kind of move, in the order of `moves`: add and remove must be equal, of branches too."""
FAR_SLICE = 800
"""Far nodes whose chance is worked out with a record."""
_REBUILD_EVERY = 500
_MOST_ODDS = 500.0


@lean
def latent(w: World, st: State, updates: int, shares: FloatArray) -> None:
    """Try so many moves; the kind is drawn first, whatever the state."""
    for _ in range(updates):
        aim, kind = uniform(st.random), 0
        while kind < len(shares) - 1 and aim >= shares[kind]:
            aim -= shares[kind]
            kind += 1
        taken = one_move(w, st, kind)
        st.tally[kind, 0] += 1.0
        st.tally[kind, 1] += taken


@compiled
def sweep_many(
    w: World,
    st: State,
    belief: FloatArray,
    sweeps: int,
    updates: int,
    shares: FloatArray,
    done: int,
    warm: bool,
) -> None:
    """Make so many sweeps; ``done`` counts those before, for the gain of the adaptation."""
    for sweep in range(sweeps):
        latent(w, st, updates, shares)
        gain = min(0.25, 4.0 / np.sqrt(done + sweep + 16.0)) if warm else 0.0
        all_walks(w, st, belief, gain)
        if (done + sweep) % _REBUILD_EVERY == _REBUILD_EVERY - 1:
            rebuild(w, st)


@lean
def chance(w: World, st: State, j: int) -> float:
    """Return the conditional chance that an unfound apiary is infected, given everything else."""
    total = gather(w, st, j)
    if not total > 0.0:
        return 0.0
    if st.life[j].place < 0:
        e = draw_infected(w, st, j, total)
        c = draw_signs(w, st, j, e)
        log_odds = weigh(w, st, j, e, c)
    else:
        e, c = st.life[j].infected, st.life[j].signs
        log_odds = -weigh(w, st, j, w.days, w.days)
    log_odds -= log_density(w, st, j, e, total) + log_density_signs(w, j, e, c)
    if log_odds > _MOST_ODDS:
        return 1.0
    odds = np.exp(log_odds)
    return float(odds / (1.0 + odds))


@lean
def chances(w: World, st: State, nodes: IntArray, out: AnyArray) -> None:
    """Write the conditional chances of some nodes; found ones and those without bees today have none."""
    for k in range(len(nodes)):
        j = nodes[k]
        out[k] = 0.0
        if w.node[j].found_how == 0 and w.node[j].stop == w.days:
            out[k] = chance(w, st, j)


@lean
def unseen_today(w: World, st: State) -> int:
    """Return how many apiaries are infected today and not found."""
    count = 0
    for k in range(st.counts[1], st.counts[0]):
        count += w.node[st.listed[k]].stop == w.days
    return count


@compiled
def record(
    w: World, st: State, theta: FloatArray, figures: FloatArray, node: AnyArray, days: AnyArray
) -> int:
    """Write the explanation into a record; return how many infected it has (cut to the room there is)."""
    theta[:] = st.theta
    figures[0], figures[1] = unseen_today(w, st), log_target(w, st)
    size = min(st.counts[0], len(node))
    for k in range(size):
        j = st.listed[k]
        node[k], days[k, 0], days[k, 1] = j, st.life[j].infected, st.life[j].signs
    return size


@compiled
def run_batch(
    w: World,
    st: State,
    belief: FloatArray,
    updates: int,
    shares: FloatArray,
    done: int,
    thin: int,
    near: IntArray,
    far: IntArray,
    at_far: int,
    theta: FloatArray,
    figures: FloatArray,
    sizes: IntArray,
    node: AnyArray,
    days: AnyArray,
    rows: AnyArray,
    far_sum: FloatArray,
    far_count: FloatArray,
) -> int:
    """Sweep and record; each record has the near nodes' chances, and those of a slice of the far ones in turn.

    The slices begin at ``at_far``.
    """
    used, slice_size = 0, min(len(far), FAR_SLICE)
    few = np.empty(slice_size)
    which = np.empty(slice_size, dtype=np.int64)
    for r in range(len(sizes)):
        sweep_many(w, st, belief, thin, updates, shares, done + r * thin, False)
        sizes[r] = record(w, st, theta[r], figures[r], node[used:], days[used:])
        used += sizes[r]
        chances(w, st, near, rows[r])
        for k in range(slice_size):
            which[k] = (at_far + k) % len(far)
        if slice_size > 0:
            chances(w, st, far[which], few)
            for k in range(slice_size):
                far_sum[which[k]] += few[k]
                far_count[which[k]] += 1.0
            at_far = (at_far + slice_size) % len(far)
    return used


@lean
def set_weights(st: State, values: FloatArray, floor: float) -> None:
    """Set the weights with which nodes are proposed: values plus a floor; found nodes must come with -1."""
    total = 0.0
    for j in range(len(values)):
        st.life[j].weight = values[j] + floor if values[j] >= 0.0 else 0.0
        total += st.life[j].weight
        st.life[j].ladder = total
