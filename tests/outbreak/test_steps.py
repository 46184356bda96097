"""The life of a case: every state, every refusal with its reason, corrections that change nothing written."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from tests.outbreak.conftest import Write

from broodsweep import words
from broodsweep.constants import Disease
from broodsweep.errors import RefusedError
from broodsweep.outbreak import (
    Case,
    CaseState,
    Event,
    EventKind,
    Outbreak,
    StepRefusedError,
    add_event,
    allowed_steps,
    close_outbreak,
    effective_events,
    is_open,
    progress_of,
    state_of,
    state_since,
)
from broodsweep.rulebook import Rulebook, override

E, S = EventKind, CaseState
D1 = date(2026, 6, 1)
ALL_CLEAR = (
    (E.SUSPECTED, D1),
    (E.SAMPLE_SENT, date(2026, 6, 1)),
    (E.CONFIRMED, date(2026, 6, 3), {"by": "laboratory"}),
    (E.NOTICE_SERVED, date(2026, 6, 3)),
    (E.COLONIES_DESTROYED, date(2026, 6, 4), {"how": "destroyed", "colonies": 2}),
    (E.COMB_BURNED, date(2026, 6, 4)),
    (E.EQUIPMENT_DISINFECTED, date(2026, 6, 5)),
    (E.KIT_CLEANED, date(2026, 6, 4)),
    (E.REINSPECTED_CLEAN, date(2026, 7, 16)),
    (E.RELEASED, date(2026, 7, 16), {"role": "authorised_person"}),
)


def test_a_case_runs_from_suspicion_to_release(write: Write) -> None:
    case = write(*ALL_CLEAR).cases[0]
    seen = [(state_of(case, day), day) for day in sorted({step[1] for step in ALL_CLEAR})]  # type: ignore[type-var]
    assert [state for state, _ in seen] == [
        S.AWAITING_RESULT,
        S.UNDER_MEASURES,
        S.IN_REINSPECTION,
        S.IN_REINSPECTION,
        S.RELEASED,
    ]
    assert state_of(case, date(2026, 6, 2)) is S.AWAITING_RESULT
    assert state_since(case) == date(2026, 7, 16) and not is_open(case)


def test_each_state_is_reached_by_its_step(write: Write) -> None:
    assert state_of(write((E.SUSPECTED, D1)).cases[0]) is S.SUSPECTED
    assert state_of(write((E.SUSPECTED, D1), (E.NOT_CONFIRMED, D1)).cases[0]) is S.NOT_CONFIRMED
    assert state_of(write((E.CONFIRMED, D1)).cases[0]) is S.CONFIRMED
    assert state_of(write((E.CONFIRMED, D1), (E.KIT_CLEANED, D1)).cases[0]) is S.UNDER_MEASURES
    partly = write((E.CONFIRMED, D1), (E.COLONIES_DESTROYED, D1, {"colonies_left": 1}))
    assert state_of(partly.cases[0]) is S.UNDER_MEASURES
    assert state_of(Case(apiary="empty")) is S.SUSPECTED


@pytest.mark.parametrize(
    ("before", "step", "told"),
    [
        ([], (E.NOTICE_SERVED, D1), "nothing was found here yet"),
        ([(E.SUSPECTED, D1)], (E.COLONIES_DESTROYED, D1), "only once the disease is confirmed"),
        ([(E.SUSPECTED, D1)], (E.RELEASED, D1), "only after the sick colonies are destroyed"),
        ([(E.CONFIRMED, D1)], (E.REINSPECTED_CLEAN, D1), "only after the sick colonies are destroyed"),
        ([(E.CONFIRMED, D1)], (E.NOT_CONFIRMED, D1), "does not follow when a case is confirmed"),
        ([(E.SUSPECTED, D1)], (E.CONFIRMED, D1, {"by": "signs"}), "takes as proof only: laboratory result"),
        ([(E.CONFIRMED, D1)], (E.COLONIES_TREATED, D1), "allows only destruction"),
        ([(E.SUSPECTED, D1), (E.NOT_CONFIRMED, D1)], (E.CONFIRMED, D1), "reopen it first"),
        ([(E.CONFIRMED, D1)], (E.DISINFECTION_ACCEPTED, D1), "no disinfection was written down"),
        ([(E.CONFIRMED, D1)], (E.NOTICE_SERVED, D1, {"role": "inspector"}), "signed by an authorised person"),
        ([*ALL_CLEAR[:8]], (E.RELEASED, date(2026, 7, 16)), "on or after 16 Jul 2026 is needed"),
        (
            [*ALL_CLEAR[:7]],
            (E.RELEASED, date(2026, 7, 16)),
            "still to be done and written down: kit and boots",
        ),
        ([*ALL_CLEAR], (E.KIT_CLEANED, date(2026, 7, 17)), "the case is released; reopen it first"),
        (
            [*ALL_CLEAR[:9]],
            (E.RELEASED, date(2026, 7, 16), {"role": "inspector"}),
            "signed by an authorised person",
        ),
    ],
)
def test_an_impossible_step_is_refused_with_its_reason(
    write: Write, before: list[tuple[object, ...]], step: tuple[object, ...], told: str
) -> None:
    start = write(*before) if before else None
    with pytest.raises(StepRefusedError) as caught:
        write(step, start=start)
    assert told in str(caught.value)
    assert step[0] not in caught.value.possible or "proof" in told or "signed" in told


def test_a_refusal_names_what_would_be_possible(write: Write) -> None:
    with pytest.raises(RefusedError, match=r"Possible then: .*disease confirmed.*disease not confirmed"):
        write((E.COLONIES_DESTROYED, D1), start=write((E.SUSPECTED, D1)))


def test_a_reinspection_before_the_destruction_is_refused(write: Write) -> None:
    outbreak = write((E.CONFIRMED, D1), (E.COLONIES_DESTROYED, date(2026, 6, 10)))
    with pytest.raises(StepRefusedError, match="only after the sick colonies"):
        write((E.REINSPECTED_CLEAN, date(2026, 6, 9)), start=outbreak)


def test_a_clean_look_before_the_interval_is_kept_but_does_not_count(write: Write) -> None:
    early = write(*ALL_CLEAR[:8], (E.REINSPECTED_CLEAN, date(2026, 7, 1)))
    with pytest.raises(StepRefusedError, match=r"one clean re-inspection on or after 16 Jul 2026.*0 counts"):
        write((E.RELEASED, date(2026, 7, 20)), start=early)
    assert E.RELEASED not in allowed_steps(early.cases[0], _book(), Disease.AFB)
    enough = write((E.REINSPECTED_CLEAN, date(2026, 7, 16)), start=early)
    assert E.RELEASED in allowed_steps(enough.cases[0], _book(), Disease.AFB)


def test_as_many_clean_looks_are_needed_as_the_rulebook_says(
    write: Write, books: dict[str, Rulebook]
) -> None:
    book = override(books["common-practice"], "reinspect.clean_needed", 2, "R. Holm", "careful")
    one = write(*ALL_CLEAR[:9])
    assert E.RELEASED not in allowed_steps(one.cases[0], book, Disease.AFB)
    two = write((E.REINSPECTED_CLEAN, date(2026, 8, 1)), start=one)
    assert E.RELEASED in allowed_steps(two.cases[0], book, Disease.AFB)


def test_swiss_release_waits_for_sixty_days_and_german_for_the_accepted_disinfection(write: Write) -> None:
    steps = (
        (E.CONFIRMED, D1),
        (E.NOTICE_SERVED, D1),
        (E.COLONIES_DESTROYED, D1),
        (E.KIT_CLEANED, D1),
        (E.REINSPECTED_CLEAN, date(2026, 7, 14)),
    )
    swiss = write(*steps, book="switzerland", disease=Disease.EFB)
    with pytest.raises(StepRefusedError, match="may be lifted on 31 Jul 2026 at the earliest"):
        write((E.RELEASED, date(2026, 7, 30)), start=swiss)
    assert state_of(write((E.RELEASED, date(2026, 7, 31)), start=swiss).cases[0]) is S.RELEASED
    german = write(
        *steps[:4],
        (E.COMB_BURNED, D1),
        (E.EQUIPMENT_DISINFECTED, D1),
        (E.REINSPECTED_CLEAN, date(2026, 8, 1)),
        book="germany",
    )
    with pytest.raises(StepRefusedError, match="still to be done and written down: disinfection accepted"):
        write((E.RELEASED, date(2026, 8, 2)), start=german)
    accepted = write((E.DISINFECTION_ACCEPTED, date(2026, 8, 2)), start=german)
    assert state_of(write((E.RELEASED, date(2026, 8, 2)), start=accepted).cases[0]) is S.RELEASED


def test_a_positive_reinspection_begins_anew_under_the_same_standstill(write: Write) -> None:
    outbreak = write(*ALL_CLEAR[:8], (E.REINSPECTED_POSITIVE, date(2026, 7, 16)))
    progress = progress_of(outbreak.cases[0])
    assert progress.state is S.UNDER_MEASURES and progress.round == 2
    assert (progress.found_on, progress.held_since) == (date(2026, 7, 16), D1)
    assert progress.cleared_on is None and E.NOTICE_SERVED in progress.done
    assert E.COMB_BURNED not in progress.done


def test_a_suspicion_at_a_reinspection_undoes_the_clean_looks(write: Write) -> None:
    outbreak = write(*ALL_CLEAR[:9], (E.SUSPECTED, date(2026, 7, 20)))
    assert state_of(outbreak.cases[0]) is S.IN_REINSPECTION
    assert E.RELEASED not in allowed_steps(outbreak.cases[0], _book(), Disease.AFB)


def test_a_released_case_is_reopened_as_a_suspicion_that_needs_its_own_notice(write: Write) -> None:
    outbreak = write(*ALL_CLEAR, (E.REOPENED, date(2026, 9, 1)), (E.CONFIRMED, date(2026, 9, 2)))
    progress = progress_of(outbreak.cases[0])
    assert progress.state is S.CONFIRMED and progress.held_since == date(2026, 9, 1)
    assert E.NOTICE_SERVED not in progress.done


def test_an_event_written_down_late_is_checked_at_its_day_and_with_what_follows(write: Write) -> None:
    outbreak = write(*[step for step in ALL_CLEAR[:9] if step[0] is not E.NOTICE_SERVED])
    late = write((E.NOTICE_SERVED, date(2026, 6, 3)), start=outbreak)
    assert progress_of(late.cases[0]).done[E.NOTICE_SERVED] == date(2026, 6, 3)
    with pytest.raises(StepRefusedError, match="could then not have been"):
        write((E.NOT_CONFIRMED, date(2026, 6, 2)), start=late)


def test_days_that_cannot_be_are_refused(write: Write, books: dict[str, Rulebook]) -> None:
    outbreak = write((E.CONFIRMED, D1))
    with pytest.raises(StepRefusedError, match="before the outbreak was opened on 1 Jun 2026"):
        write((E.NOTICE_SERVED, date(2026, 5, 31)), start=outbreak)
    written_at = datetime(2026, 6, 2, 9, 0, tzinfo=UTC)
    ahead = _event("x", E.KIT_CLEANED, date(2026, 6, 4), written_at)
    with pytest.raises(StepRefusedError, match="that day had not come"):
        add_event(outbreak, ahead, books["common-practice"])
    # In New Zealand it is 3 June already while it is 12:00 on 2 June in UTC.
    east = _event("x", E.KIT_CLEANED, date(2026, 6, 3), datetime(2026, 6, 2, 12, 0, tzinfo=UTC))
    add_event(outbreak, east, books["common-practice"])


def test_the_same_event_twice_changes_nothing_and_its_name_is_not_used_again(
    write: Write, books: dict[str, Rulebook]
) -> None:
    outbreak = write((E.CONFIRMED, D1))
    event = outbreak.cases[0].events[0]
    assert add_event(outbreak, event, books["common-practice"]) is outbreak
    with pytest.raises(StepRefusedError, match="another entry of the same name"):
        add_event(outbreak, replace(event, kind=E.NOTE), books["common-practice"])


def test_an_amendment_corrects_without_editing(write: Write) -> None:
    outbreak = write((E.CONFIRMED, D1), (E.COLONIES_DESTROYED, date(2026, 6, 10)))
    written = outbreak.cases[0].events
    fixed = write(
        (E.AMENDED, date(2026, 6, 20), {"event": "SK-001-1", "happened_on": "2026-06-04"}), start=outbreak
    )
    assert fixed.cases[0].events[:2] == written
    assert progress_of(fixed.cases[0]).cleared_on == date(2026, 6, 4)
    undone = write((E.AMENDED, date(2026, 6, 21), {"event": "SK-001-2", "withdrawn": True}), start=fixed)
    assert progress_of(undone.cases[0]).cleared_on == date(2026, 6, 10)
    taken_out = write((E.AMENDED, date(2026, 6, 22), {"event": "SK-001-1", "withdrawn": True}), start=undone)
    assert state_of(taken_out.cases[0]) is S.CONFIRMED
    assert [event.kind for event in effective_events(taken_out.cases[0])] == [E.CONFIRMED]


@pytest.mark.parametrize(
    ("detail", "told"),
    [
        ({"event": "SK-001-0", "withdrawn": True}, "could then not have been"),
        ({"event": "SK-001-0", "happened_on": "2026-06-11"}, "could then not have been"),
        ({"event": "SK-001-1", "happened_on": "2026-05-11"}, "before the outbreak was opened"),
        ({"event": "SK-001-1", "happened_on": "2029-05-11"}, "that day had not come"),
        ({"event": "SK-001-1", "happened_on": "soon"}, "soon is not a day"),
        ({"event": "SK-009-9", "withdrawn": True}, "SK-009-9 is none"),
        ({"event": "SK-001-1"}, "must say what changes"),
    ],
)
def test_an_amendment_that_makes_the_rest_impossible_is_refused(
    write: Write, detail: dict[str, object], told: str
) -> None:
    outbreak = write((E.CONFIRMED, D1), (E.COLONIES_DESTROYED, date(2026, 6, 10)))
    with pytest.raises(StepRefusedError, match=told):
        write((E.AMENDED, date(2026, 6, 20), detail), start=outbreak)


def test_an_event_at_a_new_apiary_opens_a_case(write: Write) -> None:
    outbreak = write((E.CONFIRMED, D1))
    wider = write((E.SUSPECTED, date(2026, 6, 5)), start=outbreak, apiary="SK-002")
    assert [case.apiary for case in wider.cases] == ["SK-001", "SK-002"]


def test_an_outbreak_closes_when_every_case_is_and_opens_with_a_reopened_one(write: Write) -> None:
    outbreak = write(*ALL_CLEAR)
    with pytest.raises(RefusedError, match="cannot be closed while cases are open: SK-001"):
        close_outbreak(write((E.SUSPECTED, D1)), D1)
    closed = close_outbreak(outbreak, date(2026, 8, 1))
    with pytest.raises(RefusedError, match="was closed on 1 Aug 2026 already"):
        close_outbreak(closed, date(2026, 8, 2))
    with pytest.raises(StepRefusedError, match="the outbreak was closed on 1 Aug 2026"):
        write((E.SUSPECTED, date(2026, 8, 3)), start=closed, apiary="SK-002")
    assert write((E.REOPENED, date(2026, 8, 3)), start=closed).closed_on is None


def test_every_step_and_state_has_its_words() -> None:
    for kind in EventKind:
        assert words.has_key(f"outbreak.step.{kind}")
    for state in CaseState:
        assert words.has_key(f"outbreak.state.{state}")


def _book() -> Rulebook:
    from broodsweep.rulebook import load_books

    return load_books()["common-practice"]


def _event(name: str, kind: EventKind, day: date, at: datetime) -> Event:
    return Event(event=name, apiary="SK-001", kind=kind, happened_on=day, recorded_at=at, who="R. Holm")


def test_outbreak_is_a_plain_value(write: Write) -> None:
    assert write((E.CONFIRMED, D1)) == write((E.CONFIRMED, D1))
    assert isinstance(write((E.CONFIRMED, D1)), Outbreak)
