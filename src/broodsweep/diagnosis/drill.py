"""Practice: invented cases drawn from the model, and a proper score for the answers, over time and by sign.

References
----------
Brier, Mon. Weather Rev. 1950;78:1; Good, J. R. Stat. Soc. B 1952;14:107 (logarithmic score). Both are
proper: nobody gains by saying anything but what they believe.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import log2

import numpy as np

from broodsweep.diagnosis.catalogue import METHODS
from broodsweep.diagnosis.conditions import FOULBROODS, NOTHING_WRONG, PARTS, SEASONS, Condition, Season
from broodsweep.diagnosis.errors import ObservationError
from broodsweep.diagnosis.infer import sign_weights
from broodsweep.diagnosis.matrix import signs as all_signs
from broodsweep.diagnosis.network import all_states, point_network
from broodsweep.diagnosis.next_test import outcome_table
from broodsweep.diagnosis.observations import Observations, Prior
from broodsweep.diagnosis.reading import Reading, interpret
from broodsweep.diagnosis.weigh import posterior

SECOND_CONDITION_SHARE = 0.15
"""Share of practice cases with two conditions. Project choice: both must be looked for."""
_ROPE_SHARE, _FLOW_SHARE = 0.5, 0.25
_MOST_ABSENT = 5
_LEAST, _MOST = 0.01, 0.99
"""An answer of 0 or 1 is scored as this: an infinite penalty teaches nothing."""
_ROPE_MM = {"long": (25, 45), "positive": (20, 25), "doubtful": (10, 20), "negative": (0, 10)}


@dataclass(frozen=True, kw_only=True)
class DrillCase:
    """An invented case: what is shown, and what it is."""

    observed: Observations
    truth: frozenset[Condition]
    seen: frozenset[str]


@dataclass(frozen=True, kw_only=True)
class Score:
    """How good an answer was: mean over the conditions, 0 is perfect for both."""

    brier: float
    log_bits: float


@dataclass(frozen=True, kw_only=True)
class Attempt:
    """One thing that a trainee said: how sure they were of a finding, and whether it was so."""

    finding: str
    said_probability: float
    was_true: bool


@dataclass(frozen=True, kw_only=True)
class Bin:
    """Answers near one probability: how often they were right."""

    count: int
    said_probability: float
    true_share: float


@dataclass(frozen=True, kw_only=True)
class Step:
    """Some answers about one finding in turn: how sure they were, how often it was so, how good they were."""

    count: int
    said_probability: float
    true_share: float
    brier: float


def make_case(rng: np.random.Generator) -> DrillCase:
    """Invent a case: every condition and nothing wrong equally often, signs drawn from the model."""
    season = SEASONS[int(rng.integers(len(SEASONS)))]
    truth = _draw_truth(rng)
    state = _draw_state(rng, truth, season)
    network = point_network()
    seen: list[str] = []
    absent: list[str] = []
    for sign in all_signs():
        chance = float(sign_weights(network, [(sign, True)], observer="trained")[state, 0])
        (seen if rng.random() < chance else absent).append(sign)
    told = rng.choice(absent, size=min(_MOST_ABSENT, len(absent)), replace=False)
    observed = Observations(
        signs=dict.fromkeys(seen, True) | {str(sign): False for sign in told},
        tests=_draw_tests(rng, state),
        season=season,
    )
    return DrillCase(observed=observed, truth=frozenset(truth), seen=frozenset(seen))


def _draw_truth(rng: np.random.Generator) -> tuple[Condition, ...]:
    conditions = list(Condition)
    first = int(rng.integers(len(conditions) + 1))
    if first == len(conditions):
        return ()
    second = int(rng.integers(len(conditions)))
    if rng.random() < SECOND_CONDITION_SHARE and second != first:
        return conditions[first], conditions[second]
    return (conditions[first],)


def _draw_state(rng: np.random.Generator, truth: tuple[Condition, ...], season: Season) -> int:
    """Return a state with exactly these conditions, stages as often as in the season."""
    odds = point_network().prior_odds(season, None, None)[:, 0]
    found = all_states()
    wanted = np.array([condition in truth for condition in Condition])
    fits = np.flatnonzero((found.has.astype(bool) == wanted[:, None]).all(axis=0))
    weight = np.array([_weight(int(state), odds) for state in fits])
    return int(rng.choice(fits, p=weight / weight.sum()))


def _weight(state: int, odds: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
    found, weight = all_states(), 1.0
    while state:
        column = int(found.last[state])
        if PARTS[column - 1].stage is not None:
            weight *= float(odds[column])
        state = int(found.prefix[state])
    return weight


def _draw_tests(rng: np.random.Generator, state: int) -> tuple[Reading, ...]:
    tests = []
    if rng.random() < _ROPE_SHARE:
        low, high = _ROPE_MM[_draw_outcome(rng, "ropiness", state)]
        tests.append(Reading(test="ropiness", length_mm=float(rng.integers(low, high))))
    for disease in FOULBROODS:
        if rng.random() < _FLOW_SHARE:
            name = f"lateral_flow_{disease.lower()}"
            lines = "CT" if _draw_outcome(rng, name, state) == "positive" else "C"
            tests.append(
                Reading(test=name, lines=frozenset(lines), read_after_min=3.0, lot="practice", sample=name)
            )
    return tuple(tests)


def _draw_outcome(rng: np.random.Generator, test: str, state: int) -> str:
    table = outcome_table(point_network(), METHODS[test])[:, state]
    return METHODS[test].outcomes[int(rng.choice(len(table), p=table / table.sum()))]


def score(answer: Mapping[str, float], truth: Iterable[str], asked: Sequence[str] | None = None) -> Score:
    """Score an answer: a probability for each condition asked; one that is not named counts as 0.

    Raises
    ------
    ObservationError
        If an answer is not a probability.
    """
    true = set(truth)
    names = list(asked or [*Condition])
    squares, bits = [], []
    for name in names:
        said = _checked(answer.get(name, 0.0))
        is_so = name in true or (name == NOTHING_WRONG and not true)
        squares.append((said - is_so) ** 2)
        kept = min(max(said, _LEAST), _MOST)
        bits.append(-log2(kept if is_so else 1.0 - kept))
    return Score(brier=float(np.mean(squares)), log_bits=float(np.mean(bits)))


def _checked(value: float) -> float:
    if not 0.0 <= value <= 1.0:
        raise ObservationError("diagnosis.error_probability", value=value)
    return float(value)


def model_answer(case: DrillCase) -> dict[str, float]:
    """Return what the model says of a case, told that every condition is equally frequent here."""
    even = 1.0 / (len(Condition) + 1)
    observed = Observations(
        signs=case.observed.signs,
        tests=case.observed.tests,
        season=case.observed.season,
        prior={condition: Prior(probability=even) for condition in Condition},
    )
    results = tuple(interpret(reading) for reading in observed.tests)
    return {belief.condition: belief.probability for belief in posterior(observed, results)}


def calibration(attempts: Iterable[Attempt], bins: int = 5) -> tuple[Bin, ...]:
    """Return, for answers of similar probability, how often they were right; empty bins are left out."""
    groups: dict[int, list[Attempt]] = {}
    for attempt in attempts:
        place = min(int(_checked(attempt.said_probability) * bins), bins - 1)
        groups.setdefault(place, []).append(attempt)
    return tuple(
        Bin(
            count=len(group),
            said_probability=float(np.mean([attempt.said_probability for attempt in group])),
            true_share=float(np.mean([attempt.was_true for attempt in group])),
        )
        for _, group in sorted(groups.items())
    )


def brier_over_time(attempts: Sequence[Attempt], window: int) -> tuple[float, ...]:
    """Return the mean Brier score of each window of attempts in order, the last one as long as it is."""
    if window < 1:
        raise ValueError(f"Expected a window of at least 1, got {window}.")
    return tuple(
        float(np.mean([(a.said_probability - a.was_true) ** 2 for a in attempts[start : start + window]]))
        for start in range(0, len(attempts), window)
    )


def calibration_over_time(attempts: Iterable[Attempt], window: int) -> dict[str, tuple[Step, ...]]:
    """Return for each sign or condition its answers in turn, ``window`` to a step, the last step as long as it is.

    Where what was said and how often it was so draw together, somebody learns to judge that sign.
    """
    if window < 1:
        raise ValueError(f"Expected a window of at least 1, got {window}.")
    groups: dict[str, list[Attempt]] = {}
    for attempt in attempts:
        groups.setdefault(attempt.finding, []).append(attempt)
    return {
        name: tuple(_step(group[start : start + window]) for start in range(0, len(group), window))
        for name, group in groups.items()
    }


def _step(group: Sequence[Attempt]) -> Step:
    return Step(
        count=len(group),
        said_probability=float(np.mean([attempt.said_probability for attempt in group])),
        true_share=float(np.mean([attempt.was_true for attempt in group])),
        brier=float(np.mean([(a.said_probability - a.was_true) ** 2 for a in group])),
    )


def brier_by_finding(attempts: Iterable[Attempt]) -> dict[str, tuple[float, int]]:
    """Return the mean Brier score and the number of answers for each sign or condition, the worst first."""
    groups: dict[str, list[float]] = {}
    for attempt in attempts:
        groups.setdefault(attempt.finding, []).append((attempt.said_probability - attempt.was_true) ** 2)
    scored = {name: (float(np.mean(group)), len(group)) for name, group in groups.items()}
    return dict(sorted(scored.items(), key=lambda pair: -pair[1][0]))
