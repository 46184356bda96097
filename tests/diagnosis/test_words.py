"""Every word that this room puts together from names stands in the catalogue."""

from __future__ import annotations

from broodsweep import words
from broodsweep.diagnosis import (
    METHODS,
    NOTHING_WRONG,
    Condition,
    Evidence,
    Season,
    State,
    guides,
    name_of,
    signs,
)
from broodsweep.diagnosis.decide import ESSENTIAL


def test_every_name_has_its_words() -> None:
    wanted = [f"diagnosis.sign.{sign}" for sign in signs()]
    wanted += [f"diagnosis.ask.{sign}" for sign in signs()]
    wanted += [f"diagnosis.test.{name}" for name in METHODS]
    wanted += [f"diagnosis.outcome.{name}" for m in METHODS.values() for name in (*m.outcomes, "invalid")]
    wanted += [name_of(name).key for name in (*Condition, NOTHING_WRONG)]
    wanted += [f"diagnosis.state.{state}" for state in State]
    wanted += [f"diagnosis.season.{season}" for season in Season]
    wanted += [f"diagnosis.evidence.{kind}" for kind in Evidence]
    wanted += [f"diagnosis.unseen.{name}" for name, _ in ESSENTIAL] + ["diagnosis.unseen.rope"]
    wanted += [m.key for guide in guides() for m in (*guide.cautions, *(step.text for step in guide.steps))]
    assert [key for key in wanted if not words.has_key(key)] == []


def test_simple_questions_are_questions_without_the_trades_words() -> None:
    hard = ("perforated", "cappings", "ropiness", "tracheae", "pathogen", "brood pattern", "prepupa")
    for sign in signs():
        question = words.text(f"diagnosis.ask.{sign}")
        assert "?" in question
        assert not [word for word in hard if word in question.lower()]


def test_every_test_has_a_guide_with_cautions_or_a_plain_look() -> None:
    found = {guide.test: guide for guide in guides()}
    assert set(METHODS) <= set(found)
    for guide in found.values():
        assert guide.steps
        assert guide.cautions


def test_timers_are_those_of_the_trade() -> None:
    """Shake 20 s, read at about 3 min (US extension page on foulbrood kits); Holst within 20 min (Holst 1946)."""
    timers = {
        guide.test: [step.timer_s for step in guide.steps if step.timer_s is not None] for guide in guides()
    }
    assert timers["lateral_flow_afb"] == [20, 180]
    assert timers["holst_milk"] == [1200]
    assert timers["sugar_roll"] == [90]
