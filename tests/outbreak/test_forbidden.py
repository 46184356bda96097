"""What may not be moved: since when, where, by which rule, until what."""

from __future__ import annotations

from datetime import date

from tests.outbreak.conftest import Write

from broodsweep import words
from broodsweep.constants import Disease, Goods
from broodsweep.outbreak import Direction, EventKind, forbidden
from broodsweep.rulebook import Rulebook, Standing

E = EventKind
D1 = date(2026, 6, 1)


def test_from_the_suspicion_nothing_leaves_where_the_law_says_so(
    write: Write, books: dict[str, Rulebook]
) -> None:
    outbreak = write((E.SUSPECTED, D1), (E.CONFIRMED, date(2026, 6, 5)))
    bans = {ban.key: ban for ban in forbidden(outbreak, books["england-and-wales"], date(2026, 6, 6))}
    assert set(bans) == {"standstill_out", "standstill_in"}
    out = bans["standstill_out"]
    assert (out.since_on, out.goods, out.radius_m) == (D1, frozenset(Goods), None)
    assert out.rule.standing is Standing.LAW and "arts 4 and 6" in words.render(out.why)
    assert "until it is lifted by an authorised person" in words.render(out.why)
    assert bans["standstill_in"].rule.is_fallback


def test_where_only_the_notice_binds_nothing_is_forbidden_before_it(
    write: Write, books: dict[str, Rulebook]
) -> None:
    outbreak = write((E.CONFIRMED, D1), (E.NOTICE_SERVED, date(2026, 6, 3)), book="california")
    assert forbidden(outbreak, books["california"], date(2026, 6, 2)) == ()
    assert {ban.since_on for ban in forbidden(outbreak, books["california"], date(2026, 6, 3))} == {
        date(2026, 6, 3)
    }


def test_the_german_zone_is_closed_both_ways(write: Write, books: dict[str, Rulebook]) -> None:
    outbreak = write((E.SUSPECTED, D1), (E.CONFIRMED, date(2026, 6, 5)), book="germany")
    zone = [ban for ban in forbidden(outbreak, books["germany"], date(2026, 6, 6)) if ban.radius_m]
    assert {(ban.direction, ban.radius_m, ban.since_on) for ban in zone} == {
        (Direction.OUT, 1000.0, date(2026, 6, 5)),
        (Direction.IN, 1000.0, date(2026, 6, 5)),
    }
    assert all(ban.rule.standing is Standing.LAW for ban in zone)


def test_the_ban_ends_with_the_case_and_outlasts_a_positive_reinspection(
    write: Write, books: dict[str, Rulebook]
) -> None:
    book = books["common-practice"]
    none = write((E.SUSPECTED, D1), (E.NOT_CONFIRMED, date(2026, 6, 9)))
    assert forbidden(none, book, date(2026, 6, 8)) and not forbidden(none, book, date(2026, 6, 9))
    again = write((E.CONFIRMED, D1), (E.COLONIES_DESTROYED, D1), (E.REINSPECTED_POSITIVE, date(2026, 7, 14)))
    assert {ban.since_on for ban in forbidden(again, book, date(2026, 7, 15))} == {D1}


def test_a_record_says_what_why_and_until(write: Write, books: dict[str, Rulebook]) -> None:
    for name, book in books.items():
        for disease in Disease:
            outbreak = write((E.CONFIRMED, D1), (E.NOTICE_SERVED, D1), book=name, disease=disease)
            for ban in forbidden(outbreak, book, D1):
                record = ban.as_record()
                assert {"what", "why", "until", "goods", "citation", "since_on"} <= set(record)
                assert "{" not in words.render(ban.what) + words.render(ban.why)
