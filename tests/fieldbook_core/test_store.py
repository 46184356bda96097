"""What the phone keeps: numbers without a gap, nothing half-written, nothing readable without the PIN."""

from __future__ import annotations

import re

from tests.fieldbook_core.conftest import FIELD, Ask


def test_numbers_have_no_gap_when_two_tabs_write_at_once(core: Ask) -> None:
    """In Node there are no Web Locks: the transaction alone has to keep the two apart."""
    found = core("numbers", count=60)
    assert found["numbers"] == list(range(1, 61))
    assert found["names"] == found["unsent"] == 60
    assert found["isHidden"]


def test_a_tab_that_reads_while_another_writes_misses_no_line(core: Ask) -> None:
    assert core("seenElsewhere", count=200) == {"written": 200, "seen": 200}


def test_a_full_phone_says_that_nothing_was_recorded_and_writes_nothing_of_it(core: Ask) -> None:
    found = core("full")
    assert found["said"] == found["saidPhoto"] == "fieldbook.phone_full"
    assert found["counts"] == [1, 1, 0]
    assert found["next"] == 2  # no gap where the refused line would have stood


def test_a_full_phone_can_still_let_go_of_what_the_desk_has(core: Ask) -> None:
    found = core("fullAnswered")
    assert found == {"unsent": [4, 5], "is": [None, None, "set_aside", None, None]}


def test_a_line_that_the_desk_would_not_take_is_refused_at_once(core: Ask) -> None:
    assert core("tooLong") == "fieldbook.phone_line_too_long"


def test_an_older_books_data_is_read_by_the_newer_one(core: Ask) -> None:
    found = core("migration")
    assert found["version"] == [1, 2, 2]
    assert set(found["after"]) - set(found["before"]) == {"drafts"}
    assert found["texts"] == ["n1", "n2", "n3", "new"]
    assert found["is"] == ["kept", "kept", None, None]
    assert found["next"] == 4
    assert found["isEnrolled"]


def test_a_book_that_was_renewed_elsewhere_records_no_more_and_says_so(core: Ask) -> None:
    assert core("renewed") == {"told": 1, "said": "fieldbook.phone_renewed", "kept": 1}


def test_clearing_leaves_the_words_and_nothing_else(core: Ask) -> None:
    found = core("cleared")
    assert {name: count for name, count in found["left"].items() if count} == {"singles": 1}
    assert found["words"] == {"locale": "en", "forms": {"a": ["b"]}}


def test_the_vault_opens_with_its_pin_on_its_phone_only(core: Ask) -> None:
    found = core("vault")
    assert found["same"] == found["afterChange"] == {"a": "ø"}
    assert found["wrong"] == found["oldPin"] == found["otherPhone"] == "fieldbook.phone_wrong_pin"
    assert found["moved"] == "refused"
    assert found["isKeptInside"]
    assert found["plainTwice"]


def test_simple_pins_are_refused(core: Ask) -> None:
    short, simple, differ = (f"fieldbook.phone_{name}" for name in ("pin_short", "pin_simple", "pins_differ"))
    assert core("pins") == [short, simple, simple, simple, differ, "none"]


def test_wrong_pins_slow_down_and_a_clock_set_back_locks_nobody_out(core: Ask) -> None:
    found = core("waits")
    assert found["after"] == sorted(found["after"])
    assert found["after"][:3] == [0, 0, 0]
    assert [found[name] for name in ("fresh", "half", "over", "setBack")] == [15, 10, 0, 15]


def test_tries_to_hand_in_get_rarer_and_are_spread_by_chance(core: Ask) -> None:
    spans = core("waits")["backoff"]
    assert all(0 < low < high for low, high in spans)
    assert [high for _, high in spans] == [2, 4, 8, 16, 300, 300]


def test_pictures_are_fitted_without_being_made_larger(core: Ask) -> None:
    sizes = [(size["width"], size["height"]) for size in core("waits")["fitted"]]
    assert sizes == [(2048, 1536), (1536, 2048), (640, 480), (2048, 1)]


def test_enrolling_keeps_what_the_desk_answered_behind_the_pin(core: Ask) -> None:
    answer = {
        "device": "d-1",
        "token": "secret",
        "who": "Una Selvik",
        "inspector": None,
        "desk_seal_key": "AAAA",
        "desk_sign_key": "AAAA",
    }
    found = core("enrol", answer=answer, status=201)
    assert found["said"] == "none"
    assert found["sent"]["code"] == "AB-1"
    assert all(len(key) > 100 for key in found["sent"]["keys"])  # SubjectPublicKeyInfo of P-256 in base64
    assert found["secret"] == {"token": "secret", "who": "Una Selvik", "inspector": None}
    assert (found["device"], found["next"]) == ("d-1", 1)


def test_a_refused_code_and_a_silent_desk_leave_nothing_behind(core: Ask) -> None:
    refused = core("enrol", answer={"error": {"key": "access.code_used", "text": "Used."}}, status=401)
    silent = core("enrol", answer=None, status=0)
    assert (refused["said"], silent["said"]) == (
        "fieldbook.phone_enrol_refused",
        "fieldbook.phone_enrol_away",
    )
    assert refused["device"] is silent["device"] is None


def test_page_and_service_worker_keep_the_map_under_one_name() -> None:
    found = [
        re.findall(r"MAP_CACHE = '([^']+)'", (FIELD / "src/fieldbook" / name).read_text())
        for name in ("sw.ts", "core/map_cache.ts")
    ]
    assert found[0] == found[1] != []
