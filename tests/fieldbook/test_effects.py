"""What should follow from a visit, and two looks at one apiary."""

from __future__ import annotations

import random
from datetime import UTC, date
from typing import Any

from broodsweep.constants import Disease, Goods
from broodsweep.fieldbook import (
    FoundNow,
    VisitNow,
    effects_of,
    fold_visit,
    found_rows,
    meetings,
    read_line,
)

from .writing import Pen

VISIT = "0197e0f0-0000-7000-8000-000000000001"


def folded(
    *lines: tuple[str, dict[str, Any]], purpose: str = "sweep", sign: bool = True, device: str = "p"
) -> VisitNow:
    pen = Pen(device, random.Random(device))
    visit = VISIT if device == "p" else pen.name()
    pen.begin(visit, "A7", purpose)
    for kind, body in lines:
        pen.write(kind, body, visit=visit, apiary="A7")
    if sign:
        pen.sign(visit, "A7")
    return fold_visit(visit, [read_line(line) for line in pen.lines])


def looked(colony: int, state: str = "clean", disease: str | None = None) -> tuple[str, dict[str, Any]]:
    return ("colony_looked", {"colony": colony, "state": state, "disease": disease})


def test_nothing_follows_before_colonies_were_counted_or_looked_at() -> None:
    assert effects_of(folded(sign=False), inspector="I1").row is None
    row = effects_of(folded(("colonies_counted", {"present": 0})), inspector="I1").row
    assert row is not None
    assert (row.colonies_present, row.colonies_inspected, row.is_look) == (0, 0, True)


def test_a_hive_that_was_not_opened_is_not_inspected() -> None:
    row = effects_of(
        folded(looked(1), looked(2, "not_opened"), looked(3, "suspect", "EFB")), inspector="I1"
    ).row
    assert row is not None
    assert (row.colonies_inspected, row.colonies_suspect, row.disease) == (2, 1, Disease.EFB)


def test_more_looked_at_than_counted_counts_as_many_as_were_looked_at() -> None:
    visit = folded(("colonies_counted", {"present": 1}), looked(1), looked(2))
    row = effects_of(visit, inspector=None).row
    assert row is not None
    assert (row.colonies_present, row.colonies_inspected) == (2, 2)


def test_each_disease_suspected_is_one_wish_named_by_visit_and_disease() -> None:
    visit = folded(looked(1, "suspect", "AFB"), looked(2, "suspect", "AFB"), looked(3, "suspect", "EFB"))
    wishes = effects_of(visit, inspector=None).wishes
    assert [(row.kind, row.disease) for row in wishes] == [("suspected", "AFB"), ("suspected", "EFB")]
    again = effects_of(folded(looked(1, "suspect", "AFB"), sign=False), inspector=None).wishes
    assert again[0].name == wishes[0].name
    row = effects_of(visit, inspector=None).row
    assert row is not None
    assert row.disease is Disease.AFB, "the disease of most colonies"


def test_a_reinspection_counts_when_it_is_whole_clean_and_something_was_opened() -> None:
    def kinds(visit: VisitNow) -> list[str]:
        return [row.kind for row in effects_of(visit, inspector=None).wishes]

    assert kinds(folded(looked(1), purpose="reinspection")) == ["reinspected_clean"]
    assert kinds(folded(("colonies_counted", {"present": 0}), purpose="reinspection")) == [
        "reinspected_clean"
    ]
    assert kinds(folded(looked(1), purpose="reinspection", sign=False)) == []
    assert kinds(folded(looked(1, "not_opened"), purpose="reinspection")) == []
    assert kinds(folded(looked(1), purpose="sweep")) == []
    assert kinds(folded(looked(1, "suspect", "AFB"), purpose="reinspection")) == ["suspected"]


def report(**changes: Any) -> tuple[str, dict[str, Any]]:
    body = {
        "report": "0197e0f0-0000-7000-8000-00000000000a",
        "direction": "out",
        "goods": "nuclei",
        "quantity": 2,
        "moved_on": "2026-05-03",
        "other": "A9",
        "other_said": "",
        "is_void": False,
    }
    return ("keeper_said", body | changes)


def test_a_report_with_a_day_and_an_apiary_is_a_move() -> None:
    (move,) = effects_of(folded(report()), inspector=None).moves
    assert (move.from_apiary, move.to_apiary, move.goods, move.quantity) == ("A7", "A9", Goods.NUCLEI, 2.0)
    for lacking in ({"moved_on": None}, {"other": None}, {"is_void": True}):
        assert effects_of(folded(report(**lacking)), inspector=None).moves == ()
    nowhere = effects_of(folded(report(other="A7")), inspector=None)
    assert (nowhere.moves, [row.why.key for row in nowhere.unmet]) == ((), ["fieldbook.move_to_itself"])


def test_merged_apiaries_are_named_by_the_key_that_stayed() -> None:
    found = effects_of(
        folded(report(), looked(1)), inspector=None, key_of=lambda key: {"A7": "B1", "A9": "B2"}.get(key, key)
    )
    assert found.row is not None
    assert (found.row.apiary, found.moves[0].from_apiary, found.moves[0].to_apiary) == ("B1", "B1", "B2")


def test_the_day_of_a_handing_over_is_the_day_where_the_desk_stands() -> None:
    taken = ("sample_taken", {"sample": "S", "colony": 1, "of": "larva", "note": ""})
    handed = (
        "sample_handed",
        {"sample": "S", "to": "Lab", "handed_at": "2026-07-08T23:30:00-02:00", "note": ""},
    )
    (wish,) = effects_of(folded(taken, handed), inspector=None, zone=UTC).wishes
    assert (wish.kind, wish.happened_on) == ("sample_sent", date(2026, 7, 9))


def test_an_apiary_found_is_known_as_well_as_the_receiver_knew_it() -> None:
    body = {"longitude": 0.5, "latitude": 60.5, "accuracy_m": 30, "colonies": 3}
    said = {"keeper_name": "", "keeper_phone": "01632 960009", "note": "behind the barn"}
    apiary, keeper = found_rows(
        FoundNow(apiary="F1234abcd", device="p", found_at="2026-07-08T10:00:00Z", body=body | said),
        inspector="I1",
    )
    assert (apiary.place.precision_m, apiary.notes, keeper) == (60.0, "behind the barn 01632 960009", None)


def test_two_looks_at_one_apiary_are_shown_with_what_differs() -> None:
    one = folded(("colonies_counted", {"present": 3}), looked(1), looked(2, "suspect", "AFB"))
    two = folded(("colonies_counted", {"present": 4}), looked(1), looked(2), device="q")
    (met,) = meetings([one, two])
    assert set(met.visits) == {one.visit, two.visit}
    assert [row.key for row in met.differences] == [
        "fieldbook.differ_present",
        "fieldbook.differ_clean",
        "fieldbook.differ_suspect",
        "fieldbook.differ_colonies",
    ]
    same = folded(("colonies_counted", {"present": 3}), looked(1), looked(2, "suspect", "AFB"), device="q")
    assert meetings([one, same])[0].differences == ()
    assert meetings([one]) == ()
