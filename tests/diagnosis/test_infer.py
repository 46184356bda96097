"""What must hold whatever is observed: probabilities, order, invalid tests, positives, missing signs."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from broodsweep.diagnosis import (
    METHODS,
    NOTHING_WRONG,
    Condition,
    Observations,
    Prior,
    Reading,
    Season,
    interpret,
    signs,
)
from broodsweep.diagnosis.infer import marginals, state_weights
from broodsweep.diagnosis.network import all_states, drawn_network, point_network
from broodsweep.diagnosis.weigh import posterior

some_signs = st.dictionaries(st.sampled_from(signs()), st.booleans(), max_size=10)


@st.composite
def readings(draw: st.DrawFn) -> Reading:
    method = METHODS[draw(st.sampled_from(sorted(METHODS)))]
    return Reading(
        test=method.name,
        outcome=draw(st.sampled_from([*method.outcomes, "invalid"])),
        sample=draw(st.sampled_from([None, "a", "b"])),
        lot=draw(st.sampled_from([None, "L"])),
    )


some_tests = st.lists(readings(), max_size=3).map(tuple)
seasons = st.sampled_from([None, *Season])
quick = settings(max_examples=60, deadline=None)


def chances(observed: Observations) -> dict[str, float]:
    results = tuple(interpret(reading) for reading in observed.tests)
    table = marginals(state_weights(point_network(), observed, results, seed=0))[:, 0]
    return dict(zip([*Condition, NOTHING_WRONG], table.tolist(), strict=True))


@quick
@given(some_signs, some_tests, seasons, st.sampled_from(["trained", "untrained"]))
def test_probabilities_and_intervals_lie_in_0_1_and_hold_the_point(seen, tests, season, observer):  # type: ignore[no-untyped-def]
    observed = Observations(signs=seen, tests=tests, season=season, observer=observer)
    for belief in posterior(observed, tuple(interpret(r) for r in tests), draws=16):
        assert 0.0 <= belief.low <= belief.probability <= belief.high <= 1.0


@quick
@given(some_signs, some_tests, st.randoms(use_true_random=False))
def test_the_order_of_observations_does_not_matter(seen, tests, random):  # type: ignore[no-untyped-def]
    pairs, shuffled = list(seen.items()), list(tests)
    random.shuffle(pairs)
    random.shuffle(shuffled)
    one = chances(Observations(signs=seen, tests=tests))
    other = chances(Observations(signs=dict(pairs), tests=tuple(shuffled)))
    assert all(abs(one[name] - other[name]) < 1e-12 for name in one)


@quick
@given(some_signs, some_tests, st.sampled_from(sorted(METHODS)))
def test_an_invalid_test_changes_nothing(seen, tests, name):  # type: ignore[no-untyped-def]
    without = chances(Observations(signs=seen, tests=tests))
    invalid = Reading(test=name, outcome="invalid", sample="a")
    assert chances(Observations(signs=seen, tests=(*tests, invalid))) == without


@quick
@given(some_signs, some_tests, st.sampled_from(sorted(METHODS)), st.sampled_from([None, "a"]), st.data())
def test_a_positive_test_never_lowers_its_condition(seen, tests, name, sample, data):  # type: ignore[no-untyped-def]
    method = METHODS[name]
    outcome = data.draw(st.sampled_from(sorted(method.positives)))
    before = chances(Observations(signs=seen, tests=tests))[method.target]
    more = (*tests, Reading(test=name, outcome=outcome, sample=sample, lot="L"))
    after = chances(Observations(signs=seen, tests=more))[method.target]
    assert after >= before - 1e-12


def test_a_positive_on_a_fresh_sample_is_likelier_in_every_state_with_the_disease() -> None:
    """Stronger than the property above, and complete: every test, every state."""
    from broodsweep.diagnosis.next_test import outcome_table

    for method in METHODS.values():
        table = outcome_table(point_network(), method)
        positive = [index for index, name in enumerate(method.outcomes) if name in method.positives]
        present = all_states().has[list(Condition).index(method.target)] > 0
        for index in positive:
            assert table[index, present].min() > table[index, ~present].max(), method.name


def test_missing_is_not_absent() -> None:
    unknown = chances(Observations())
    absent = chances(Observations(signs={"hard_scale": False}))
    seen = chances(Observations(signs={"hard_scale": True}))
    assert absent[Condition.AFB] < unknown[Condition.AFB] < seen[Condition.AFB]


def test_a_missing_sign_is_the_average_over_what_it_could_be() -> None:
    names = {"caps_sunken": True}
    with_it = Observations(signs={**names, "hard_scale": True})
    without = Observations(signs={**names, "hard_scale": False})
    weights = state_weights(point_network(), Observations(signs=names), (), seed=0)[:, 0]
    from broodsweep.diagnosis.infer import sign_weights

    seen = float(weights @ sign_weights(point_network(), [("hard_scale", True)], observer="trained")[:, 0])
    mixed = seen * chances(with_it)["AFB"] + (1 - seen) * chances(without)["AFB"]
    assert abs(mixed - chances(Observations(signs=names))["AFB"]) < 1e-12


def test_several_conditions_can_be_present_together() -> None:
    seen = {"mummies": True, "mummies_entrance": True, "coffee_brown": True}
    both = chances(Observations(signs=seen, tests=(Reading(test="ropiness", length_mm=30),)))
    assert both["chalkbrood"] > 0.9
    assert both["AFB"] > 0.9


def test_nothing_is_ever_certain() -> None:
    tests = tuple(Reading(test="pcr_brood_afb", outcome="positive", sample=str(i)) for i in range(2))
    assert chances(Observations(tests=tests))["AFB"] < 1.0
    assert chances(Observations(signs=dict.fromkeys(signs(), False)))["AFB"] > 0.0


def test_a_second_larva_says_more_than_a_second_test_on_the_same_larva() -> None:
    def afb(samples: str, outcome: str) -> float:
        tests = tuple(
            Reading(test="lateral_flow_afb", outcome=outcome, sample=name, lot="L") for name in samples
        )
        return chances(Observations(signs={"caps_sunken": True}, tests=tests))["AFB"]

    assert afb("a", "positive") < afb("aa", "positive") < afb("ab", "positive")
    assert afb("ab", "negative") < afb("aa", "negative") < afb("a", "negative")


def test_sampling_more_larvae_raises_sensitivity_as_it_should() -> None:
    """P(at least one positive of n larvae | early AFB) = 1 - (1 - s)^n, with s of one larva."""
    from broodsweep.diagnosis.infer import group_weights

    network = point_network()
    results = [
        interpret(Reading(test="lateral_flow_afb", outcome="negative", sample=str(i), lot="L"))
        for i in range(3)
    ]
    stage = all_states().stage_key[0]
    early = int(np.flatnonzero(stage == 0)[0])
    trust = results[0].trust
    each = [float(group_weights(network, (result,))[early, 0]) for result in results]
    assert trust == 1.0
    sensitivity = 1 - each[0]
    assert abs(1 - np.prod(each) - (1 - (1 - sensitivity) ** 3)) < 1e-12
    same = float(group_weights(network, tuple(results))[early, 0])
    assert 1 - same < 1 - np.prod(each)  # three on one larva find less than three larvae
    assert same > 0.1  # they cannot find what the picked larva does not hold


def test_a_prior_from_outside_is_what_comes_out_when_nothing_is_seen() -> None:
    plain = chances(Observations())
    told = chances(Observations(prior={Condition.AFB: Prior(probability=0.4)}))
    assert abs(told["AFB"] - 0.4) < 0.005  # "at most three together" moves it a little
    assert told["AFB"] > plain["AFB"]


def test_the_same_evidence_gives_the_same_answer_and_another_seed_only_another_interval() -> None:
    observed = Observations(signs={"caps_sunken": True, "coffee_brown": True})
    assert posterior(observed) == posterior(observed)
    other = posterior(observed, seed=7)
    for one, two in zip(posterior(observed), other, strict=True):
        assert one.probability == two.probability
        assert abs(one.low - two.low) < 0.12
        assert abs(one.high - two.high) < 0.12


def test_draws_have_the_spread_of_the_numbers() -> None:
    from broodsweep.diagnosis.network import numbers
    from broodsweep.diagnosis.numbers import draw, normals

    z = normals(3, 4000, np.arange(50))
    assert abs(z.mean()) < 1e-12  # mirrored
    assert abs(z.std() - 1) < 0.01
    assert abs(np.corrcoef(z[0::2, 0], z[0::2, 1])[0, 1]) < 0.06
    values = draw(numbers()[:30], seed=3, draws=4000)
    inside = [
        ((values[:, i] >= n.low) & (values[:, i] <= n.high)).mean() for i, n in enumerate(numbers()[:30])
    ]
    assert min(inside) > 0.75
    assert max(inside) < 0.97
    assert drawn_network(3, 4).rows == 5


def test_scale_points_to_the_dried_stage_and_open_twisted_larvae_to_an_early_one() -> None:
    from broodsweep.diagnosis import Stage, weigh

    def stages(**seen: bool):  # type: ignore[no-untyped-def]
        return weigh(Observations(signs=seen), draws=2).stages

    scale = stages(hard_scale=True, coffee_brown=False, dead_in_open=False)[Condition.AFB]
    assert max(scale, key=lambda stage: scale[stage]) is Stage.DRIED
    open_cells = stages(larva_twisted=True, dead_in_open=True, watery=False, loose_scale=False)[Condition.EFB]
    assert max(open_cells, key=lambda stage: open_cells[stage]) is Stage.EARLY
    assert abs(sum(scale.values()) - 1) < 1e-12
