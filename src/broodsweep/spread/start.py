"""Where a chain starts: parameters from the prior, the found apiaries infected at a possible day."""

from __future__ import annotations

import numpy as np

from broodsweep.spread.arrays import KINDS, LIFE, PARTS, State, World
from broodsweep.spread.kernels import contact_of
from broodsweep.spread.likelihood import fill_base, new_table, rebuild
from broodsweep.spread.priors import SAMPLED, Prior, Slot
from broodsweep.spread.random_numbers import new_stream
from broodsweep.units import FloatArray, IntArray

_FAMILIES = {"fixed": 0.0, "lognormal": 1.0, "beta": 2.0}
_ROOM = 800
"""Most unseen infected apiaries in one explanation."""
_FIRST_STEP = -0.5
"""Log step of every walk at the start."""


def belief_of(priors: tuple[Prior, ...]) -> FloatArray:
    """Return the priors as an array for the compiled walks: family, two numbers, by slot."""
    belief = np.zeros((SAMPLED, 3))
    for row in priors:
        belief[row.slot] = (_FAMILIES[row.family], row.first, row.second)
    return belief


def new_state(w: World, seed: int, number: int) -> State:
    """Return a state in which nobody is infected and the parameters are still zero."""
    n = len(w.node)
    found = int((w.node["found_how"] > 0).sum())
    room = min(n, found + _ROOM) + 1
    most_in = int((w.node["into_last"] - w.node["into_first"]).max(initial=0))
    points = int(w.cut / w.step) + 3
    life = np.zeros(n, dtype=LIFE)
    life["infected"] = life["signs"] = w.days
    life["place"] = life["row_version"] = -1
    life["weight"], life["ladder"] = 1.0, np.arange(1.0, n + 1.0)
    tally = np.zeros((KINDS, 3))
    tally[:, 2] = _FIRST_STEP
    sums = np.zeros((5, PARTS))
    sums[3, 0] = 1.0
    state = State(
        theta=np.zeros(int(Slot.CONTACT) + 1),
        life=life,
        listed=np.zeros(room, dtype=np.int64),
        parts=np.zeros((n, PARTS)),
        sums=sums,
        counts=np.zeros(4, dtype=np.int64),
        table=np.zeros(points),
        change=np.zeros((room, PARTS)),
        mass=np.zeros(2 + 2 * room + most_in),
        rate=np.zeros(room),
        line=np.zeros((room, 4), dtype=np.int64),
        random=new_stream(seed, number),
        tally=tally,
    )
    fill_base(w, state)
    return state


def put_parameters(w: World, st: State, theta: FloatArray) -> None:
    """Set the parameters; contact follows from cases, reach and shape unless it is given."""
    st.theta[:] = theta
    new_table(w, st)
    if theta[Slot.CONTACT] == 0.0:
        st.theta[Slot.CONTACT] = contact_of(w, st.table, theta[Slot.CASES])


def put_days(w: World, st: State, nodes: IntArray, infected: IntArray, signs: IntArray) -> None:
    """Set who is infected, found ones first, and compute the caches."""
    st.life["infected"][:] = w.days
    st.life["signs"][:] = w.days
    st.life["place"][:] = -1
    order = np.argsort(w.node["found_how"][nodes] == 0, kind="stable")
    for place, k in enumerate(order):
        j = nodes[k]
        st.listed[place], st.life["place"][j] = j, place
        st.life["infected"][j], st.life["signs"][j] = infected[k], signs[k]
    st.counts[0] = len(nodes)
    st.counts[1] = int((w.node["found_how"][nodes] > 0).sum())
    rebuild(w, st)


def infect_found(w: World, st: State, rng: np.random.Generator) -> None:
    """Infect every found apiary on a possible day in season, some weeks to months before it was found."""
    found = np.flatnonzero(w.node["found_how"] > 0)
    infected, signs = np.zeros(len(found), dtype=np.int64), np.zeros(len(found), dtype=np.int64)
    in_season = np.flatnonzero(w.season[0] > 0.0)
    for k, j in enumerate(found):
        low, last = int(w.node["start"][j]), int(w.node["found_day"][j])
        aim = last - int(rng.gamma(2.0, 45.0))
        possible = in_season[(in_season >= low) & (in_season <= min(last, w.node["stop"][j] - 1))]
        into = w.into[w.node["into_first"][j] : w.node["into_last"][j]]
        from_outside = into["day"][(into["node"] < 0) & (into["day"] >= low) & (into["day"] <= last)]
        possible = np.union1d(possible, from_outside)
        if len(possible) == 0:
            infected[k] = low - 1
            signs[k] = low
            continue
        infected[k] = possible[np.argmin(np.abs(possible - aim))]
        signs[k] = int(rng.integers(infected[k], last + 1))
    put_days(w, st, found, infected, signs)
