"""Random lives of a case: whatever is accepted is possible, and time only moves forward."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from broodsweep.constants import Disease
from broodsweep.outbreak import (
    OPEN_STATES,
    CaseState,
    DueState,
    Event,
    EventKind,
    Outbreak,
    StepRefusedError,
    add_event,
    allowed_steps,
    due,
    effective_events,
    forbidden,
    progress_of,
    state_of,
)
from broodsweep.rulebook import load_books

BOOKS = load_books()
START = date(2026, 4, 1)
RECORDED = datetime(2030, 1, 1, tzinfo=UTC)
E, S = EventKind, CaseState

# Written down here again, apart from the code: which state may follow which.
FOLLOWS = {
    None: {S.SUSPECTED, S.CONFIRMED},
    S.SUSPECTED: {S.SUSPECTED, S.AWAITING_RESULT, S.CONFIRMED, S.UNDER_MEASURES, S.NOT_CONFIRMED},
    S.AWAITING_RESULT: {S.AWAITING_RESULT, S.CONFIRMED, S.UNDER_MEASURES, S.NOT_CONFIRMED},
    S.CONFIRMED: {S.CONFIRMED, S.UNDER_MEASURES, S.IN_REINSPECTION},
    S.UNDER_MEASURES: {S.UNDER_MEASURES, S.IN_REINSPECTION},
    S.IN_REINSPECTION: {S.IN_REINSPECTION, S.UNDER_MEASURES, S.CONFIRMED, S.RELEASED},
    S.RELEASED: {S.RELEASED, S.SUSPECTED},
    S.NOT_CONFIRMED: {S.NOT_CONFIRMED, S.SUSPECTED},
}

STEPS = st.lists(
    st.tuples(st.sampled_from(list(EventKind)), st.integers(0, 60), st.sampled_from([0, 0, 0, 1])),
    min_size=1,
    max_size=25,
)
BOOK_NAMES = st.sampled_from(sorted(BOOKS))


def live(
    name: str, disease: Disease, steps: list[tuple[EventKind, int, int]], *, in_order: bool = True
) -> tuple[list[Outbreak], int]:
    """Play the steps, leaving out those refused; give every outbreak on the way and how many were refused."""
    outbreak = Outbreak(outbreak="X-1", disease=disease, rulebook=name, opened_on=START)
    way, day, refused = [outbreak], START, 0
    for number, (kind, days, left) in enumerate(steps):
        day = day + timedelta(days=days) if in_order else START + timedelta(days=days)
        target = f"e{left and number - 1}"
        detail = {"event": target, "withdrawn": True} if kind is E.AMENDED else {"colonies_left": left}
        event = Event(
            event=f"e{number}",
            apiary="A",
            kind=kind,
            happened_on=day,
            recorded_at=RECORDED,
            who="w",
            detail=detail,
        )
        try:
            outbreak = add_event(outbreak, event, BOOKS[name])
        except StepRefusedError:
            refused += 1
        else:
            way.append(outbreak)
    return way, refused


def reach_release(name: str, disease: Disease) -> list[tuple[EventKind, int, int]]:
    """Steps that bring any case to its release, so that the random lives are not all short."""
    return [
        (E.SUSPECTED, 0, 0),
        (E.CONFIRMED, 2, 0),
        (E.NOTICE_SERVED, 0, 0),
        (E.COLONIES_DESTROYED, 1, 0),
        (E.COMB_BURNED, 0, 0),
        (E.EQUIPMENT_DISINFECTED, 0, 0),
        (E.DISINFECTION_ACCEPTED, 0, 0),
        (E.KIT_CLEANED, 0, 0),
        (E.ZONE_EXAMINED, 3, 0),
        (E.REINSPECTED_CLEAN, 70, 0),
        (E.RELEASED, 3, 0),
    ]


def test_every_book_lets_a_case_be_released_in_the_end() -> None:
    for name in BOOKS:
        for disease in Disease:
            way, _ = live(name, disease, reach_release(name, disease))
            assert state_of(way[-1].cases[0]) is S.RELEASED, (name, disease)


@settings(max_examples=150, deadline=None)
@given(BOOK_NAMES, st.sampled_from(list(Disease)), st.integers(0, 11), STEPS, st.booleans())
def test_accepted_events_never_reach_an_impossible_state(
    name: str, disease: Disease, known: int, steps: list[tuple[EventKind, int, int]], in_order: bool
) -> None:
    way, _ = live(name, disease, reach_release(name, disease)[:known] + steps, in_order=in_order)
    for outbreak in way[1:]:
        case = outbreak.cases[0]
        before = None
        confirmed = cleared = False
        for event in effective_events(case):
            confirmed = confirmed or event.kind in (E.CONFIRMED, E.REINSPECTED_POSITIVE)
            if event.kind in (E.COLONIES_DESTROYED, E.COLONIES_TREATED):
                assert confirmed
                cleared = True
            if event.kind in (E.REINSPECTED_CLEAN, E.REINSPECTED_POSITIVE, E.RELEASED):
                assert cleared
        for count in range(1, len(effective_events(case)) + 1):
            prefix = type(case)(apiary="A", events=effective_events(case)[:count])
            state = progress_of(prefix).state
            assert state in FOLLOWS[before], (before, state)
            before = state
        assert state_of(case) is before


@settings(max_examples=100, deadline=None)
@given(BOOK_NAMES, st.integers(0, 11), STEPS, st.booleans())
def test_adding_an_event_never_changes_those_before_it(
    name: str, known: int, steps: list[tuple[EventKind, int, int]], in_order: bool
) -> None:
    way, _ = live(name, Disease.AFB, reach_release(name, Disease.AFB)[:known] + steps, in_order=in_order)
    for earlier, later in pairwise(way[1:]):
        old, new = earlier.cases[0].events, later.cases[0].events
        assert new[: len(old)] == old and len(new) == len(old) + 1


@settings(max_examples=100, deadline=None)
@given(BOOK_NAMES, st.sampled_from(list(Disease)), st.integers(1, 11), STEPS)
def test_due_dates_never_move_back_while_the_day_moves_on(
    name: str, disease: Disease, known: int, steps: list[tuple[EventKind, int, int]]
) -> None:
    way, _ = live(name, disease, reach_release(name, disease)[:known] + steps)
    outbreak, book = way[-1], BOOKS[name]
    if not outbreak.cases:
        return
    seen: dict[tuple[str, int, str], date] = {}
    last = max(event.happened_on for event in outbreak.cases[0].events)
    for offset in range(0, (last - START).days + 60, 3):
        for row in due(outbreak, book, START + timedelta(days=offset)):
            for which, day in (("due", row.due_on), ("earliest", row.earliest_on), ("since", row.since_on)):
                if day is not None:
                    assert day >= seen.get((row.key, row.round, which), date.min), (which, row)
                    seen[row.key, row.round, which] = day
            if row.state is DueState.OVERDUE:
                assert (row.due_on or row.since_on or date.max) < START + timedelta(days=offset)
            if row.earliest_on and row.due_on:
                assert row.earliest_on <= row.due_on


@settings(max_examples=100, deadline=None)
@given(BOOK_NAMES, st.integers(0, 11), STEPS)
def test_what_is_called_possible_is_accepted_and_nothing_else(
    name: str, known: int, steps: list[tuple[EventKind, int, int]]
) -> None:
    way, _ = live(name, Disease.AFB, reach_release(name, Disease.AFB)[:known] + steps[:6])
    outbreak = way[-1]
    if not outbreak.cases:
        return
    case, book = outbreak.cases[0], BOOKS[name]
    on = max(event.happened_on for event in effective_events(case)) + timedelta(days=1)
    possible = allowed_steps(case, book, outbreak.disease, on)
    for kind in set(EventKind) - {E.AMENDED}:
        event = Event(event="new", apiary="A", kind=kind, happened_on=on, recorded_at=RECORDED, who="w")
        try:
            add_event(outbreak, event, book)
        except StepRefusedError:
            assert kind not in possible
        else:
            assert kind in possible


@settings(max_examples=60, deadline=None)
@given(BOOK_NAMES, st.integers(1, 11), STEPS)
def test_what_is_forbidden_holds_only_while_the_case_is_open(
    name: str, known: int, steps: list[tuple[EventKind, int, int]]
) -> None:
    way, _ = live(name, Disease.AFB, reach_release(name, Disease.AFB)[:known] + steps)
    for outbreak in way[1:]:
        on = max(event.happened_on for event in outbreak.cases[0].events)
        bans = forbidden(outbreak, BOOKS[name], on)
        if state_of(outbreak.cases[0], on) not in OPEN_STATES:
            assert bans == ()
        assert all(ban.since_on <= on for ban in bans)
