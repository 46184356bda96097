"""Asking a book: the fallback is visible, local changes are visible and keep the original."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from broodsweep import words
from broodsweep.constants import Disease, Goods
from broodsweep.rulebook import (
    TOPICS,
    BadOverrideError,
    Kind,
    Standing,
    barred_goods,
    load_books,
    override,
    override_all,
    tracing_window,
    weakest,
)

BOOKS = load_books()
ON = date(2026, 6, 1)


def test_where_the_law_is_silent_the_answer_says_whose_it_is() -> None:
    rule = BOOKS["switzerland"].rule("sweep.first_ring", Disease.AFB, ON)
    assert (rule.book, rule.asked_of, rule.is_fallback) == ("common-practice", "switzerland", True)
    assert "“Switzerland” says nothing of its own" in words.render(rule.standing_said)
    assert BOOKS["switzerland"].own("sweep.first_ring", Disease.AFB, ON) is None
    own = BOOKS["switzerland"].own("zone.radius", Disease.AFB, ON)
    assert own is not None and own.standing is Standing.LAW and not own.is_fallback


def test_law_of_every_book_but_common_practice_is_its_own() -> None:
    for book in BOOKS.values():
        for disease in Disease:
            for rule in book.in_force(disease, ON):
                assert rule.book in (book.name, "common-practice")
                assert rule.standing is not Standing.LAW or rule.book == book.name


@pytest.mark.parametrize("name", sorted(BOOKS))
@pytest.mark.parametrize("disease", list(Disease))
def test_every_book_answers_what_an_outbreak_needs(name: str, disease: Disease) -> None:
    book = BOOKS[name]
    for topic in (
        "notify.within",
        "confirm.by",
        "notice.within",
        "clearance.permitted",
        "clearance.within",
        "measures.required",
        "standstill.from",
        "standstill.goods_out",
        "standstill.goods_in",
        "reinspect.counted_from",
        "reinspect.earliest",
        "reinspect.clean_needed",
        "release.signed_by",
        "notice.signed_by",
    ):
        book.rule(topic, disease, ON)
    assert len(book.ring_radii_m(disease, ON)) >= 2
    assert len(book.cautions(disease, ON)) >= 5
    assert book.signatories("release.signed_by", disease, ON)


def test_rings_hold_the_legal_zone_and_are_sorted() -> None:
    assert BOOKS["switzerland"].ring_radii_m(Disease.AFB, ON) == (2000.0, 3000.0, 5000.0)
    assert BOOKS["common-practice"].ring_radii_m(Disease.AFB, ON) == (3000.0, 5000.0)


def test_the_tracing_window_says_that_it_is_our_own_choice() -> None:
    window = tracing_window(BOOKS["germany"], Disease.AFB, ON)
    assert (window.first_on, window.last_on) == (date(2025, 6, 1), date(2026, 7, 13))
    assert weakest(window.rules) is Standing.PROJECT_CHOICE


def test_a_ban_in_the_words_of_the_law_covers_goods_of_the_register() -> None:
    out = BOOKS["common-practice"].rule("standstill.goods_out", Disease.AFB, ON)
    into = BOOKS["common-practice"].rule("standstill.goods_in", Disease.AFB, ON)
    assert barred_goods(out) == frozenset(Goods)
    assert Goods.HONEY not in barred_goods(into) and Goods.QUEENS in barred_goods(into)


def test_a_local_change_says_so_and_keeps_the_original() -> None:
    book = override(BOOKS["scotland"], "sweep.first_ring", 4000, "R. Holm", "steep valley")
    rule = book.rule("sweep.first_ring", Disease.AFB, ON)
    assert rule.number() == 4000 and rule.locally_changed
    assert rule.original is not None and rule.original.number() == 3000
    assert (rule.changed_by, rule.changed_reason) == ("R. Holm", "steep valley")
    assert "locally changed by R. Holm" in words.render(rule.standing_said)
    assert book.locally_changed == ("sweep.first_ring",)
    assert not BOOKS["scotland"].rule("sweep.first_ring", Disease.AFB, ON).locally_changed


def test_a_change_of_what_falls_back_changes_this_book_only() -> None:
    book = override(BOOKS["switzerland"], "reinspect.earliest", 50, "R. Holm", "late year", unit="days")
    rule = book.rule("reinspect.earliest", Disease.AFB, ON)
    assert (rule.value, rule.unit, rule.book, rule.locally_changed) == (50, "days", "common-practice", True)
    assert BOOKS["common-practice"].rule("reinspect.earliest", Disease.AFB, ON).value == 6


def test_a_change_for_one_disease_leaves_the_other() -> None:
    book = override(BOOKS["scotland"], "sweep.first_ring", 4000, "R. Holm", "why", diseases=[Disease.AFB])
    assert book.rule("sweep.first_ring", Disease.AFB, ON).number() == 4000
    other = book.rule("sweep.first_ring", Disease.EFB, ON)
    assert other.number() == 3000 and not other.locally_changed and other.book == "scotland"


def test_changing_twice_keeps_the_first_original() -> None:
    book = override(BOOKS["germany"], "reinspect.earliest", 3, "A", "one")
    book = override(book, "reinspect.earliest", 4, "B", "two")
    rule = book.rule("reinspect.earliest", Disease.AFB, ON)
    assert rule.original is not None
    assert (rule.value, rule.unit, rule.original.value, rule.changed_by) == (4, "months", 2, "B")
    # Weeks of the fallback are not months of the law: they stay.
    assert book.rule("reinspect.earliest", Disease.EFB, ON).value == 6


def test_kept_changes_are_applied_in_order() -> None:
    book = override_all(
        BOOKS["scotland"],
        [
            {"name": "sweep.first_ring", "value": 4000, "by": "A", "reason": "x"},
            {"name": "trace.days_before", "value": 12, "unit": "months", "by": "A", "reason": "x"},
            {"name": "sweep.first_ring", "value": 4500, "by": "A", "reason": "x", "diseases": ["EFB"]},
        ],
    )
    assert book.rule("sweep.first_ring", Disease.AFB, ON).number() == 4000
    assert book.rule("sweep.first_ring", Disease.EFB, ON).number() == 4500


@pytest.mark.parametrize(
    ("name", "value", "by", "reason", "told"),
    [
        ("sweep.first_ring", -3, "A", "x", "write metres"),
        ("clearance.permitted", ["washed"], "A", "x", "each word once"),
        ("sweep.first_ring", 4000, "", "x", "needs a name and a reason"),
        ("sweep.first_ring", 4000, "A", " ", "needs a name and a reason"),
        ("sweep.third_ring", 4000, "A", "x", "has no rule"),
        ("inspect.sample", {"sample_share": 2, "least_colonies": 1}, "A", "x", "has no rule"),
        ("disinfect.gamma", {"least_kgy": "much"}, "A", "x", "write a number"),
        ("disinfect.gamma", {"most_kgy": 1}, "A", "x", "are missing"),
    ],
)
def test_a_local_change_is_checked_like_a_rule(
    name: str, value: object, by: str, reason: str, told: str
) -> None:
    with pytest.raises(BadOverrideError, match=told):
        override(BOOKS["scotland"], name, value, by, reason)


@given(
    st.sampled_from(sorted(name for name, topic in TOPICS.items() if topic.kind is Kind.TIME)),
    st.integers(0, 3000),
)
def test_a_changed_time_is_what_the_book_then_says(name: str, value: int) -> None:
    book = BOOKS["common-practice"]
    if book.find(name, Disease.AFB, ON) is None:
        with pytest.raises(BadOverrideError):
            override(book, name, value, "A", "x")
        return
    assert override(book, name, value, "A", "x").rule(name, Disease.AFB, ON).value == value


def test_asking_a_rule_for_what_it_does_not_hold_is_a_wrong_call() -> None:
    rule = BOOKS["common-practice"].rule("cautions.shown", Disease.AFB, ON)
    for ask in (rule.duration, rule.number, rule.is_yes, rule.figures):
        with pytest.raises(ValueError, match="Expected a rule"):
            ask()
