"""The field at the desk in a real browser: seen as it comes in, decided on, entered from paper."""

from __future__ import annotations

import random
from datetime import UTC, datetime

import pytest
from playwright.sync_api import expect

from broodsweep.desk.access import Device
from broodsweep.desk.fieldbook import take_lines
from tests.fieldbook.writing import Pen

from .conftest import DESK, PHONE, Opener, Served, settle
from .test_every_page import WIDER, found_by_axe


def phone(name: str) -> Device:
    return Device(
        device=name,
        label=name,
        who="Una Selvik",
        inspector=None,
        enrolled_at=datetime(2026, 7, 1, tzinfo=UTC),
        revoked_at=None,
        wipe_asked_at=None,
        seal_key="",
        sign_key="",
    )


def a_visit(pen: Pen, apiary: str, *, suspect: bool) -> str:
    visit = pen.name()
    pen.begin(visit, apiary)
    pen.write("colonies_counted", {"present": 3}, visit=visit, apiary=apiary)
    for colony in (1, 2, 3):
        is_suspect = suspect and colony == 2
        body = {"colony": colony, "state": "suspect" if is_suspect else "clean"}
        pen.write(
            "colony_looked", body | {"disease": "AFB" if is_suspect else None}, visit=visit, apiary=apiary
        )
    pen.sign(visit, apiary)
    return visit


def test_a_visit_is_seen_within_a_second_and_read_whole(opened: Opener, own: Served) -> None:
    watched = opened(DESK)
    page = watched.open(f"{own.address}/fieldwork")
    expect(page.get_by_text("No visit has come in")).to_be_visible()
    page.wait_for_timeout(700)  # the line for changes stands
    pen = Pen("phone-1", random.Random(1))
    a_visit(pen, "N", suspect=True)
    strange = pen.write("moon_seen", {"phase": 0.5}, visit=None, apiary="N")
    take_lines(own.desk, phone("phone-1"), pen.lines)
    expect(page.get_by_text("1 suspect: American foulbrood")).to_be_visible(timeout=1000)
    page.get_by_role("button", name="Leave it aside").click()
    expect(page.get_by_text("moon_seen", exact=True)).to_have_count(0)
    assert [row.state for row in own.desk.store.lines() if row.line == strange["line"]] == ["left"]
    page.get_by_role("link", name="N visit of").click()
    settle(page)
    expect(page.get_by_role("heading", name="Every line")).to_be_visible()
    expect(page.get_by_role("img", name="Signature of Ottar Brask")).to_be_visible()
    assert found_by_axe(page) == []
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    assert page.evaluate(WIDER) == 0
    watched.check_quiet(own.address)


def test_a_form_that_is_being_filled_in_is_not_taken_away(opened: Opener, own: Served) -> None:
    page = opened(DESK).open(f"{own.address}/outbreaks/AFB-2026-1?part=cases&record=C")
    page.locator("textarea, input").first.focus()
    page.wait_for_timeout(700)
    pen = Pen("phone-1", random.Random(1))
    a_visit(pen, "N", suspect=False)
    take_lines(own.desk, phone("phone-1"), pen.lines)
    expect(page.get_by_role("button", name="Show it")).to_be_visible(timeout=2000)
    page.get_by_role("button", name="Show it").click()
    expect(page.get_by_role("button", name="Show it")).to_have_count(0)


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_paper_sheet_is_entered_by_its_code(opened: Opener, own: Served, size: tuple[int, int]) -> None:
    watched = opened(size)
    page = watched.open(f"{own.address}/fieldwork/paper")
    visit = "0197e0f0-0000-7000-8000-000000000001"
    page.get_by_label("Code on the sheet").fill(f"broodsweep:visit:{visit}:2026-07-08:N")
    expect(page.get_by_role("heading", name="N Una Selvik")).to_be_visible()
    page.get_by_label("Colonies that stand here").fill("2")
    page.get_by_label("State of colony 1", exact=True).select_option("suspect_EFB")
    page.get_by_label("Signs at colony 1, by their numbers", exact=True).fill("3")
    expect(page.get_by_text("sunken caps")).to_be_visible()
    page.get_by_label("State of colony 2", exact=True).select_option("clean")
    page.get_by_label("Signed by").fill("Ottar Brask")
    assert found_by_axe(page) == []
    page.get_by_role("button", name="Enter the visit").click()
    expect(page.get_by_text("Signed, and every line before the signature is here.")).to_be_visible()
    assert [row.apiary for row in own.desk.snapshot().ground.visits if row.colonies_suspect] == ["E", "N"]
    watched.check_quiet(own.address)
