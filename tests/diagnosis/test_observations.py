"""Reading a file of observations: what is sound is read, what is not is refused with the way out."""

from __future__ import annotations

from typing import Any

import pytest

from broodsweep.diagnosis import Condition, ObservationError, Season, from_mapping


def test_the_documented_form_is_read() -> None:
    observed, lots = from_mapping(
        {
            "season": "summer",
            "signs": {"caps_sunken": True, "hard_scale": False, "patchy": None},
            "tests": [
                {"test": "ropiness", "length_mm": 35},
                {
                    "test": "lateral_flow_afb",
                    "lines": ["c", "T"],
                    "lot": "A12",
                    "read_after_min": 3,
                    "done_on": "2026-06-01",
                },
            ],
            "prior": {"AFB": 0.2, "EFB": {"probability": 0.1, "low": 0.05, "high": 0.2}},
            "context": {"outbreak_m": {"AFB": 1400}, "bought_in": True},
            "observer": "untrained",
            "lots": [{"lot": "A12", "kit": "lateral_flow_afb", "expires_on": "2027-01-01", "count": 5}],
        }
    )
    assert observed.season is Season.SUMMER
    assert observed.signs == {"caps_sunken": True, "hard_scale": False}
    assert observed.tests[1].lines == {"C", "T"}
    assert observed.prior[Condition.EFB].high == 0.2
    assert observed.context.bought_in is True
    assert lots is not None
    assert lots[0].count == 5


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"signs": {"cap_sunken": True}}, "caps_sunken"),
        ({"sings": {}}, "signs"),
        ({"season": "sumer"}, "summer"),
        ({"tests": [{"test": "ropines"}]}, "ropiness"),
        ({"tests": [{"test": "ropiness", "lenght_mm": 3}]}, "length_mm"),
        ({"prior": {"AFP": 0.1}}, "AFB"),
        ({"observer": "traned"}, "trained"),
        ({"context": {"outbreak_m": {"afb": 3}}}, "AFB"),
    ],
)
def test_a_wrong_name_is_refused_with_near_ones(given: Any, said: str) -> None:
    with pytest.raises(ObservationError) as caught:
        from_mapping(given)
    assert said in str(caught.value)


@pytest.mark.parametrize(
    "given",
    [
        [],
        "text",
        {"signs": ["caps_sunken"]},
        {"signs": {"caps_sunken": "yes"}},
        {"signs": {"caps_sunken": 1}},
        {"tests": {"test": "ropiness"}},
        {"tests": [{"test": "ropiness", "length_mm": "35"}]},
        {"tests": [{"test": "ropiness", "length_mm": float("nan")}]},
        {"tests": [{"test": "ropiness", "length_mm": True}]},
        {"tests": [{"test": "sugar_roll", "mites": 2.5, "bees": 300}]},
        {"tests": [{"test": "lateral_flow_afb", "lines": "CT"}]},
        {"tests": [{"test": "lateral_flow_afb", "lines": ["C"], "done_on": "01.06.2026"}]},
        {"tests": [{"test": ["ropiness"]}]},
        {"prior": {"AFB": 1}},
        {"prior": {"AFB": 0}},
        {"prior": {"AFB": {"low": 0.1}}},
        {"prior": {"AFB": {"probability": 0.1, "low": 0.2}}},
        {"lots": [{"lot": "A"}]},
    ],
)
def test_a_wrong_form_is_refused_in_a_sentence(given: Any) -> None:
    with pytest.raises(ObservationError) as caught:
        from_mapping(given)
    assert str(caught.value)
