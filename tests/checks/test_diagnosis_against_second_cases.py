"""A second set of written cases, put down before they were weighed: mixed infections, early stages, look-alikes.

Source: the source named with each case in ``data/diagnosis_cases_second.toml``. Nothing in the tables was changed for
them: all of them came out right the first time (25 November 2026), unlike the first set, with which in view some letters
were chosen.
"""

from __future__ import annotations

import tomllib
from functools import cache
from math import log2
from pathlib import Path
from typing import Any

import pytest

from broodsweep.diagnosis import NOTHING_WRONG, Answer, Condition, from_mapping, weigh

from .test_diagnosis_against_written_cases import cases as first_cases

KINDS = ("read", "memory", "common practice")
MATTERS = {"AFB", "EFB"}


@cache
def cases() -> tuple[dict[str, Any], ...]:
    path = Path(__file__).parent / "data" / "diagnosis_cases_second.toml"
    return tuple(tomllib.loads(path.read_text(encoding="utf-8"))["case"])


@cache
def answer(number: int) -> Answer:
    case = cases()[number]
    signs = dict.fromkeys(case["seen"], True) | dict.fromkeys(case["absent"], False)
    names = ("season", "observer", "tests")
    return weigh(from_mapping({"signs": signs} | {name: case.get(name) for name in names})[0])


def test_the_cases_are_new_and_say_where_they_stand() -> None:
    assert len(cases()) >= 20
    known = {(frozenset(case["seen"]), frozenset(case["absent"])) for case in first_cases()}
    assert not known & {(frozenset(case["seen"]), frozenset(case["absent"])) for case in cases()}
    assert all(case["source"] and case["standing"] in KINDS for case in cases())
    assert {name for case in cases() for name in case["right"]} <= {*Condition, NOTHING_WRONG}
    assert sum(len(case["right"]) > 1 for case in cases()) >= 5, "mixed infections"


@pytest.mark.parametrize("number", range(len(cases())))
def test_what_is_there_comes_before_what_is_not(number: int) -> None:
    right = set(cases()[number]["right"])
    found = answer(number).conditions
    assert {row.condition for row in found[: len(right)]} == right, [
        (row.condition, round(row.probability, 2)) for row in found[:4]
    ]


@pytest.mark.parametrize("number", range(len(cases())))
def test_the_interval_holds_the_figure_and_never_pretends_to_certainty(number: int) -> None:
    for row in answer(number).conditions:
        assert 0.0 <= row.low <= row.probability <= row.high <= 1.0
    lead = answer(number).conditions[0]
    assert lead.high - lead.low > 0.005, "numbers read off words are not known to a per cent"


@pytest.mark.parametrize("number", range(len(cases())))
def test_a_foulbrood_that_is_there_is_never_let_pass(number: int) -> None:
    found = answer(number)
    for disease in MATTERS & set(cases()[number]["right"]):
        assert disease in found.decision.conditions
    assert found.decision.state != "nothing_found" or not MATTERS & set(cases()[number]["right"])


def test_the_answers_carry_weight() -> None:
    """Mean of -log2 of the chance given to what is there; a shrug over sixteen answers would be four bits."""
    bits = [
        -log2(next(row.probability for row in answer(number).conditions if row.condition == name))
        for number, case in enumerate(cases())
        for name in case["right"]
    ]
    assert sum(bits) / len(bits) < 1.0
