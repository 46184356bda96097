"""From which probability a case is suspected stands in the rulebook and can be changed there."""

from __future__ import annotations

from datetime import date

from broodsweep.diagnosis.decide import Thresholds, thresholds_from
from broodsweep.rulebook import load_books, override

ON = date(2026, 7, 8)


def test_every_book_has_limits_and_says_that_they_are_a_choice() -> None:
    for book in load_books().values():
        limits = thresholds_from(book, ON)
        assert (limits.suspect_probability, limits.confirm_probability) == (0.10, 0.95)


def test_the_packaged_limits_are_the_defaults_of_the_model() -> None:
    limits = thresholds_from(load_books()["common-practice"], ON)
    assert limits.suspect_probability == Thresholds().suspect_probability
    assert limits.confirm_probability == Thresholds().confirm_probability


def test_a_local_change_moves_the_decision() -> None:
    book = load_books()["scotland"]
    changed = override(
        book,
        "weigh.limits",
        {"suspect_share": 0.02, "confirm_share": 0.99},
        "lead",
        "an island free for years",
    )
    limits = thresholds_from(changed, ON)
    assert (limits.suspect_probability, limits.confirm_probability) == (0.02, 0.99)
