"""Tests as physical things: lengths, lines, times, lots."""

from __future__ import annotations

from datetime import date

import pytest

from broodsweep.diagnosis import ObservationError, Observations, Reading, interpret, weigh
from broodsweep.diagnosis.reading import mites_per_100
from broodsweep.register import Lot

DAY = date(2026, 6, 1)
LOTS = (
    Lot(lot="G1", kit="lateral_flow_afb", expires_on=date(2027, 1, 1), count=10),
    Lot(lot="X1", kit="lateral_flow_afb", expires_on=date(2026, 5, 31), count=10),
    Lot(lot="E1", kit="lateral_flow_efb", expires_on=date(2027, 1, 1), count=10),
)


def flow(lines: str = "CT", **changes: object) -> Reading:
    given = {
        "test": "lateral_flow_afb",
        "lines": frozenset(lines),
        "read_after_min": 3.0,
        "lot": "G1",
        "done_on": DAY,
    }
    return Reading(**(given | changes))  # type: ignore[arg-type]


def test_a_test_done_as_it_should_be_is_trusted_and_evidential() -> None:
    result = interpret(flow(), LOTS)
    assert (result.outcome, result.trust, result.is_evidential, result.notes) == ("positive", 1.0, True, ())


@pytest.mark.parametrize(
    ("changes", "note"),
    [
        ({"lot": "X1"}, "diagnosis.note_expired"),
        ({"lot": "?"}, "diagnosis.note_unknown_lot"),
        ({"lot": None}, "diagnosis.note_no_lot"),
        ({"lot": "E1"}, "diagnosis.note_wrong_kit"),
        ({"read_after_min": 1.0}, "diagnosis.note_read_early"),
        ({"read_after_min": 15.0}, "diagnosis.note_read_late"),
    ],
)
def test_a_doubtful_result_is_kept_trusted_less_not_evidential_and_said(
    changes: dict[str, object], note: str
) -> None:
    result = interpret(flow(**changes), LOTS)
    assert result.outcome == "positive"
    assert 0 < result.trust < 1
    assert not result.is_evidential
    assert [message.key for message in result.notes] == [note]

    def afb(reading: Reading) -> float:
        answer = weigh(Observations(signs={"caps_sunken": True}, tests=(reading,)), lots=LOTS, draws=2)
        return next(b.probability for b in answer.conditions if b.condition == "AFB")

    nothing = weigh(Observations(signs={"caps_sunken": True}), draws=2)
    before = next(b.probability for b in nothing.conditions if b.condition == "AFB")
    assert before < afb(flow(**changes)) < afb(flow())


def test_troubles_add_up() -> None:
    both = interpret(flow(lot="X1", read_after_min=1.0), LOTS)
    assert both.trust < min(
        interpret(flow(lot="X1"), LOTS).trust, interpret(flow(read_after_min=1.0), LOTS).trust
    )
    assert len(both.notes) == 2


def test_a_kit_may_be_used_on_the_day_it_expires() -> None:
    assert interpret(flow(lot="X1", done_on=date(2026, 5, 31)), LOTS).is_evidential


def test_a_lot_without_a_register_or_a_day_is_not_checked_and_that_is_said() -> None:
    for result in (interpret(flow(), None), interpret(flow(done_on=None), LOTS)):
        assert [note.key for note in result.notes] == ["diagnosis.note_lot_not_checked"]
        assert result.trust == 1.0


@pytest.mark.parametrize(
    "reading",
    [
        Reading(test="ropiness", length_mm=-1),
        Reading(test="ropiness", length_mm=5000),
        Reading(test="ropiness"),
        Reading(test="lateral_flow_afb", lines=frozenset("CX")),
        Reading(test="culture_afb", outcome="green"),
        Reading(test="nothing_of_the_kind"),
        Reading(test="sugar_roll", mites=3),
        Reading(test="sugar_roll", mites=3, bees=0),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(reading: Reading) -> None:
    with pytest.raises(ObservationError) as caught:
        interpret(reading)
    assert len(str(caught.value)) > 20


def test_counts_become_high_low_or_none() -> None:
    """4.5 log cells a bee and 7.3 log cells a ml debris are half clinical (Papić et al. 2024, check 11)."""
    for test, limit in (("pcr_bees_afb", 4.5), ("pcr_debris_afb", 7.3)):
        assert interpret(Reading(test=test, log10_cells=limit)).outcome == "high"
        assert interpret(Reading(test=test, log10_cells=limit - 0.01)).outcome == "low"
        assert interpret(Reading(test=test, outcome="positive")).outcome == "low"


def test_mites_in_a_roll() -> None:
    """12 mites in 300 bees are 4.0 per 100, 9 are 3.0: treat (Reuter & Spivak; USDA-ARS; check 48)."""
    assert mites_per_100(12, 300) == 4.0
    assert interpret(Reading(test="sugar_roll", mites=9, bees=300)).outcome == "positive"
    assert interpret(Reading(test="sugar_roll", mites=8, bees=300)).outcome == "negative"
