"""Walks of the parameters on log or logit scales, with steps that adapt while the chain warms up.

Reach and contact go together: the prior is on the number of secondary apiaries, so that changing the reach keeps
contact x area fixed (the ridge along which the data say little).

References
----------
Robbins & Monro 1951; Andrieu & Thoms 2008, Stat Comput 18:343 (adaptive scaling to an acceptance).
"""

# Structured arrays and compiled calls have no element types that mypy can see.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import numpy as np

from broodsweep.spread.arrays import State, World
from broodsweep.spread.compiled import compiled, lean
from broodsweep.spread.kernels import contact_of
from broodsweep.spread.likelihood import new_table, pressure_of, rebuild
from broodsweep.spread.observation import log_chance, log_reports, log_visits
from broodsweep.spread.priors import SAMPLED, Slot
from broodsweep.spread.random_numbers import normal, uniform
from broodsweep.units import FloatArray

_LOGNORMAL, _BETA = 1, 2
_AIM = 0.35
_CASES, _REACH, _SHAPE = int(Slot.CASES), int(Slot.REACH), int(Slot.SHAPE)
_SILENT, _REPORT, _SENSITIVITY, _CONTACT = (
    int(Slot.SILENT),
    int(Slot.REPORT),
    int(Slot.SENSITIVITY),
    int(Slot.CONTACT),
)
_WALK_KIND = 8
"""Walks are counted behind the latent moves in ``State.tried``."""


@lean
def log_prior(belief: FloatArray, slot: int, value: float) -> float:
    """Return the log density on the walking scale (log or logit), up to a constant."""
    kind, first, second = belief[slot, 0], belief[slot, 1], belief[slot, 2]
    if kind == _LOGNORMAL:
        z = (np.log(value) - np.log(first)) / second
        return -0.5 * z * z
    if kind == _BETA:
        return first * np.log(value) + second * np.log(1.0 - value)
    return 0.0


@lean
def _stepped(belief: FloatArray, slot: int, value: float, step: float) -> float:
    if belief[slot, 0] == _LOGNORMAL:
        return float(value * np.exp(step))
    return 1.0 / (1.0 + (1.0 - value) / value * np.exp(-step))


@lean
def refresh(w: World, st: State) -> None:
    """Compute the log chances of the infections anew from their parts."""
    for k in range(st.counts[0]):
        j = st.listed[k]
        st.life[j].log_chance = log_chance(pressure_of(st.theta, st.parts[j]))


@lean
def _transmission(st: State) -> float:
    value = -pressure_of(st.theta, st.sums[0])
    for k in range(st.counts[0]):
        value += log_chance(pressure_of(st.theta, st.parts[st.listed[k]]))
    return value


@lean
def _records(w: World, st: State, slot: int) -> float:
    value = 0.0
    for k in range(st.counts[0]):
        j = st.listed[k]
        if slot == _REPORT:
            value += log_reports(w, j, st.life[j].signs, st.theta[slot])
        else:
            value += log_visits(w, j, st.life[j].signs, st.theta[slot])
    return st.sums[3, 0] * value


@lean
def _weight_of(w: World, st: State, slot: int) -> float:
    """Part of the log target that the parameter touches."""
    if slot in (_REPORT, _SENSITIVITY):
        return _records(w, st, slot)
    return _transmission(st)


@lean
def _adapt(st: State, slot: int, accepted: bool, gain: float) -> None:
    st.tally[_WALK_KIND + slot, 0] += 1.0
    st.tally[_WALK_KIND + slot, 1] += accepted
    if gain > 0.0:
        st.tally[_WALK_KIND + slot, 2] += gain * ((1.0 if accepted else 0.0) - _AIM)
        st.tally[_WALK_KIND + slot, 2] = min(max(st.tally[_WALK_KIND + slot, 2], -6.0), 2.0)


@lean
def step_one(w: World, st: State, belief: FloatArray, slot: int, gain: float) -> None:
    """Walk one parameter that the caches enter linearly, or that touches the records only."""
    old, old_contact = st.theta[slot], st.theta[_CONTACT]
    before = _weight_of(w, st, slot) + log_prior(belief, slot, old)
    new = _stepped(belief, slot, old, np.exp(st.tally[_WALK_KIND + slot, 2]) * normal(st.random))
    st.theta[slot] = new
    if slot == _CASES:
        st.theta[_CONTACT] = old_contact * new / old
    after = _weight_of(w, st, slot) + log_prior(belief, slot, new)
    accepted = np.log(1.0 - uniform(st.random)) < after - before
    if accepted:
        refresh(w, st)
    else:
        st.theta[slot], st.theta[_CONTACT] = old, old_contact
    _adapt(st, slot, accepted, gain)


@compiled
def _changed_caches(w: World, st: State, slot: int, table: FloatArray) -> None:
    if slot != _SILENT:
        table[:] = st.table
        new_table(w, st)
        st.theta[_CONTACT] = contact_of(w, st.table, st.theta[_CASES])
    rebuild(w, st)


@compiled
def step_deep(w: World, st: State, belief: FloatArray, slot: int, gain: float) -> None:
    """Walk a parameter on which every cache depends: reach, shape, or infectiousness before signs."""
    old, old_contact, old_version = st.theta[slot], st.theta[_CONTACT], st.counts[2]
    count = st.counts[0]
    parts, total, table = np.empty((count, 5)), st.sums[0].copy(), np.empty_like(st.table)
    for k in range(count):
        parts[k] = st.parts[st.listed[k]]
    before = _transmission(st) + log_prior(belief, slot, old)
    st.theta[slot] = _stepped(belief, slot, old, np.exp(st.tally[_WALK_KIND + slot, 2]) * normal(st.random))
    _changed_caches(w, st, slot, table)
    after = _transmission(st) + log_prior(belief, slot, st.theta[slot])
    accepted = np.log(1.0 - uniform(st.random)) < after - before
    if not accepted:
        st.theta[slot], st.theta[_CONTACT] = old, old_contact
        if slot != _SILENT:
            st.table[:] = table
            st.counts[2] = old_version
        st.sums[0, :] = total
        for k in range(count):
            st.parts[st.listed[k]] = parts[k]
        refresh(w, st)
    _adapt(st, slot, accepted, gain)


@compiled
def all_walks(w: World, st: State, belief: FloatArray, gain: float) -> None:
    """Walk every parameter that is not fixed once."""
    for slot in range(SAMPLED):
        if belief[slot, 0] == 0.0:
            continue
        if slot in (_REACH, _SHAPE, _SILENT):
            step_deep(w, st, belief, slot, gain)
        else:
            step_one(w, st, belief, slot, gain)
