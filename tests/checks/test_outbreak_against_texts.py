"""Due dates of whole cases against the worked days of the texts.

Source: the trade reference of the project (25 November 2026), check table of section 11; the number of each
check and the source stand beside it. Status there: computed from passages that were read. Exact.
"""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from broodsweep.constants import Clearance, Disease
from broodsweep.outbreak import (
    Due,
    DueState,
    Event,
    EventKind,
    Outbreak,
    StepRefusedError,
    add_event,
    due,
    outbreaks_from_records,
)
from broodsweep.register import Removal, Visit
from broodsweep.rulebook import load_books

BOOKS = load_books()
E = EventKind
D1 = date(2026, 6, 1)


def make(book: str, disease: Disease, *steps: tuple[EventKind, date]) -> Outbreak:
    outbreak = Outbreak(
        outbreak="X-1", disease=disease, rulebook=book, opened_on=min(day for _, day in steps)
    )
    for number, (kind, day) in enumerate(steps):
        event = Event(
            event=str(number),
            apiary="A",
            kind=kind,
            happened_on=day,
            recorded_at=datetime(2028, 1, 1, tzinfo=UTC),
            who="w",
        )
        outbreak = add_event(outbreak, event, BOOKS[book])
    return outbreak


def line(outbreak: Outbreak, key: str, on: date) -> Due:
    (found,) = [row for row in due(outbreak, BOOKS[outbreak.rulebook], on) if row.key == key]
    return found


def test_17_six_weeks_after_1_june_2026_are_13_july() -> None:
    # S46, Scottish EFB control plan 2020: a clear inspection six weeks after diagnosis.
    outbreak = make("scotland", Disease.EFB, (E.CONFIRMED, D1), (E.COLONIES_DESTROYED, date(2026, 6, 9)))
    found = line(outbreak, "reinspection", date(2026, 6, 10))
    assert (found.earliest_on, found.due_on) == (date(2026, 7, 13), date(2026, 7, 13))
    # Practice counts from the action instead (S75).
    outbreak = make("common-practice", Disease.AFB, (E.CONFIRMED, D1), (E.COLONIES_DESTROYED, D1))
    assert line(outbreak, "reinspection", D1).due_on == date(2026, 7, 13)


def test_18_switzerland_destroyed_1_june_efb_lifted_31_july_at_the_earliest() -> None:
    # S87, TSV: 60 days after destruction if re-checks are clean.
    outbreak = make("switzerland", Disease.EFB, (E.CONFIRMED, D1), (E.COLONIES_DESTROYED, D1))
    assert line(outbreak, "release", D1).earliest_on == date(2026, 7, 31)


def test_19_switzerland_afb_found_1_june_destroyed_by_11_june_zone_by_1_july() -> None:
    # S87, TSV art. 271 and cantonal orders.
    outbreak = make("switzerland", Disease.AFB, (E.CONFIRMED, D1))
    assert line(outbreak, "clearance", D1).due_on == date(2026, 6, 11)
    assert line(outbreak, "zone_examined", D1).due_on == date(2026, 7, 1)


def test_20_germany_killed_1_june_repeat_1_august_to_1_march() -> None:
    # S85, BienSeuchV § 11(1).
    outbreak = make("germany", Disease.AFB, (E.CONFIRMED, D1), (E.COLONIES_DESTROYED, D1))
    found = line(outbreak, "reinspection", D1)
    assert (found.earliest_on, found.due_on) == (date(2026, 8, 1), date(2027, 3, 1))


def test_germany_examines_the_zone_at_once_and_releases_only_after_acceptance() -> None:
    # S85, BienSeuchV §§ 11(1), 12.
    outbreak = make("germany", Disease.AFB, (E.CONFIRMED, D1))
    found = line(outbreak, "zone_examined", D1)
    assert found.is_at_once and found.due_on is None and found.state is DueState.DUE
    assert line(outbreak, "disinfection_accepted", D1).rule.citation.startswith("BienSeuchV 2004 § 12")


def test_27_new_zealand_learnt_3_march_told_and_destroyed_by_10_march() -> None:
    # S111, AFB reporting and destruction form; a case is a colony with any clinical sign (S89).
    learnt_on = date(2026, 3, 3)
    outbreak = make("new-zealand", Disease.AFB, (E.CONFIRMED, learnt_on))
    assert line(outbreak, "clearance", learnt_on).due_on == date(2026, 3, 10)
    assert line(outbreak, "notify", learnt_on).due_on == date(2026, 3, 10)


def test_england_shall_destroy_american_and_may_treat_european_foulbrood() -> None:
    # S77, SI 2006/342 art. 7(2) and 7(3).
    treated = (E.CONFIRMED, D1), (E.COLONIES_TREATED, D1)
    make("england-and-wales", Disease.EFB, *treated)
    with pytest.raises(StepRefusedError, match=r"allows only destruction .*art\. 7\(2\)"):
        make("england-and-wales", Disease.AFB, *treated)


def test_the_same_days_come_from_plain_tables() -> None:
    # 18, 19, 20 again, from a visit and a removal of 1 June.
    visit = Visit(
        visit="V1",
        apiary="A",
        visited_on=D1,
        colonies_inspected=5,
        colonies_confirmed=1,
        disease=Disease.AFB,
    )
    removal = Removal(apiary="A", removed_on=D1, disease=Disease.AFB, colonies=1, how=Clearance.DESTROYED)
    for book, key, due_on in (
        ("switzerland", "zone_examined", date(2026, 7, 1)),
        ("germany", "reinspection", date(2027, 3, 1)),
        ("common-practice", "reinspection", date(2026, 7, 13)),
    ):
        (told,) = outbreaks_from_records([visit], [removal], BOOKS[book], near=lambda apiary, _: {apiary})
        assert line(told, key, date(2026, 6, 2)).due_on == due_on
    (found,) = outbreaks_from_records([visit], [], BOOKS["switzerland"], near=lambda apiary, _: {apiary})
    assert line(found, "clearance", D1).due_on == date(2026, 6, 11)
