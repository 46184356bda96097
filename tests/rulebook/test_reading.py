"""Reading rulebooks: every fault at once, each with the file, the rule and the way out."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from broodsweep import words
from broodsweep.constants import Disease
from broodsweep.rulebook import (
    TOPICS,
    BadBookError,
    Checked,
    NoBookError,
    NoRuleError,
    Standing,
    get_book,
    load_books,
    read_book,
)

HEAD = 'book = "mine"\ntitle = "Mine"\nlanguage = "en"\n'
SOUND = """
[[rules]]
name = "sweep.first_ring"
diseases = ["AFB", "EFB"]
value = 4000
unit = "m"
citation = "Order 1"
standing = "law"
in_force_from = 2020-01-01
checked_on = 2026-11-25
checked = "read"
"""


def faults_of(text: str) -> str:
    with pytest.raises(BadBookError) as caught:
        read_book(text, "mine.toml")
    return "\n".join(words.render(fault) for fault in caught.value.faults)


def test_packaged_books_cover_the_places_that_were_asked_for() -> None:
    assert set(load_books()) >= {
        "england-and-wales",
        "scotland",
        "northern-ireland",
        "eu-baseline",
        "germany",
        "switzerland",
        "new-zealand",
        "western-australia",
        "california",
        "florida",
        "common-practice",
    }


def test_every_packaged_rule_says_what_it_rests_on_and_how_far_that_was_checked() -> None:
    for book in load_books().values():
        for rule in book.rules:
            assert rule.citation and rule.unit and rule.checked_on == date(2026, 11, 25)
            assert (rule.standing is Standing.PROJECT_CHOICE) == (rule.checked is Checked.CHOSEN), rule.name


def test_common_practice_never_passes_itself_off_as_law() -> None:
    assert all(
        rule.standing in (Standing.COMMON_PRACTICE, Standing.PROJECT_CHOICE)
        for rule in load_books()["common-practice"].rules
    )


def test_every_word_and_figure_of_the_vocabulary_has_its_sentence() -> None:
    for name, topic in TOPICS.items():
        assert words.has_key(f"rulebook.topic_{name.replace('.', '_')}")
        for word in topic.words:
            assert words.has_key(f"rulebook.word_{word}"), word
            assert name != "cautions.shown" or words.has_key(f"rulebook.caution_{word}"), word
        for figure in (*topic.figures, *topic.optional):
            assert words.has_key(f"rulebook.figure_{figure}"), figure
    for standing in Standing:
        assert words.has_key(f"rulebook.standing_{standing.replace(' ', '_')}")


def test_all_faults_are_told_at_once_with_file_rule_and_way_out() -> None:
    text = (
        'book = "mine"\nlanguage = "en"\ncolour = 1\n'
        + SOUND.replace("4000", "-1").replace('"law"', '"custom"').replace("2026-11-25", '"today"')
        + SOUND.replace("sweep.first_ring", "sweep.first_rign")
        + SOUND.replace('["AFB", "EFB"]', '["AFB", "XFB"]').replace('"m"', '"km"')
    )
    told = faults_of(text)
    assert told.count("mine.toml") == len(told.splitlines()) >= 8
    for part in (
        "title is missing",
        "colour is not known",
        "rule sweep.first_ring: the value is -1; write metres",
        "standing is custom",
        "checked_on is today; write a day",
        "rule sweep.first_rign: no rule has this name; near it are sweep.first_ring",
        "diseases is ['AFB', 'XFB']",
        "the unit is km; it must be one of m",
    ):
        assert part in told


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("value = 4000", 'value = "far"', "write metres"),
        ("value = 4000", "value = true", "write metres"),
        ("value = 4000", "value = nan", "write metres"),
        ("in_force_from = 2020-01-01", "", "in_force_from is None"),
        ("in_force_from = 2020-01-01", "in_force_from = 2020-01-01T00:00:00", "in_force_from"),
        (
            "in_force_from = 2020-01-01",
            "in_force_from = 2020-01-01\nin_force_to = 2019-01-01",
            "before it begins",
        ),
        ('citation = "Order 1"', 'citation = " "', "citation is missing"),
        ('checked = "read"', 'checked = "chosen"', "a law cannot be a choice"),
        ('checked = "read"', 'checked = "read"\nbound = "about"', "bound is about"),
    ],
)
def test_each_fault_of_a_rule_is_named(old: str, new: str, told: str) -> None:
    assert told in faults_of(HEAD + SOUND.replace(old, new))


def test_a_file_that_is_not_toml_or_not_text_is_named(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text("book = ")
    (tmp_path / "b.toml").write_bytes(b"title = '\xff'")
    with pytest.raises(BadBookError) as caught:
        load_books(tmp_path)
    told = [words.render(fault) for fault in caught.value.faults]
    assert len(told) == 2
    assert told[0].startswith("a.toml: this is not TOML") and told[1].startswith("b.toml")
    assert str(caught.value).startswith("2 faults in the rulebooks")


def test_two_rules_for_one_day_are_refused_and_one_after_the_other_are_not() -> None:
    assert "at the same time" in faults_of(HEAD + SOUND + SOUND)
    ended = SOUND.replace("checked_on", "in_force_to = 2022-12-31\nchecked_on", 1)
    later = SOUND.replace("2020-01-01", "2023-01-01").replace("4000", "5000")
    book = read_book(HEAD + ended + later, "mine.toml")
    assert book.rule("sweep.first_ring", Disease.AFB, date(2022, 12, 31)).number() == 4000
    assert book.rule("sweep.first_ring", Disease.AFB, date(2023, 1, 1)).number() == 5000


def test_a_year_counts_whole_and_says_that_the_day_is_not_known() -> None:
    book = read_book(
        HEAD + SOUND.replace("2020-01-01", "2020\nin_force_to = 2021"),
        "mine.toml",
    )
    rule = book.rule("sweep.first_ring", Disease.AFB, date(2021, 12, 31))
    assert (rule.in_force_from, rule.in_force_to) == (date(2020, 1, 1), date(2021, 12, 31))
    assert not rule.in_force.first_seen and not rule.in_force.last_seen
    assert book.find("sweep.first_ring", Disease.AFB, date(2019, 12, 31)) is None


def test_a_missing_rule_is_an_error_with_the_way_out() -> None:
    book = read_book(HEAD + SOUND, "mine.toml")
    with pytest.raises(
        NoRuleError, match=r"No rule for sweep.first_ring \(AFB\) on 1 Jan 2019 in “Mine”. Add"
    ):
        book.rule("sweep.first_ring", Disease.AFB, date(2019, 1, 1))
    with pytest.raises(ValueError, match="Expected the name of a rule"):
        book.find("sweep.second_ring", Disease.AFB, date(2026, 1, 1))


def test_a_book_of_the_users_own_takes_the_place_of_a_packaged_one(tmp_path: Path) -> None:
    (tmp_path / "x.toml").write_text(HEAD.replace('"mine"', '"germany"') + SOUND)
    assert load_books(tmp_path)["germany"].title == "Mine"
    (tmp_path / "y.toml").write_text(HEAD.replace('"mine"', '"germany"') + SOUND)
    with pytest.raises(BadBookError, match=r"is also in x\.toml"):
        load_books(tmp_path)


def test_falling_back_in_a_circle_or_to_nothing_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text('falls_back_to = "b"\n' + HEAD.replace("mine", "a"))
    (tmp_path / "b.toml").write_text('falls_back_to = "a"\n' + HEAD.replace("mine", "b"))
    (tmp_path / "c.toml").write_text('falls_back_to = "nowhere"\n' + HEAD.replace("mine", "c"))
    with pytest.raises(BadBookError) as caught:
        load_books(tmp_path)
    assert len(caught.value.faults) == 2


def test_a_folder_or_book_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(NoBookError, match="There is no folder"):
        load_books(tmp_path / "none")
    with pytest.raises(NoBookError, match=r"There is no rulebook “atlantis”\. These are there: california"):
        get_book(load_books(), "atlantis")
