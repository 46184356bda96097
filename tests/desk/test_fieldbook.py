"""What phones bring is kept, and each effect of it comes once, in whatever order it arrives."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from tests.fieldbook.writing import Pen

from broodsweep.constants import Disease, Goods
from broodsweep.desk import duplicates, outbreaks
from broodsweep.desk.access import Device
from broodsweep.desk.context import Desk
from broodsweep.desk.field_ports import LineState
from broodsweep.desk.fieldbook import decide_line, take_lines, try_again
from broodsweep.errors import NotFoundError, RefusedError
from broodsweep.outbreak import EventKind, state_of

from .conftest import LEAD, make_desk, small_ground

AT = datetime(2026, 7, 1, tzinfo=UTC)


def phone(name: str = "phone-1", inspector: str | None = "I1") -> Device:
    return Device(
        device=name,
        label=name,
        who="Una Selvik",
        inspector=inspector,
        enrolled_at=AT,
        revoked_at=None,
        wipe_asked_at=None,
        seal_key="",
        sign_key="",
    )


def pen(name: str = "phone-1", day: str = "2026-07-08") -> Pen:
    return Pen(name, random.Random(name), day=day)


def look(
    one: Pen, visit: str, apiary: str, colony: int, state: str = "clean", disease: str | None = None
) -> None:
    body = {"colony": colony, "state": state, "disease": disease}
    one.write("colony_looked", body, visit=visit, apiary=apiary)


def a_visit(
    one: Pen, apiary: str, purpose: str = "sweep", colonies: int = 3, suspect: str | None = None
) -> str:
    """Write a whole visit: all clean, or the first colony suspect."""
    visit = one.name()
    one.begin(visit, apiary, purpose)
    one.write("colonies_counted", {"present": colonies}, visit=visit, apiary=apiary)
    for colony in range(1, colonies + 1):
        is_suspect = suspect is not None and colony == 1
        look(
            one, visit, apiary, colony, "suspect" if is_suspect else "clean", suspect if is_suspect else None
        )
    one.sign(visit, apiary)
    return visit


def answers(desk: Desk, device: Device, lines: list[object]) -> list[str]:
    return [row.answer for row in take_lines(desk, device, lines).answers]


def test_a_clean_visit_becomes_a_row_and_is_taken_in_once(desk: Desk) -> None:
    one = pen()
    visit = a_visit(one, "N")
    assert set(answers(desk, phone(), one.lines)) == {"kept"}
    version = desk.store.version()
    assert set(answers(desk, phone(), one.lines)) == {"already"}
    assert desk.store.version() == version
    row = next(row for row in desk.snapshot().ground.visits if row.visit == visit)
    assert (row.apiary, row.visited_on, row.inspector, row.purpose) == ("N", date(2026, 7, 8), "I1", "sweep")
    assert (row.colonies_present, row.colonies_inspected, row.colonies_suspect) == (3, 3, 0)
    assert (row.disease, row.is_look) == (None, True)


def test_a_suspect_colony_opens_an_outbreak_at_once_and_one_near_by_joins_it(desk: Desk) -> None:
    one = pen()
    a_visit(one, "C", suspect="AFB")
    answers(desk, phone(), one.lines[:4])
    found = desk.snapshot().outbreaks
    assert [(row.outbreak, row.disease, [case.apiary for case in row.cases]) for row in found] == [
        ("AFB-2026-1", Disease.AFB, ["C"])
    ]
    event = found[0].cases[0].events[0]
    assert (event.kind, event.happened_on, event.who) == (EventKind.SUSPECTED, date(2026, 7, 8), "I1")
    answers(desk, phone(), one.lines)
    assert desk.snapshot().outbreaks == found
    two = pen("phone-2")
    a_visit(two, "N", suspect="AFB")
    a_visit(two, "Z", suspect="AFB")
    a_visit(two, "N", suspect="EFB")
    answers(desk, phone("phone-2"), two.lines)
    assert [(row.outbreak, [case.apiary for case in row.cases]) for row in desk.snapshot().outbreaks] == [
        ("AFB-2026-1", ["C", "N"]),
        ("AFB-2026-2", ["Z"]),
        ("EFB-2026-1", ["N"]),
    ]


def test_a_suspicion_that_comes_late_may_be_older_than_the_outbreak(desk: Desk) -> None:
    later, earlier = pen("phone-1"), pen("phone-2", day="2026-06-20")
    a_visit(later, "C", suspect="AFB")
    a_visit(earlier, "N", suspect="AFB")
    answers(desk, phone(), later.lines)
    answers(desk, phone("phone-2"), earlier.lines)
    (outbreak,) = desk.snapshot().outbreaks
    assert (outbreak.opened_on, len(outbreak.cases)) == (date(2026, 6, 20), 2)
    assert desk.store.refusals() == ()


def test_a_suspicion_without_a_disease_is_said(desk: Desk) -> None:
    one = pen()
    visit = one.name()
    one.begin(visit, "N")
    look(one, visit, "N", 4, "suspect")
    answers(desk, phone(), one.lines)
    assert [(row.what, row.why.key) for row in desk.store.refusals()] == [
        ("suspected", "fieldbook.no_disease_said")
    ]
    look(one, visit, "N", 4, "suspect", "EFB")
    answers(desk, phone(), one.lines)
    assert desk.store.refusals() == ()
    assert [row.outbreak for row in desk.snapshot().outbreaks] == ["EFB-2026-1"]


def test_a_suspicion_taken_back_stays_until_a_person_withdraws_it(desk: Desk) -> None:
    one = pen()
    visit = a_visit(one, "N", suspect="AFB")
    body = {"reason": "it was chilled brood", "kind": "colony_looked"}
    changed = {"colony": 1, "state": "clean", "disease": None}
    one.write("visit_amended", {**body, "body": changed}, visit=visit, apiary="N")
    answers(desk, phone(), one.lines[:-1])
    answers(desk, phone(), one.lines)
    (outbreak,) = desk.snapshot().outbreaks
    assert state_of(outbreak.cases[0]).value == "suspected"
    assert [row.why.key for row in desk.store.refusals()] == ["fieldbook.suspicion_gone"]
    outbreaks.record_event(
        desk, LEAD, outbreak.outbreak, "N", kind=EventKind.NOT_CONFIRMED, happened_on=date(2026, 7, 8)
    )
    row = next(row for row in desk.snapshot().ground.visits if row.visit == visit)
    assert (row.colonies_inspected, row.colonies_suspect, row.disease) == (3, 0, None)


def cleared_case(desk: Desk, *, found_on: date) -> str:
    """Open a case at C and clear it on the day after it was found."""
    opened = outbreaks.open_outbreak(
        desk, LEAD, disease=Disease.AFB, apiary="C", found_on=found_on, kind=EventKind.CONFIRMED
    )
    for kind in (EventKind.NOTICE_SERVED, EventKind.COLONIES_DESTROYED):
        outbreaks.record_event(desk, LEAD, opened.outbreak, "C", kind=kind, happened_on=found_on)
    return opened.outbreak


def test_a_whole_clean_reinspection_is_a_step_of_the_case(desk: Desk) -> None:
    name = cleared_case(desk, found_on=date(2026, 4, 1))
    one = pen()
    a_visit(one, "C", "reinspection")
    answers(desk, phone(), one.lines[:-1])
    assert desk.snapshot().outbreak(name).cases[0].events[-1].kind is EventKind.COLONIES_DESTROYED
    answers(desk, phone(), one.lines)
    answers(desk, phone(), one.lines)
    kinds = [event.kind for event in desk.snapshot().outbreak(name).cases[0].events]
    assert kinds.count(EventKind.REINSPECTED_CLEAN) == 1
    assert desk.store.refusals() == ()


def test_what_the_rules_refuse_stands_with_its_reason_and_is_tried_again(desk: Desk) -> None:
    one = pen()
    a_visit(one, "C", "reinspection")
    answers(desk, phone(), one.lines)
    assert [row.why.key for row in desk.store.refusals()] == ["fieldbook.no_open_case"]
    cleared_case(desk, found_on=date(2026, 4, 1))
    assert try_again(desk, LEAD) == ()
    (outbreak,) = desk.snapshot().outbreaks
    assert outbreak.cases[0].events[-1].kind is EventKind.REINSPECTED_CLEAN


def test_a_sample_handed_on_is_a_step_when_there_is_a_case(desk: Desk) -> None:
    one = pen()
    visit = a_visit(one, "N", suspect="AFB")
    taken = {"sample": "S-1", "colony": 1, "of": "brood_comb", "note": ""}
    one.lines.pop()
    one.number -= 1
    one.write("sample_taken", taken, visit=visit, apiary="N")
    one.sign(visit, "N")
    handed = {"sample": "S-1", "to": "Laboratory", "handed_at": "2026-07-08T08:00:00Z", "note": ""}
    one.write("sample_handed", handed, visit=visit, apiary="N")
    answers(desk, phone(), one.lines)
    (outbreak,) = desk.snapshot().outbreaks
    kinds = [event.kind for event in outbreak.cases[0].events]
    assert kinds == [EventKind.SUSPECTED, EventKind.SAMPLE_SENT]
    assert outbreak.cases[0].events[1].detail["sample"] == "S-1"


def report(one: Pen, visit: str, name: str, *, is_void: bool = False, other: str = "C") -> None:
    body = {
        "report": name,
        "direction": "in",
        "goods": "nuclei",
        "quantity": 2,
        "moved_on": "2026-05-20",
        "other": other,
        "other_said": "",
        "is_void": is_void,
    }
    one.write("keeper_said", body, visit=visit, apiary="N")


def test_what_the_keeper_said_is_a_move_until_it_is_taken_back(desk: Desk) -> None:
    one, two = pen(), pen("phone-2")
    first, second, name = one.name(), two.name(), one.name()
    one.begin(first, "N")
    report(one, first, name)
    answers(desk, phone(), one.lines)
    key = "2026-05-20|C|N|nuclei|2"
    assert [row.goods for row in desk.snapshot().ground.moves if row.move == key] == [Goods.NUCLEI]
    two.begin(second, "N")
    report(two, second, two.name())
    answers(desk, phone("phone-2"), two.lines)
    report(one, first, name, is_void=True)
    answers(desk, phone(), one.lines)
    assert [row.move for row in desk.snapshot().ground.moves].count(key) == 1, "the other visit still says so"
    two.write("visit_dropped", {"reason": "wrong apiary"}, visit=second, apiary="N")
    answers(desk, phone("phone-2"), two.lines)
    assert key not in [row.move for row in desk.snapshot().ground.moves]


def found(one: Pen, apiary: str = "F0000000a", colonies: int = 4) -> None:
    body = {"longitude": -0.1, "latitude": 60.0, "accuracy_m": 6, "colonies": colonies}
    said = {"keeper_name": "Ragna Holm", "keeper_phone": "01632 960009", "note": "behind the barn"}
    one.write("apiary_found", body | said, visit=None, apiary=apiary)


def test_a_visit_to_an_apiary_found_may_come_before_the_apiary(desk: Desk) -> None:
    one = pen()
    found(one)
    a_visit(one, "F0000000a", suspect="AFB")
    answers(desk, phone(), one.lines[1:])
    assert {row.why.key for row in desk.store.refusals()} == {"desk.no_such_apiary"}
    answers(desk, phone(), one.lines)
    assert desk.store.refusals() == ()
    kept = desk.snapshot()
    assert (kept.apiaries["F0000000a"].colonies, kept.keepers["KF0000000a"].name) == (4, "Ragna Holm")
    assert [row.apiary for row in kept.outbreaks[0].cases] == ["F0000000a"]


def test_an_apiary_that_the_desk_changed_or_merged_is_left_as_it_is(desk: Desk) -> None:
    one = pen()
    found(one)
    answers(desk, phone(), one.lines)
    found(one, colonies=5)
    answers(desk, phone(), one.lines)
    assert desk.snapshot().apiaries["F0000000a"].colonies == 5
    duplicates.merge(desk, LEAD, "apiary", "N", "F0000000a")
    found(one, colonies=6)
    visit = a_visit(one, "F0000000a")
    answers(desk, phone(), one.lines)
    assert "F0000000a" not in desk.snapshot().apiaries
    assert next(row for row in desk.snapshot().ground.visits if row.visit == visit).apiary == "N"
    assert [row.why.key for row in desk.store.refusals()] == ["fieldbook.found_changed"]
    assert try_again(desk, LEAD) == ()


def test_a_visit_dropped_takes_its_row_back(desk: Desk) -> None:
    one = pen()
    visit = one.name()
    one.begin(visit, "N")
    look(one, visit, "N", 1)
    answers(desk, phone(), one.lines)
    assert any(row.visit == visit for row in desk.snapshot().ground.visits)
    one.write("visit_dropped", {"reason": "wrong apiary"}, visit=visit, apiary="N")
    answers(desk, phone(), one.lines)
    assert not any(row.visit == visit for row in desk.snapshot().ground.visits)


def test_a_visit_dated_ahead_waits_with_its_reason(desk: Desk) -> None:
    one = pen(day="2031-01-01")
    a_visit(one, "N")
    answers(desk, phone(), one.lines)
    assert [row.why.key for row in desk.store.refusals()] == ["fieldbook.in_future"]


def test_what_cannot_be_read_is_kept_and_told(desk: Desk) -> None:
    one = pen()
    a_visit(one, "N")
    strange = {**one.lines[2], "kind": "moon_seen"}
    lines = [*one.lines[:2], strange, *one.lines[3:], 7, {"line": "x"}, {**one.lines[0], "number": 0}]
    taken = take_lines(desk, phone(), lines)
    said = {(row.answer, row.why.key if row.why else None) for row in taken.answers}
    assert ("set_aside", "fieldbook.unknown_kind") in said
    assert ("set_aside", "fieldbook.not_a_line") in said
    assert ("set_aside", "fieldbook.missing_field") in said
    assert ("set_aside", "fieldbook.bad_envelope") in said
    assert set(answers(desk, phone(), lines)) == {"already"}
    aside = desk.store.lines(states=[LineState.SET_ASIDE])
    assert len(aside) == 4
    with pytest.raises(RefusedError, match="cannot count"):
        decide_line(desk, LEAD, aside[0].key, take_in=True)


def test_a_name_used_for_another_content_is_set_aside(desk: Desk) -> None:
    one = pen()
    visit = a_visit(one, "N")
    other = {**one.lines[2], "body": {"colony": 1, "state": "suspect", "disease": "AFB"}}
    answers(desk, phone(), one.lines)
    assert answers(desk, phone(), [other, other]) == ["set_aside", "already"]
    (aside,) = desk.store.lines(states=[LineState.SET_ASIDE])
    assert desk.snapshot().outbreaks == ()
    decide_line(desk, LEAD, aside.key, take_in=False)
    assert [row.state for row in desk.store.lines(keys=[aside.key])] == [LineState.LEFT]
    decide_line(desk, LEAD, aside.key, take_in=True)
    assert [row.outbreak for row in desk.snapshot().outbreaks] == ["AFB-2026-1"]
    assert visit in {row.visit for row in desk.snapshot().ground.visits}


def test_a_revoked_phone_is_listened_to_and_set_aside(desk: Desk) -> None:
    one = pen()
    visit = a_visit(one, "N")
    answers(desk, phone(), one.lines[:2])
    revoked = replace(phone(), revoked_at=AT)
    assert answers(desk, revoked, one.lines) == ["already", "already", *["set_aside"] * 4]
    assert not any(row.visit == visit and row.colonies_inspected for row in desk.snapshot().ground.visits)
    for row in desk.store.lines(states=[LineState.SET_ASIDE]):
        decide_line(desk, LEAD, row.key, take_in=True)
    row = next(row for row in desk.snapshot().ground.visits if row.visit == visit)
    assert row.colonies_inspected == 3


def test_a_line_of_another_phone_is_set_aside(desk: Desk) -> None:
    one = pen("phone-2")
    a_visit(one, "N")
    assert set(answers(desk, phone("phone-1"), one.lines)) == {"set_aside"}


def test_deciding_needs_a_line_that_was_set_aside(desk: Desk) -> None:
    one = pen()
    a_visit(one, "N")
    answers(desk, phone(), one.lines)
    with pytest.raises(NotFoundError):
        decide_line(desk, LEAD, "nothing", take_in=True)
    with pytest.raises(RefusedError, match="counts already"):
        decide_line(desk, LEAD, one.lines[0]["line"], take_in=True)


def test_photos_are_wanted_until_they_are_whole(desk: Desk) -> None:
    one = pen()
    visit = one.name()
    one.begin(visit, "N")
    one.some(visit, "N", "photo_taken")
    photo = one.lines[1]["body"]["photo"]
    assert take_lines(desk, phone(), one.lines).photos_wanted == (photo,)
    assert take_lines(desk, phone(), one.lines).photos_wanted == (photo,)


@pytest.mark.parametrize("seed", range(12))
def test_order_parts_and_repetition_leave_the_same_record(seed: int) -> None:
    """Two phones' visits, in order or shuffled in parts and doubled, end in the same register and cases."""
    rng = random.Random(seed)
    pens = (pen("phone-1"), pen("phone-2", day="2026-07-02"))
    for one in pens:
        found(one, f"F0000000{one.device[-1]}")
        for apiary in ("N", "Z", f"F0000000{one.device[-1]}"):
            visit = a_visit(
                one, apiary, rng.choice(("sweep", "reinspection")), suspect=rng.choice(("AFB", None))
            )
            if rng.random() < 0.5:
                one.amend(visit, apiary, rng.choice(("colony_looked", "keeper_said", "colonies_counted")))

    def outcome(batches: list[tuple[Device, list[object]]]) -> tuple[object, ...]:
        desk = make_desk(small_ground())
        for device, lines in batches:
            answers(desk, device, lines)
        kept = desk.snapshot()
        cases = {
            (row.disease, case.apiary, event.event, event.kind, event.happened_on)
            for row in kept.outbreaks
            for case in row.cases
            for event in case.events
        }
        return kept.ground, cases, desk.store.refusals()

    in_order = outcome([(phone(one.device), list(one.lines)) for one in pens])
    batches: list[tuple[Device, list[object]]] = []
    for one in pens:
        lines = [*one.lines, *rng.sample(one.lines, 5)]
        rng.shuffle(lines)
        for start in range(0, len(lines), 4):
            batches.append((phone(one.device), list(lines[start : start + 4])))
    rng.shuffle(batches)
    shuffled = outcome(batches)
    assert shuffled[0] == in_order[0]
    assert set(in_order[1]) == set(shuffled[1])
    assert {(row.visit, row.what, row.why.key) for row in in_order[2]} == {
        (row.visit, row.what, row.why.key) for row in shuffled[2]
    }
