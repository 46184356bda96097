"""A line is read strictly; what is wrong with it is said."""

from __future__ import annotations

import random
from typing import Any

import pytest

from broodsweep.fieldbook import LineError, content_of, digest_of, envelope_of, read_line
from broodsweep.fieldbook.forms import BODIES

from .writing import KINDS, Pen

VISIT = "0197e0f0-0000-7000-8000-000000000001"


def a_line(kind: str = "colonies_counted") -> dict[str, Any]:
    pen = Pen("phone-1", random.Random(1))
    return pen.some(VISIT, "A7", kind)


@pytest.mark.parametrize("kind", sorted({*KINDS, "visit_begun", "visit_dropped"}))
def test_every_kind_is_read_and_every_field_of_it_is_needed(kind: str) -> None:
    line = a_line(kind)
    assert read_line(line).body == line["body"]
    assert set(line["body"]) == set(BODIES[kind])
    for name in line["body"]:
        body = {key: value for key, value in line["body"].items() if key != name}
        with pytest.raises(LineError, match="lacks"):
            read_line({**line, "body": body})
        with pytest.raises(LineError):
            read_line({**line, "body": {**line["body"], name: {"strange": object}}})


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("line", "A7"),
        ("line", VISIT.upper()),
        ("device", ""),
        ("number", 0),
        ("number", True),
        ("number", 1.5),
        ("visit", "V1"),
        ("written_at", "2026-07-08T10:00:00"),
        ("written_at", "yesterday"),
        ("body", []),
    ],
)
def test_a_bad_envelope_is_named(name: str, value: object) -> None:
    with pytest.raises(LineError, match=name):
        read_line({**a_line(), name: value})


def test_more_fields_than_the_form_are_kept() -> None:
    line = a_line()
    line["body"]["of_which_nuclei"] = 2
    assert read_line(line).body["of_which_nuclei"] == 2


def test_what_cannot_be_read_still_counts_by_its_name() -> None:
    line = {**a_line(), "kind": "moon_seen"}
    found = envelope_of(line)
    assert found is not None
    assert (found.line, found.kind, found.body) == (line["line"], "unread", {})
    assert envelope_of({"line": line["line"]}) is None
    assert envelope_of(7) is None


@pytest.mark.parametrize("value", [float("nan"), float("inf"), "\ud800"])
def test_what_json_cannot_carry_is_refused(value: object) -> None:
    with pytest.raises(LineError):
        content_of({"line": value})


def test_a_line_longer_than_any_visit_needs_is_refused() -> None:
    line = a_line("note_written")
    line["body"]["more"] = "x" * 200_000
    with pytest.raises(LineError, match="longer"):
        read_line(line)


def test_an_amendment_stands_for_a_whole_body_of_its_kind() -> None:
    line = a_line()
    line["kind"] = "visit_amended"
    inner = dict(line["body"])
    line["body"] = {"reason": "miscounted", "kind": "colonies_counted", "body": inner}
    assert read_line(line).body["body"] == inner
    for kind, body in (("visit_signed", inner), ("colonies_counted", {}), ("moon_seen", inner)):
        with pytest.raises(LineError):
            read_line({**line, "body": {"reason": "", "kind": kind, "body": body}})


def test_the_digest_is_the_sha256_of_the_names_joined_by_a_line_feed() -> None:
    """Made outside: printf 'a\\nb' | sha256sum"""
    assert digest_of(["a", "b"]) == "7e18f737311b2dc3b2f269dd78396b0351f14fb66efa879f768cb23181883c78"
