"""What is due: days by the calendar, states by the day asked about, the rule beside each line."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from tests.outbreak.conftest import Write

from broodsweep import words
from broodsweep.constants import Disease
from broodsweep.outbreak import (
    CaseState,
    Due,
    DueState,
    EventKind,
    Outbreak,
    due,
    state_of,
    steps_that_settle,
    summarise,
)
from broodsweep.rulebook import Rulebook, Standing, override

E, D = EventKind, DueState
D1 = date(2026, 6, 1)


def line(outbreak: Outbreak, book: Rulebook, key: str, on: date) -> Due:
    (found,) = [row for row in due(outbreak, book, on) if row.key == key]
    return found


def test_suspicion_alone_is_to_be_notified_at_once(write: Write, books: dict[str, Rulebook]) -> None:
    outbreak = write((E.SUSPECTED, D1))
    book = books["england-and-wales"]
    today, tomorrow = (line(outbreak, book, "notify", D1 + timedelta(days=days)) for days in (0, 1))
    assert (today.due_on, today.is_at_once, today.state, tomorrow.state) == (None, True, D.DUE, D.OVERDUE)
    assert today.rule.standing is Standing.LAW and "art. 3" in words.render(today.rule_text)
    assert "do not wait" in words.render(today.what)
    assert line(outbreak, book, "notice_served", D1).state is D.DUE
    assert line(outbreak, book, "confirm", D1).state is D.DUE
    told = write((E.NOTIFIED, D1), start=outbreak)
    assert line(told, book, "notify", tomorrow.since_on or D1).state is D.DONE


def test_a_result_that_is_awaited_is_not_overdue(write: Write, books: dict[str, Rulebook]) -> None:
    outbreak = write((E.SUSPECTED, D1), (E.SAMPLE_SENT, D1))
    assert line(outbreak, books["scotland"], "confirm", date(2026, 7, 1)).state is D.NOT_YET_POSSIBLE


def test_a_limit_in_days_comes_is_due_within_the_week_and_then_overdue(
    write: Write, books: dict[str, Rulebook]
) -> None:
    outbreak = write((E.CONFIRMED, D1), book="switzerland")
    seen = [
        (line(outbreak, books["switzerland"], "clearance", on).state, on)
        for on in (D1, date(2026, 6, 4), date(2026, 6, 11), date(2026, 6, 12))
    ]
    assert [state for state, _ in seen] == [D.COMING, D.DUE, D.DUE, D.OVERDUE]


def test_reinspection_waits_for_the_clearance_then_for_its_day(
    write: Write, books: dict[str, Rulebook]
) -> None:
    book = books["common-practice"]
    outbreak = write((E.CONFIRMED, D1), (E.COLONIES_DESTROYED, D1))
    before = line(write((E.CONFIRMED, D1)), book, "reinspection", D1)
    assert (before.due_on, before.earliest_on, before.state) == (None, None, D.NOT_YET_POSSIBLE)
    states = {
        on: line(outbreak, book, "reinspection", on).state
        for on in (date(2026, 7, 5), date(2026, 7, 6), date(2026, 7, 13), date(2026, 7, 14))
    }
    assert list(states.values()) == [D.NOT_YET_POSSIBLE, D.COMING, D.DUE, D.OVERDUE]
    found = line(outbreak, book, "reinspection", D1)
    assert (found.earliest_on, found.due_on) == (date(2026, 7, 13), date(2026, 7, 13))


def test_a_clean_look_before_its_day_does_not_tick_off_the_reinspection(
    write: Write, books: dict[str, Rulebook]
) -> None:
    book = books["common-practice"]
    early = write((E.CONFIRMED, D1), (E.COLONIES_DESTROYED, D1), (E.REINSPECTED_CLEAN, date(2026, 7, 1)))
    assert line(early, book, "reinspection", date(2026, 7, 13)).state is D.DUE
    enough = write((E.REINSPECTED_CLEAN, date(2026, 7, 13)), start=early)
    found = line(enough, book, "reinspection", date(2026, 7, 20))
    assert (found.state, found.done_on) == (D.DONE, date(2026, 7, 13))


def test_a_window_is_due_while_it_is_open(write: Write, books: dict[str, Rulebook]) -> None:
    outbreak = write((E.CONFIRMED, D1), (E.COLONIES_DESTROYED, D1), book="germany")
    states = [
        line(outbreak, books["germany"], "reinspection", on).state
        for on in (date(2026, 7, 1), date(2026, 7, 30), date(2026, 8, 1), date(2027, 3, 1), date(2027, 3, 2))
    ]
    assert states == [D.NOT_YET_POSSIBLE, D.COMING, D.DUE, D.DUE, D.OVERDUE]


def test_measures_wait_for_the_clearance_and_are_ticked_off(write: Write, books: dict[str, Rulebook]) -> None:
    book = books["common-practice"]
    outbreak = write((E.CONFIRMED, D1))
    assert line(outbreak, book, "comb_burned", D1).state is D.NOT_YET_POSSIBLE
    assert line(outbreak, book, "kit_cleaned", D1).state is D.DUE
    cleared = write((E.COLONIES_DESTROYED, D1), start=outbreak)
    assert line(cleared, book, "comb_burned", D1).state is D.DUE
    burned = write((E.COMB_BURNED, date(2026, 6, 2)), start=cleared)
    done = line(burned, book, "comb_burned", date(2026, 6, 5))
    assert (done.state, done.done_on) == (D.DONE, date(2026, 6, 2))


def test_law_and_practice_are_told_apart_in_one_list(write: Write, books: dict[str, Rulebook]) -> None:
    outbreak = write((E.CONFIRMED, D1), book="germany")
    rows = {row.key: row.rule for row in due(outbreak, books["germany"], D1)}
    assert rows["zone_examined"].standing is Standing.LAW
    assert rows["disinfection_accepted"].name == "release.needs"
    assert rows["comb_burned"].is_fallback and rows["comb_burned"].standing is Standing.COMMON_PRACTICE


def test_a_local_change_shows_in_the_line(write: Write, books: dict[str, Rulebook]) -> None:
    book = override(books["common-practice"], "reinspect.earliest", 8, "R. Holm", "cold spring")
    outbreak = write((E.CONFIRMED, D1), (E.COLONIES_DESTROYED, D1))
    found = line(outbreak, book, "reinspection", D1)
    assert found.due_on == D1 + timedelta(weeks=8)
    assert found.as_record()["locally_changed"] is True
    assert "locally changed by R. Holm" in words.render(found.rule_text)


def test_release_is_offered_but_never_overdue(write: Write, books: dict[str, Rulebook]) -> None:
    book = books["common-practice"]
    outbreak = write(
        (E.CONFIRMED, D1),
        (E.NOTICE_SERVED, D1),
        (E.COLONIES_DESTROYED, D1),
        (E.COMB_BURNED, D1),
        (E.EQUIPMENT_DISINFECTED, D1),
        (E.KIT_CLEANED, D1),
        (E.REINSPECTED_CLEAN, date(2026, 7, 13)),
    )
    assert line(outbreak, book, "release", date(2026, 7, 12)).state is D.COMING
    assert line(outbreak, book, "release", date(2026, 9, 1)).state is D.DUE
    released = write((E.RELEASED, date(2026, 9, 1)), start=outbreak)
    assert {row.state for row in due(released, book, date(2026, 9, 2))} == {D.DONE}


def test_what_is_not_confirmed_asks_for_nothing(write: Write, books: dict[str, Rulebook]) -> None:
    outbreak = write((E.SUSPECTED, D1), (E.NOT_CONFIRMED, D1))
    assert state_of(outbreak.cases[0]) is CaseState.NOT_CONFIRMED
    assert due(outbreak, books["common-practice"], D1) == ()


def test_the_most_pressing_comes_first_and_a_day_before_the_finding_asks_nothing(
    write: Write, books: dict[str, Rulebook]
) -> None:
    outbreak = write((E.CONFIRMED, D1), (E.COLONIES_DESTROYED, D1))
    states = [row.state for row in due(outbreak, books["common-practice"], date(2026, 7, 10))]
    order = [D.OVERDUE, D.DUE, D.COMING, D.NOT_YET_POSSIBLE, D.DONE]
    assert states == sorted(states, key=order.index)
    assert due(outbreak, books["common-practice"], D1 - timedelta(days=1)) == ()


def test_a_record_has_the_keys_that_the_commands_promise(write: Write, books: dict[str, Rulebook]) -> None:
    record = due(write((E.CONFIRMED, D1)), books["common-practice"], D1)[0].as_record()
    assert {"outbreak", "what", "rule", "due_on", "state", "citation", "standing"} <= set(record)


def test_today_is_sorted_into_overdue_at_once_and_this_week(write: Write, books: dict[str, Rulebook]) -> None:
    outbreak = write((E.CONFIRMED, D1), book="switzerland")
    rows = due(outbreak, books["switzerland"], date(2026, 6, 5))
    summary = summarise(rows, date(2026, 6, 5))
    assert "notice_served" in {row.key for row in summary.overdue}
    assert [row.key for row in summary.this_week] == ["clearance"]
    assert "zone_examined" in {row.key for row in summary.later}
    first = summarise(due(outbreak, books["switzerland"], D1), D1)
    assert {row.key for row in first.at_once} == {"notice_served", "kit_cleaned"}
    every = [*summary.overdue, *summary.at_once, *summary.this_week, *summary.later]
    assert len(every) == len([row for row in rows if row.state is not D.DONE])


def test_every_line_says_which_steps_settle_it(write: Write, books: dict[str, Rulebook]) -> None:
    for name, book in books.items():
        disease = Disease.AFB
        for row in due(write((E.CONFIRMED, D1), book=name, disease=disease), book, D1):
            assert steps_that_settle(row.key)
            for message in (row.what, row.rule_text):
                assert "{" not in words.render(message)


@pytest.mark.parametrize("state", list(DueState))
def test_every_state_has_its_word(state: DueState) -> None:
    assert words.has_key(f"outbreak.due_state.{state}")
