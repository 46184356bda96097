"""The calendar file against the letter of RFC 5545, and read back by the icalendar package.

Sources: RFC 5545 (Desruisseaux 2009), sections 3.1 (lines end in CRLF, none longer than 75 octets, folded by
CRLF and a blank), 3.3.4 (DATE), 3.3.5 form 2 (UTC), 3.3.11 (TEXT: backslash, comma, semicolon and newline are
escaped), 3.4 and 3.6 (one VCALENDAR with PRODID and VERSION 2.0), 3.6.1 (UID and DTSTAMP once, DTEND of an
all-day event after DTSTART), 3.6.6 (a DISPLAY alarm has ACTION, DESCRIPTION, TRIGGER), 3.8.1.11 (STATUS). From
memory of the standard, as laid out in its ABNF. The icalendar package also wrote the file: its reading back
is a check of content, the line-level checks here are independent of it.
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

import icalendar
import pytest

from broodsweep.constants import Disease
from broodsweep.outbreak import Due, Event, EventKind, Outbreak, add_event, due
from broodsweep.papers import calendar_of
from broodsweep.rulebook import load_books

BOOKS = load_books()
D1 = date(2026, 6, 1)
STAMP = datetime(2026, 6, 1, 8, 30, tzinfo=UTC)
AWKWARD = "Hof; Ost, \\ «Łąka» " + "ä" * 60

CONTENT_LINE = re.compile(
    r'^[A-Z0-9-]+(;[A-Z0-9-]+=("[^"\x00-\x08]*"|[^";:,\x00-\x08]+))*:[^\x00-\x08\x0a-\x1f\x7f]*$'
)
TEXT = re.compile(r"^([^\\;,]|\\[\\;,nN])*$")
MAY_STAND_ONCE = {"UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "STATUS", "TRANSP"}


def lines_of(book: str) -> tuple[Due, ...]:
    outbreak = Outbreak(outbreak="AFB-2026-1", disease=Disease.AFB, rulebook=book, opened_on=D1)
    for apiary in ("SK-001", AWKWARD):
        for kind in (EventKind.CONFIRMED, EventKind.COLONIES_DESTROYED):
            event = Event(
                event=f"{apiary}{kind}",
                apiary=apiary,
                kind=kind,
                happened_on=D1,
                recorded_at=STAMP,
                who="w",
            )
            outbreak = add_event(outbreak, event, BOOKS[book])
    return due(outbreak, BOOKS[book], date(2026, 6, 20))


@pytest.fixture(scope="module", params=sorted(BOOKS))
def data(request: pytest.FixtureRequest) -> bytes:
    return calendar_of(lines_of(request.param), stamp_at=STAMP)


def unfolded(data: bytes) -> list[str]:
    return data.decode("utf-8").replace("\r\n ", "").removesuffix("\r\n").split("\r\n")


def test_lines_end_in_crlf_and_hold_at_most_75_octets(data: bytes) -> None:
    assert data.endswith(b"\r\n")
    rows = data.split(b"\r\n")
    assert all(b"\r" not in row and b"\n" not in row for row in rows)
    assert max(len(row) for row in rows) <= 75
    assert any(row.startswith(b" ") for row in rows), "nothing was long enough to be folded"


def test_a_fold_never_cuts_a_letter_in_two(data: bytes) -> None:
    for row in data.split(b"\r\n"):
        row.decode("utf-8")


def test_every_content_line_is_well_formed(data: bytes) -> None:
    for row in unfolded(data):
        assert CONTENT_LINE.match(row), row


def test_text_is_escaped(data: bytes) -> None:
    texts = [row.partition(":")[2] for row in unfolded(data) if row.startswith(("SUMMARY", "DESCRIPTION"))]
    assert all(TEXT.match(text) for text in texts)
    assert any("Hof\\; Ost\\, \\\\ «Łąka»" in text for text in texts)


def test_components_nest_and_carry_what_they_must(data: bytes) -> None:
    rows = unfolded(data)
    assert (rows[0], rows[-1]) == ("BEGIN:VCALENDAR", "END:VCALENDAR")
    assert rows.count("VERSION:2.0") == 1 and sum(row.startswith("PRODID:") for row in rows) == 1
    stack: list[tuple[str, list[str]]] = []
    for row in rows:
        name = re.split("[:;]", row, maxsplit=1)[0]
        if name == "BEGIN":
            stack.append((row.partition(":")[2], []))
        elif name == "END":
            kind, names = stack.pop()
            assert row == f"END:{kind}"
            if kind == "VEVENT":
                assert {"UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "STATUS"} <= set(names)
                assert all(names.count(single) <= 1 for single in MAY_STAND_ONCE)
            if kind == "VALARM":
                assert sorted(names) == ["ACTION", "DESCRIPTION", "TRIGGER"]
        else:
            stack[-1][1].append(name)
    assert not stack


def test_days_instants_and_states_are_of_their_forms(data: bytes) -> None:
    rows = unfolded(data)
    for row in rows:
        if row.startswith(("DTSTART", "DTEND")):
            assert re.fullmatch(r"DT(START|END);VALUE=DATE:\d{8}", row), row
        if row.startswith("DTSTAMP"):
            assert row == "DTSTAMP:20260601T083000Z"
        if row.startswith("STATUS"):
            assert row.partition(":")[2] in {"TENTATIVE", "CONFIRMED", "CANCELLED"}
        if row.startswith("TRIGGER"):
            assert re.fullmatch(r"TRIGGER:-P(\d+D|(\d+D)?T\d+H)", row), row
    names = [row for row in rows if row.startswith("UID:")]
    assert len(names) == len(set(names))


def test_the_file_is_read_back_with_the_same_days(data: bytes) -> None:
    calendar = icalendar.Calendar.from_ical(data)
    found = list(calendar.walk("VEVENT"))
    assert len(found) == data.count(b"BEGIN:VEVENT") > 5
    for entry in found:
        start, end = entry.decoded("dtstart"), entry.decoded("dtend")
        assert type(start) is date and end - start == timedelta(days=1)
        assert entry.decoded("dtstamp") == STAMP
        assert not entry.errors
    assert any(AWKWARD in str(entry["summary"]) for entry in found)
