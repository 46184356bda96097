"""What to look at or test next: information in bits, chance that the decision changes, per minute and per cost.

References
----------
Lindley, Ann. Math. Stat. 1956;27:986 (expected information of an experiment).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from broodsweep.diagnosis import constants as c
from broodsweep.diagnosis.catalogue import CATALOGUE
from broodsweep.diagnosis.conditions import EXOTICS, FOULBROODS, Condition
from broodsweep.diagnosis.decide import Decision, State, Thresholds
from broodsweep.diagnosis.infer import sign_weights
from broodsweep.diagnosis.matrix import minutes_to_look
from broodsweep.diagnosis.matrix import signs as all_signs
from broodsweep.diagnosis.methods import Method
from broodsweep.diagnosis.network import Network, all_states, point_network, sample_states
from broodsweep.diagnosis.observations import Observations
from broodsweep.diagnosis.reading import Result
from broodsweep.units import FloatArray
from broodsweep.words import Message, say

NOT_SIGNS_TO_LOOK_FOR = frozenset({"several_colonies"})


@dataclass(frozen=True, kw_only=True)
class NextTest:
    """A look or a test not done yet, and what it is worth.

    ``bits`` is the expected information on which of the notifiable conditions are present;
    ``decision_change_probability`` the chance that the decision changes. ``cost`` is in field kits.
    ``worth`` is bits for the effort, waiting and cost counted in minutes, times a hundred.
    """

    name: str
    is_test: bool
    bits: float
    decision_change_probability: float
    minutes: float
    cost: float
    waiting_days: float
    worth: float
    text: Message

    @property
    def bits_per_minute(self) -> float:
        """Expected information for a minute of hands-on time."""
        return self.bits / self.minutes

    @property
    def decision_change_per_minute(self) -> float:
        """Chance that the decision changes, for a minute of hands-on time."""
        return self.decision_change_probability / self.minutes

    @property
    def decision_change_per_cost(self) -> float | None:
        """Chance that the decision changes, for the price of one field kit; None when it costs nothing."""
        return self.decision_change_probability / self.cost if self.cost > 0.0 else None

    @property
    def bits_per_cost(self) -> float | None:
        """Expected information for the price of one field kit; None when it costs nothing."""
        return self.bits / self.cost if self.cost > 0.0 else None


def _classes() -> FloatArray:
    """Return the notifiable conditions present, as one class of eight for each state, shape (8, states)."""
    has, order = all_states().has, list(Condition)
    afb, efb = (has[order.index(disease)] for disease in FOULBROODS)
    exotic = np.max([has[order.index(pest)] for pest in EXOTICS], axis=0)
    code = (afb + 2 * efb + 4 * exotic).astype(int)
    return np.eye(8)[:, code]


def _entropy(shares: FloatArray) -> FloatArray:
    """Return the entropy of classes along the first axis. [bit]"""
    safe = np.where(shares > 0.0, shares, 1.0)
    return np.asarray(-(shares * np.log2(safe)).sum(axis=0))


def outcome_table(network: Network, method: Method) -> FloatArray:
    """Return the chance of each outcome on a fresh sample in every state, row 0, shape (outcomes, states)."""
    held, free = (table[:, :, 0] for table in network.steps[method.name])
    holds = network.pools[method.target, method.sample][:, 0]
    stage, confused = sample_states(method)
    chance = holds[stage][:, None] * held[stage] + (1.0 - holds[stage])[:, None] * free[confused]
    return np.asarray(chance.T)


def _candidates(
    observed: Observations, results: tuple[Result, ...]
) -> Iterator[tuple[str, Method | None, FloatArray]]:
    network = point_network()
    for sign in all_signs():
        if sign in observed.signs or sign in NOT_SIGNS_TO_LOOK_FOR:
            continue
        seen = sign_weights(network, [(sign, True)], observer=observed.observer)[:, 0]
        yield sign, None, np.stack([seen, 1.0 - seen])
    settled = {result.method.name for result in results if result.outcome is not None and result.is_positive}
    for method in CATALOGUE:
        if method.name not in settled:
            yield method.name, method, outcome_table(network, method)


def next_tests(
    weights: FloatArray,
    observed: Observations,
    results: tuple[Result, ...],
    decision: Decision,
    thresholds: Thresholds,
) -> tuple[NextTest, ...]:
    """Return the looks and tests not done yet, the most worth first.

    Parameters
    ----------
    weights
        Posterior weight of every state, row 0 of ``state_weights``, shape (states,).
    """
    classes = _classes()
    held = {result.method.target for result in results if result.is_positive and result.method.is_specific}
    now = float(_entropy(classes @ weights))
    found = []
    for name, method, table in _candidates(observed, results):
        joint = table * weights
        chance = joint.sum(axis=1)
        after = joint / chance[:, None]
        bits = max(now - float(chance @ _entropy(classes @ after.T)), 0.0)
        changes = [
            _would_change(decision, held, after[index], method, index, thresholds)
            for index in range(len(chance))
        ]
        minutes = minutes_to_look(name) if method is None else method.minutes
        cost, days = (0.0, 0.0) if method is None else (method.cost, method.waiting_days)
        effort = minutes + cost * c.MINUTES_PER_COST.value + days * c.MINUTES_PER_WAITING_DAY.value
        key = f"diagnosis.sign.{name}" if method is None else f"diagnosis.test.{name}"
        found.append(
            NextTest(
                name=name,
                is_test=method is not None,
                bits=bits,
                decision_change_probability=min(float(chance @ np.array(changes, dtype=float)), 1.0),
                minutes=minutes,
                cost=cost,
                waiting_days=days,
                worth=100.0 * bits / effort,
                text=say("diagnosis.next_test" if method else "diagnosis.next_look", what=say(key)),
            )
        )
    return tuple(sorted(found, key=lambda test: (-test.worth, test.name)))


def _would_change(
    decision: Decision,
    held: set[Condition],
    after: FloatArray,
    method: Method | None,
    outcome: int,
    thresholds: Thresholds,
) -> bool:
    """Say whether another set of conditions would be suspected, or a suspected one confirmed.

    ``held`` are suspected on a positive test, whatever their probability.
    """
    chance = all_states().has @ after
    order = list(Condition)
    is_positive = method is not None and method.outcomes[outcome] in method.positives
    wanted = set(held)
    for condition in (*FOULBROODS, *EXOTICS):
        p = chance[order.index(condition)]
        limit = thresholds.exotic_probability if condition in EXOTICS else thresholds.suspect_probability
        specific = method is not None and method.target is condition and is_positive
        specific = specific and method is not None and method.is_specific
        if p >= limit or specific:
            wanted.add(condition)
    confirms = (
        method is not None
        and is_positive
        and thresholds.is_confirmed_by(method)
        and chance[order.index(method.target)] >= thresholds.confirm_probability
        and decision.state is not State.CONFIRMED
    )
    return confirms or wanted != set(decision.conditions)


def is_enough(decision: Decision, tests: tuple[NextTest, ...]) -> bool:
    """Say whether to act without waiting for another look in the field.

    True when the colony is suspected or confirmed and no look or test that can be done on the spot has
    more than a small chance of changing that.
    """
    if decision.state not in (State.SUSPECTED, State.CONFIRMED):
        return False
    here = [test.decision_change_probability for test in tests if test.waiting_days == 0.0]
    return max(here, default=0.0) < c.DECISION_SETTLED.value
