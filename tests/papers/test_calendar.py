"""The calendar file: what is in it, by a reader of our own that keeps to the letter of RFC 5545."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from broodsweep import words
from broodsweep.constants import Disease
from broodsweep.outbreak import Due, DueState, Event, EventKind, Outbreak, add_event, due
from broodsweep.papers import calendar_of
from broodsweep.rulebook import load_books

BOOKS = load_books()
D1 = date(2026, 6, 1)
STAMP = datetime(2026, 6, 1, 8, 30, tzinfo=UTC)


def lines_of(book: str = "germany", apiary: str = "SK-001", on: date = D1) -> tuple[Due, ...]:
    outbreak = Outbreak(outbreak="AFB-2026-1", disease=Disease.AFB, rulebook=book, opened_on=D1)
    for number, kind in enumerate((EventKind.CONFIRMED, EventKind.COLONIES_DESTROYED)):
        event = Event(event=str(number), apiary=apiary, kind=kind, happened_on=D1, recorded_at=STAMP, who="w")
        outbreak = add_event(outbreak, event, BOOKS[book])
    return due(outbreak, BOOKS[book], on)


def entries(data: bytes) -> list[dict[str, Any]]:
    """Read the entries, with their alarms, by unfolding and unescaping as RFC 5545 3.1 and 3.3.11 say."""
    found: list[dict[str, Any]] = []
    stack: list[str] = []
    for row in data.decode().replace("\r\n ", "").split("\r\n"):
        if not row:
            continue
        name, _, value = row.partition(":")
        if name == "BEGIN":
            stack.append(value)
            if value == "VEVENT":
                found.append({"alarms": []})
        elif name == "END":
            assert stack.pop() == value
        elif stack[-1] == "VEVENT":
            assert name not in found[-1]
            found[-1][name] = unescape(value)
        elif stack[-1] == "VALARM" and name == "TRIGGER":
            found[-1]["alarms"].append(value)
    assert not stack
    return found


def unescape(value: str) -> str:
    out, at = [], 0
    while at < len(value):
        if value[at] == "\\":
            out.append({"n": "\n", "N": "\n"}.get(value[at + 1], value[at + 1]))
            at += 2
        else:
            out.append(value[at])
            at += 1
    return "".join(out)


def test_each_line_with_a_day_is_an_all_day_entry_on_it() -> None:
    lines = lines_of()
    found = entries(calendar_of(lines, stamp_at=STAMP))
    opened = next(line for line in lines if line.key == "reinspection")
    assert (opened.earliest_on, opened.due_on) == (date(2026, 8, 1), date(2027, 3, 1))
    about = [row for row in found if "Re-inspect" in row["SUMMARY"]]
    assert {row["DTSTART;VALUE=DATE"] for row in about} == {"20260801", "20270301"}
    assert {row["DTEND;VALUE=DATE"] for row in about} == {"20260802", "20270302"}
    assert all(row["DTSTAMP"] == "20260601T083000Z" for row in found)
    assert any("Counts from 1 Aug 2026, last day 1 Mar 2027." in row["DESCRIPTION"] for row in about)
    assert all("BienSeuchV 2004 § 11(1)" in row["DESCRIPTION"] for row in about)
    assert {row["STATUS"] for row in about} == {"TENTATIVE"}


def test_names_are_stable_unlike_and_outlast_the_state() -> None:
    first = entries(calendar_of(lines_of(), stamp_at=STAMP))
    again = entries(calendar_of(lines_of(on=date(2026, 12, 1)), stamp_at=STAMP + timedelta(days=180)))
    other = entries(calendar_of(lines_of(apiary="SK-002"), stamp_at=STAMP))
    names = {row["UID"] for row in first}
    assert len(names) == len(first)
    assert {row["UID"] for row in again} == names
    assert not {row["UID"] for row in other} & names


def test_what_waits_for_a_step_has_no_entry_and_what_is_at_once_has_the_day_it_began() -> None:
    lines = lines_of()
    found = {row["SUMMARY"]: row for row in entries(calendar_of(lines, stamp_at=STAMP))}
    waiting = [line for line in lines if line.key == "disinfection_accepted"]
    assert waiting[0].due_on is None and waiting[0].state is DueState.NOT_YET_POSSIBLE
    assert not any("accepted" in summary for summary in found)
    notice = found["SK-001: Serve the standstill notice"]
    assert notice["DTSTART;VALUE=DATE"] == "20260601" and notice["alarms"] == []
    assert "At once, since 1 Jun 2026." in notice["DESCRIPTION"]


def test_alarms_sound_before_and_not_for_what_is_done() -> None:
    found = entries(calendar_of(lines_of("switzerland"), stamp_at=STAMP))
    zone = next(row for row in found if "Examine all colonies" in row["SUMMARY"])
    assert zone["alarms"] == ["-P7D", "-PT15H"] and zone["STATUS"] == "CONFIRMED"
    done = [row for row in found if row["SUMMARY"].startswith("Done: ")]
    assert done and all(row["alarms"] == [] for row in done)
    own = entries(calendar_of(lines_of("switzerland"), stamp_at=STAMP, alarms=[timedelta(days=2)]))
    assert next(row for row in own if "Examine all" in row["SUMMARY"])["alarms"] == ["-P2D"]


def test_sentences_are_in_the_language_asked_for() -> None:
    found = entries(calendar_of(lines_of(), stamp_at=STAMP, locale=words.PSEUDO))
    assert all("Re-inspect" not in row["SUMMARY"] for row in found)


def test_a_stamp_without_a_time_zone_is_a_wrong_call() -> None:
    with pytest.raises(ValueError, match="Expected stamp_at with a time zone"):
        calendar_of((), stamp_at=datetime(2026, 6, 1))


NAMES = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp")), min_size=1, max_size=120
)


@settings(max_examples=60, deadline=None)
@given(NAMES)
def test_any_name_of_an_apiary_comes_back_as_it_was(apiary: str) -> None:
    found = entries(calendar_of(lines_of(apiary=apiary), stamp_at=STAMP))
    assert any(row["SUMMARY"] == f"{apiary}: Serve the standstill notice" for row in found)
