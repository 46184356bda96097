"""What lines add up to: by hand, and whatever the order in which they come."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from broodsweep.fieldbook import UNREAD, Line, VisitNow, envelope_of, fold, fold_found, fold_visit, read_line

from .writing import VECTORS, Pen, random_script, written_vectors

VISIT = "0197e0f0-0000-7000-8000-000000000001"


def pen(device: str = "phone-1") -> Pen:
    return Pen(device, random.Random(device))


def looked(colony: int, state: str = "clean", disease: str | None = None) -> dict[str, object]:
    return {"colony": colony, "state": state, "disease": disease}


def folded(*pens: Pen) -> VisitNow:
    return fold_visit(VISIT, [read_line(line) for each in pens for line in each.lines])


def test_a_later_line_takes_the_place_of_an_earlier_one() -> None:
    one = pen()
    one.begin(VISIT, "A7")
    for body in (looked(2, "suspect", "AFB"), looked(1), looked(2)):
        one.write("colony_looked", body, visit=VISIT, apiary="A7")
    visit = folded(one)
    assert [(row.colony, row.state, row.disease) for row in visit.colonies] == [
        (1, "clean", None),
        (2, "clean", None),
    ]
    assert (visit.apiary, visit.purpose, visit.visited_on) == ("A7", "sweep", "2026-07-08")
    assert not visit.is_whole


def test_a_sign_taken_back_is_gone_and_a_void_test_is_left_out() -> None:
    one = pen()
    one.begin(VISIT, "A7")
    for seen in (True, None):
        one.write(
            "sign_seen", {"colony": 1, "sign": "black_scale", "is_present": seen}, visit=VISIT, apiary="A7"
        )
    test = {"test": one.name(), "colony": 1, "reading": {"test": "ropiness"}, "is_void": False}
    one.write("test_done", test, visit=VISIT, apiary="A7")
    assert folded(one).colonies[0].tests == (test,)
    one.write("test_done", {**test, "is_void": True}, visit=VISIT, apiary="A7")
    assert folded(one).colonies[0].tests == ()
    assert folded(one).colonies[0].signs == {}


def test_the_first_signature_closes_the_visit() -> None:
    one = pen()
    one.begin(VISIT, "A7")
    one.write("colony_looked", looked(1), visit=VISIT, apiary="A7")
    one.sign(VISIT, "A7")
    late = one.write("colony_looked", looked(1, "suspect", "AFB"), visit=VISIT, apiary="A7")
    second = one.sign(VISIT, "A7")
    visit = folded(one)
    assert visit.is_whole
    assert visit.colonies[0].state == "clean"
    assert visit.late == (late["line"], second["line"])


def test_an_amendment_counts_after_the_signature_and_says_why() -> None:
    one = pen()
    one.begin(VISIT, "A7")
    one.write("colony_looked", looked(1), visit=VISIT, apiary="A7")
    one.sign(VISIT, "A7")
    body = {"reason": "wrong hive", "kind": "colony_looked", "body": looked(1, "suspect", "EFB")}
    line = one.write("visit_amended", body, visit=VISIT, apiary="A7")
    visit = folded(one)
    assert visit.is_whole
    assert (visit.colonies[0].state, visit.colonies[0].disease) == ("suspect", "EFB")
    assert [(row.number, row.reason, row.kind) for row in visit.amended] == [
        (line["number"], "wrong hive", "colony_looked")
    ]


def test_a_visit_is_in_hand_until_every_line_before_the_signature_is_there() -> None:
    one = pen()
    one.begin(VISIT, "A7")
    missing = one.write("note_written", {"text": "Dog."}, visit=VISIT, apiary="A7")
    one.sign(VISIT, "A7")
    lines = [read_line(line) for line in one.lines]
    assert fold_visit(VISIT, lines).is_whole
    assert not fold_visit(VISIT, [row for row in lines if row.line != missing["line"]]).is_whole


def test_another_line_in_place_of_a_missing_one_does_not_make_it_whole() -> None:
    one = pen()
    one.begin(VISIT, "A7")
    one.write("note_written", {"text": "Dog."}, visit=VISIT, apiary="A7")
    one.sign(VISIT, "A7")
    lines = [read_line(line) for line in one.lines]
    changed = Line(**{**lines[1].__dict__, "line": one.name()})
    assert not fold_visit(VISIT, [lines[0], changed, lines[2]]).is_whole


def test_lines_of_another_phone_are_kept_aside() -> None:
    one, other = pen(), pen("phone-2")
    one.begin(VISIT, "A7")
    foreign = other.write("colony_looked", looked(1, "suspect", "AFB"), visit=VISIT, apiary="A7")
    one.sign(VISIT, "A7")
    visit = folded(one, other)
    assert (visit.device, visit.foreign, visit.colonies) == ("phone-1", (foreign["line"],), ())
    assert visit.is_whole


def test_a_line_that_cannot_be_read_counts_towards_the_signature_only() -> None:
    one = pen()
    one.begin(VISIT, "A7")
    strange = one.write("moon_seen", {"phase": 0.5}, visit=VISIT, apiary="A7")
    one.sign(VISIT, "A7")
    unread = envelope_of(strange)
    assert unread is not None
    assert unread.kind == UNREAD
    lines = [read_line(line) for line in one.lines if line is not strange]
    assert not fold_visit(VISIT, lines).is_whole
    assert fold_visit(VISIT, [*lines, unread]).is_whole


def test_without_its_first_line_a_visit_says_neither_day_nor_purpose() -> None:
    one = pen()
    one.write("colony_looked", looked(1), visit=VISIT, apiary="A7")
    visit = folded(one)
    assert (visit.apiary, visit.purpose, visit.visited_on) == ("A7", None, None)


def test_samples_keep_everyone_through_whose_hands_they_went() -> None:
    one = pen()
    one.begin(VISIT, "A7")
    taken = {"sample": "S-1", "colony": 1, "of": "larva", "note": ""}
    one.write("sample_taken", taken, visit=VISIT, apiary="A7")
    one.sign(VISIT, "A7")
    for to in ("Courier", "Laboratory"):
        handed = {"sample": "S-1", "to": to, "handed_at": "2026-07-08T16:00:00Z", "note": ""}
        one.write("sample_handed", handed, visit=VISIT, apiary="A7")
    visit = folded(one)
    assert [row["to"] for row in visit.samples[0].handed] == ["Courier", "Laboratory"]
    assert visit.late == ()


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), shuffle=st.randoms(use_true_random=False))
def test_neither_order_nor_repetition_changes_what_lines_add_up_to(seed: int, shuffle: random.Random) -> None:
    script = random_script(seed)
    other = [*script, *shuffle.sample(script, len(script) // 2)]
    shuffle.shuffle(other)
    first, second = ([read_line(line) for line in rows] for rows in (script, other))
    assert fold(first) == fold(second)
    assert fold_found(first) == fold_found(second)


def test_the_vectors_for_the_phone_are_fresh() -> None:
    """Write them anew with: python -m tests.fieldbook.writing"""
    assert VECTORS.read_text(encoding="utf-8") == written_vectors()
