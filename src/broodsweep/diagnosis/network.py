"""The network: states, and for each row of numbers the tables that evidence is weighed with.

Nodes: the conditions (several may be present, at most three), the stage of each foulbrood, the signs
(leaky noisy-OR of the parts present), and for every sample a node "holds the agent" between a condition
and the results on that sample.

Everything is computed for many rows of numbers at once: row 0 holds the numbers as they stand, the other
rows are draws of them or changes to them.

References
----------
Noisy-OR with leak: Henrion 1989; Pearl, *Probabilistic Reasoning in Intelligent Systems*, 1988, 4.3.2.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from broodsweep.diagnosis import constants as c
from broodsweep.diagnosis.catalogue import CATALOGUE
from broodsweep.diagnosis.conditions import FOULBROODS, PARTS, SEASONS, STAGES, Condition, Season, states
from broodsweep.diagnosis.context import context_numbers
from broodsweep.diagnosis.matrix import prior_numbers, season_numbers, season_row, sign_numbers, stage_numbers
from broodsweep.diagnosis.methods import POOLS, Method, Sample
from broodsweep.diagnosis.numbers import Number, draw, from_sourced
from broodsweep.units import AnyArray, FloatArray, IntArray

COLUMNS = len(PARTS) + 1
ABSENT = len(STAGES)
"""Key of "the target is not present" beside the stages."""
_ADVANCED = 1


def _pool_numbers() -> tuple[Number, ...]:
    found = []
    for (target, sample), pool in POOLS.items():
        for stage, sourced in zip(STAGES, pool.with_disease, strict=True):
            found.append(from_sourced(sourced, where=f"sample/{target}/{sample}/{stage}"))
        found.append(from_sourced(pool.without, where=f"sample/{target}/{sample}/without"))
    return tuple(found)


def _method_numbers() -> tuple[Number, ...]:
    found = []
    for method in CATALOGUE:
        for step, by_stage in enumerate(method.held):
            for stage, sourced in zip(STAGES, by_stage, strict=True):
                found.append(from_sourced(sourced, where=f"test/{method.name}/held/{step}/{stage}"))
        for name in ("not_held", "confused"):
            for step, sourced in enumerate(getattr(method, name)):
                found.append(from_sourced(sourced, where=f"test/{method.name}/{name}/{step}"))
    return tuple(found)


@cache
def sections() -> dict[str, tuple[Number, ...]]:
    """Return all numbers of the model in their order, by section."""
    return {
        "signs": sign_numbers(),
        "priors": prior_numbers(),
        "seasons": season_numbers(),
        "stages": stage_numbers(),
        "contexts": context_numbers(),
        "pools": _pool_numbers(),
        "methods": _method_numbers(),
        "misread": (from_sourced(c.MISREAD_BY_UNTRAINED, where="misread"),),
    }


@cache
def numbers() -> tuple[Number, ...]:
    """Return every number of the model; its position is its slot in the draws."""
    return tuple(number for section in sections().values() for number in section)


@dataclass(frozen=True, kw_only=True)
class States:
    """The ways the parts can be present together.

    A state is an earlier one, its ``prefix``, and one more part, whose column is ``last``; ``by_size`` has
    the states with no part, one part, and so on.
    ``has`` has shape (conditions, n). ``stage_key`` has, for each condition, the stage (0 to 3) in each
    state, ``ABSENT`` where it is not present and 1 for a condition without stages.
    """

    prefix: IntArray
    last: IntArray
    by_size: tuple[slice, ...]
    has: FloatArray
    stage_key: IntArray


@cache
def all_states() -> States:
    """Return the states of the network, computed once."""
    listed = states()
    places = {chosen: index for index, chosen in enumerate(listed)}
    sizes = np.array([len(chosen) for chosen in listed])
    starts = np.searchsorted(sizes, np.arange(int(c.MOST_CONDITIONS_TOGETHER.value) + 2))
    conditions = list(Condition)
    has = np.zeros((len(conditions), len(listed)))
    key = np.full(has.shape, ABSENT, dtype=np.int64)
    for index, chosen in enumerate(listed):
        for column in chosen:
            part = PARTS[column - 1]
            row = conditions.index(part.condition)
            has[row, index] = 1.0
            key[row, index] = _ADVANCED if part.stage is None else STAGES.index(part.stage)
    return States(
        prefix=np.array([places[chosen[:-1]] for chosen in listed]),
        last=np.array([chosen[-1] if chosen else 0 for chosen in listed]),
        by_size=tuple(slice(int(a), int(b)) for a, b in itertools.pairwise(starts)),
        has=has,
        stage_key=key,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Network:
    """The tables for a set of rows of numbers, shape (rows, numbers)."""

    values: FloatArray

    def section(self, name: str) -> FloatArray:
        """Return the numbers of a section, shape (rows, n)."""
        start = 0
        for key, members in sections().items():
            if key == name:
                return self.values[:, start : start + len(members)]
            start += len(members)
        raise ValueError(f"Expected a section of the model, got {name!r}.")

    @property
    def rows(self) -> int:
        """How many rows of numbers there are."""
        return len(self.values)

    @cached_property
    def not_caused(self) -> FloatArray:
        """Chance that a part does not cause a sign, shape (signs, columns, rows).

        Column 0 is the healthy background. The words of the matrix are for a condition alone in a colony
        that has the background too, so the background is divided out.
        """
        stacked = self.section("signs").reshape(self.rows, -1, COLUMNS)
        table = 1.0 - np.moveaxis(stacked, 0, -1)
        table[:, 1:] = np.minimum(table[:, 1:] / table[:, :1], 1.0)
        return np.ascontiguousarray(table)

    def prior_odds(
        self, season: Season | None, factors: AnyArray | None, given: FloatArray | None
    ) -> FloatArray:
        """Return the prior odds of each column, shape (columns, rows); column 0 is 1.

        ``factors`` (conditions, rows) multiply the odds; ``given`` (conditions, rows) replaces the odds
        where it is not NaN.
        """
        prior = self.section("priors").T
        odds = prior / (1.0 - prior)
        if season is not None:
            by_season = self.section("seasons").T.reshape(len(Condition), len(SEASONS), self.rows)
            odds = odds * by_season[:, SEASONS.index(season)]
        if factors is not None:
            odds = odds * factors
        if given is not None:
            odds = np.where(np.isnan(given), odds, given)
        out = np.ones((COLUMNS, self.rows))
        shares = self.section("stages").T.reshape(
            len(FOULBROODS), len(SEASONS) + 1, len(STAGES) - 1, self.rows
        )
        order = list(Condition)
        for column, part in enumerate(PARTS, start=1):
            out[column] = odds[order.index(part.condition)]
            if part.stage is not None:
                chain = shares[FOULBROODS.index(part.condition), season_row(season)]
                out[column] = out[column] * _outcomes(chain)[STAGES.index(part.stage)]
        return out

    @cached_property
    def pools(self) -> dict[tuple[Condition, Sample], FloatArray]:
        """Chance that a sample holds the agent, by stage key (the stages, then absent), shape (5, rows)."""
        table = self.section("pools").T.reshape(len(POOLS), ABSENT + 1, self.rows)
        return dict(zip(POOLS, table, strict=True))

    @cached_property
    def steps(self) -> dict[str, tuple[FloatArray, FloatArray]]:
        """Outcome chances of each test: with the agent (5 keys, outcomes, rows), without it (2, outcomes, rows).

        The last key is a sample that holds the agent though the disease is absent; it answers like the
        weakest stage. The second row without the agent is for a colony with the confuser.
        """
        found, start, table = {}, 0, self.section("methods").T
        for method in CATALOGUE:
            n = len(method.outcomes) - 1
            held = table[start : start + ABSENT * n].reshape(n, ABSENT, self.rows)
            start += ABSENT * n
            free = table[start : start + n]
            start += n
            confused = free
            if method.confused:
                confused = table[start : start + n]
                start += n
            keys = [held[:, key] for key in range(ABSENT)]
            keys.append(held.min(axis=1))
            found[method.name] = (
                np.stack([_outcomes(chain) for chain in keys]),
                np.stack([_outcomes(free), _outcomes(confused)]),
            )
        return found


def _outcomes(chain: FloatArray) -> FloatArray:
    """Turn chances step by step (n, rows) into chances of outcomes (n + 1, rows)."""
    rest = np.ones(chain.shape[1])
    out = []
    for step in chain:
        out.append(rest * step)
        rest = rest * (1.0 - step)
    return np.stack([*out, rest])


@cache
def drawn_network(seed: int, draws: int) -> Network:
    """Return the network of the numbers as they stand (row 0) and ``draws`` draws of them."""
    point = np.array([[number.value for number in numbers()]])
    return Network(values=np.vstack([point, draw(numbers(), seed=seed, draws=draws)]))


@cache
def point_network() -> Network:
    """Return the network of the numbers as they stand, one row."""
    return Network(values=np.array([[number.value for number in numbers()]]))


def sample_states(method: Method) -> tuple[IntArray, IntArray]:
    """Return for each state the stage key of the test's target and whether the confuser is there (0, 1)."""
    found, order = all_states(), list(Condition)
    confused = np.zeros(found.has.shape[1], dtype=np.int64)
    if method.confuser is not None:
        confused = found.has[order.index(method.confuser)].astype(np.int64)
    return found.stage_key[order.index(method.target)], confused
