"""Outbreaks read from visits and removals: grouped, named, and contradictions said."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from broodsweep import words
from broodsweep.constants import Clearance, Disease
from broodsweep.outbreak import (
    CaseState,
    DueState,
    EventKind,
    Outbreak,
    due,
    outbreaks_from_records,
    read_records,
    state_of,
)
from broodsweep.register import Removal, Visit
from broodsweep.rulebook import Rulebook, load_books

E, S = EventKind, CaseState
AFB, EFB = Disease.AFB, Disease.EFB
PLACES = {"A": 0.0, "B": 2000.0, "C": 6000.0, "D": 20_000.0}
BOOK = load_books()["common-practice"]


def near(apiary: str, radius_m: float) -> Collection[str]:
    return {other for other, at in PLACES.items() if abs(at - PLACES[apiary]) <= radius_m}


def visit(
    apiary: str,
    day: date,
    confirmed: int = 0,
    suspect: int = 0,
    disease: Disease | None = AFB,
    purpose: str | None = None,
    inspected: int = 5,
    present: int | None = 5,
) -> Visit:
    return Visit(
        visit=f"{apiary}{day:%m%d}",
        apiary=apiary,
        visited_on=day,
        colonies_inspected=inspected,
        colonies_present=present,
        colonies_confirmed=confirmed,
        colonies_suspect=suspect,
        disease=disease if confirmed or suspect else None,
        purpose=purpose,
        inspector="I1",
    )


def removal(
    apiary: str, day: date, colonies: int = 1, how: Clearance = Clearance.DESTROYED, disease: Disease = AFB
) -> Removal:
    return Removal(apiary=apiary, removed_on=day, disease=disease, colonies=colonies, how=how)


def kinds(outbreak: Outbreak, number: int = 0) -> list[EventKind]:
    return [event.kind for event in outbreak.cases[number].events]


def read(*rows: Visit | Removal, book: Rulebook = BOOK) -> tuple[Outbreak, ...]:
    visits = [row for row in rows if isinstance(row, Visit)]
    removals = [row for row in rows if isinstance(row, Removal)]
    return outbreaks_from_records(visits, removals, book, near=near)


def remarks(*rows: Visit | Removal) -> str:
    visits = [row for row in rows if isinstance(row, Visit)]
    removals = [row for row in rows if isinstance(row, Removal)]
    return "\n".join(map(words.render, read_records(visits, removals, BOOK, near=near).remarks))


def test_finding_removal_and_clean_look_make_a_case_in_reinspection() -> None:
    (outbreak,) = read(
        visit("A", date(2026, 5, 1)),
        visit("A", date(2026, 6, 1), confirmed=1),
        removal("A", date(2026, 6, 3)),
        visit("A", date(2026, 7, 15)),
    )
    assert (outbreak.outbreak, outbreak.opened_on, outbreak.rulebook) == (
        "AFB-2026-1",
        date(2026, 6, 1),
        "common-practice",
    )
    assert kinds(outbreak) == [E.CONFIRMED, E.COLONIES_DESTROYED, E.REINSPECTED_CLEAN]
    assert state_of(outbreak.cases[0]) is S.IN_REINSPECTION


def test_the_due_lines_of_tables_are_those_that_tables_can_tick_off() -> None:
    (outbreak,) = read(visit("A", date(2026, 6, 1), confirmed=1), removal("A", date(2026, 6, 1)))
    rows = {row.key: row for row in due(outbreak, BOOK, date(2026, 7, 10)) if row.state is not DueState.DONE}
    assert set(rows) == {"reinspection", "release"}
    assert rows["reinspection"].due_on == date(2026, 7, 13)
    (fresh,) = read(visit("A", date(2026, 6, 1), confirmed=1))
    assert {"notice_served", "clearance"} <= {row.key for row in due(fresh, BOOK, date(2026, 6, 1))}


def test_release_is_offered_for_tables_once_enough_clean_looks_are_there() -> None:
    rows = (visit("A", date(2026, 6, 1), confirmed=1), removal("A", date(2026, 6, 1)))
    (waiting,) = read(*rows)
    (looked,) = read(*rows, visit("A", date(2026, 7, 13)))
    on = date(2026, 7, 20)
    states = [
        {row.key: row.state for row in due(outbreak, BOOK, on)}["release"] for outbreak in (waiting, looked)
    ]
    assert states == [DueState.NOT_YET_POSSIBLE, DueState.DUE]


def test_a_clean_look_counts_by_purpose_or_by_the_interval() -> None:
    rows = (visit("A", date(2026, 6, 1), confirmed=1), removal("A", date(2026, 6, 1)))
    (early,) = read(*rows, visit("A", date(2026, 6, 20)))
    (purpose,) = read(*rows, visit("A", date(2026, 6, 20), purpose="Re-inspection"))
    (late,) = read(*rows, visit("A", date(2026, 7, 13)))
    (nothing,) = read(*rows, visit("A", date(2026, 7, 13), inspected=0))
    (empty,) = read(*rows, visit("A", date(2026, 7, 13), inspected=0, present=0))
    assert [E.REINSPECTED_CLEAN in kinds(row) for row in (early, purpose, late, nothing, empty)] == [
        False,
        True,
        True,
        False,
        True,
    ]


def test_neighbours_of_one_disease_belong_together_by_single_linkage() -> None:
    found = read(
        visit("A", date(2026, 6, 1), confirmed=1),
        visit("B", date(2026, 6, 10), confirmed=1),
        visit("C", date(2026, 6, 5), suspect=1),
        visit("D", date(2026, 5, 1), confirmed=1),
        visit("B", date(2026, 6, 11), confirmed=1, disease=EFB),
    )
    assert [(row.outbreak, [case.apiary for case in row.cases]) for row in found] == [
        ("AFB-2026-1", ["D"]),
        ("AFB-2026-2", ["A", "C", "B"]),
        ("EFB-2026-1", ["B"]),
    ]


def test_seasons_far_apart_are_outbreaks_of_their_own() -> None:
    found = read(
        visit("A", date(2024, 6, 1), confirmed=1),
        removal("A", date(2024, 6, 2)),
        visit("A", date(2024, 7, 20)),
        visit("B", date(2026, 6, 1), confirmed=1),
        visit("A", date(2026, 6, 9), confirmed=1),
    )
    assert [(row.outbreak, len(row.cases)) for row in found] == [("AFB-2024-1", 1), ("AFB-2026-1", 2)]
    assert E.REINSPECTED_CLEAN in kinds(found[0])


def test_a_positive_visit_after_the_removal_begins_anew_and_is_said() -> None:
    rows = (
        visit("A", date(2026, 6, 1), confirmed=1),
        removal("A", date(2026, 6, 3)),
        visit("A", date(2026, 7, 15), confirmed=2),
    )
    (outbreak,) = read(*rows)
    assert kinds(outbreak)[-1] is E.REINSPECTED_POSITIVE
    assert state_of(outbreak.cases[0]) is S.CONFIRMED
    assert "A: visit A0715 on 15 Jul 2026 found disease after the colonies had been dealt with" in remarks(
        *rows
    )


def test_a_visit_on_the_day_of_the_removal_is_the_finding_not_a_relapse() -> None:
    (outbreak,) = read(
        visit("A", date(2026, 6, 1), confirmed=1),
        visit("A", date(2026, 6, 3), confirmed=1),
        removal("A", date(2026, 6, 3)),
    )
    assert kinds(outbreak) == [E.CONFIRMED, E.COLONIES_DESTROYED]


def test_a_clean_visit_on_the_day_of_the_removal_is_no_reinspection() -> None:
    (outbreak,) = read(
        visit("A", date(2026, 6, 1), confirmed=1),
        removal("A", date(2026, 6, 3)),
        visit("A", date(2026, 6, 3), purpose="reinspection"),
    )
    assert kinds(outbreak) == [E.CONFIRMED, E.COLONIES_DESTROYED]


def test_colonies_found_and_not_removed_keep_the_case_under_measures() -> None:
    rows = (visit("A", date(2026, 6, 1), confirmed=3), removal("A", date(2026, 6, 3), colonies=2))
    assert state_of(read(*rows)[0].cases[0]) is S.UNDER_MEASURES
    assert "one colony found sick is still there" in remarks(*rows)
    assert state_of(read(*rows, removal("A", date(2026, 6, 4)))[0].cases[0]) is S.IN_REINSPECTION


def test_a_removal_without_a_finding_is_taken_as_one_and_said() -> None:
    row = removal("A", date(2026, 6, 3))
    assert kinds(read(row)[0]) == [E.CONFIRMED, E.COLONIES_DESTROYED]
    assert "without a visit that found them sick" in remarks(row)


def test_what_the_rulebook_does_not_permit_is_read_and_said() -> None:
    rows = (
        visit("A", date(2026, 6, 1), confirmed=1),
        removal("A", date(2026, 6, 3), how=Clearance.SHOOK_SWARM),
    )
    assert kinds(read(*rows)[0])[-1] is E.COLONIES_TREATED
    assert "the tables say shook swarm, which “Common practice” does not allow" in remarks(*rows)


def test_a_suspicion_lapses_only_after_a_clean_look_behind_the_interval() -> None:
    first = visit("A", date(2026, 6, 1), suspect=1)
    assert state_of(read(first, visit("A", date(2026, 7, 12)))[0].cases[0]) is S.SUSPECTED
    rows = (first, visit("A", date(2026, 7, 13)))
    assert state_of(read(*rows)[0].cases[0]) is S.NOT_CONFIRMED
    assert "never confirmed" in remarks(*rows)
    again = (*rows, visit("A", date(2026, 8, 1), confirmed=1))
    assert kinds(read(*again)[0]) == [E.SUSPECTED, E.NOT_CONFIRMED, E.REOPENED, E.CONFIRMED]


def test_signs_without_a_disease_are_left_out_and_said() -> None:
    row = Visit(
        visit="V1", apiary="A", visited_on=date(2026, 6, 1), colonies_inspected=5, colonies_confirmed=1
    )
    assert read(row) == ()
    assert "Visit V1 at A found signs but names no disease" in remarks(row)


ROWS = st.lists(
    st.builds(
        lambda apiary, offset, what, disease: (
            removal(apiary, date.fromordinal(date(2025, 3, 1).toordinal() + offset), disease=disease)
            if what == 3
            else visit(
                apiary,
                date.fromordinal(date(2025, 3, 1).toordinal() + offset),
                confirmed=int(what == 1),
                suspect=int(what == 2),
                disease=disease,
            )
        ),
        st.sampled_from("ABCD"),
        st.integers(0, 900),
        st.integers(0, 3),
        st.sampled_from(list(Disease)),
    ),
    max_size=14,
    unique_by=lambda row: (row.apiary, row.visited_on if isinstance(row, Visit) else row.removed_on),
)


@given(ROWS, st.randoms(use_true_random=False))
def test_the_order_of_the_rows_does_not_matter(rows: list[Visit | Removal], random: object) -> None:
    shuffled = list(rows)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert read(*rows) == read(*shuffled)


@given(ROWS)
def test_every_finding_is_in_exactly_one_outbreak_of_its_disease(rows: list[Visit | Removal]) -> None:
    found = read(*rows)
    assert len({row.outbreak for row in found}) == len(found)
    for row in rows:
        is_finding = isinstance(row, Removal) or row.colonies_confirmed or row.colonies_suspect
        if not is_finding:
            continue
        day = row.visited_on if isinstance(row, Visit) else row.removed_on
        holders = [
            outbreak.outbreak
            for outbreak in found
            for case in outbreak.cases
            if outbreak.disease == row.disease
            and case.apiary == row.apiary
            and case.events[0].happened_on <= day
            and outbreak.opened_on <= day
        ]
        assert holders


@pytest.mark.parametrize("name", sorted(load_books()))
def test_tables_are_read_under_every_book(name: str) -> None:
    book = load_books()[name]
    rows = (visit("A", date(2026, 6, 1), confirmed=1), removal("A", date(2026, 6, 3)))
    (outbreak,) = read(*rows, book=book)
    assert outbreak.rulebook == name and due(outbreak, book, date(2026, 6, 10))
