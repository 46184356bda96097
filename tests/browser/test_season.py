"""The Season page: weeks and hours, training days kept and taken out, whole at every size, refusals said."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from broodsweep.desk.season import training_days
from tests.desk.test_round_plans import make_desk

from .conftest import DESK, PHONE, Opener, Served, serving, settle, write_basemap
from .test_every_page import LEAST_PX, SMALL, TARGETS, WIDER, found_by_axe

ADDRESS = "/rounds/season?from=2026-07-08&weeks=6"


@pytest.fixture
def mine(browser: Browser, tmp_path: Path) -> Iterator[Served]:
    write_basemap(tmp_path / "home")
    with serving(make_desk(), tmp_path / "home") as served:
        yield served


def test_the_weeks_show_what_falls_where_and_training_takes_its_hours(opened: Opener, mine: Served) -> None:
    watched = opened()
    page = watched.open(mine.address + ADDRESS)
    expect(page.get_by_text("15 of 15 visits find a week")).to_be_visible()
    expect(page.get_by_role("row", name="8 Jul 2026 to 12 Jul 2026")).to_contain_text("39")
    week = page.get_by_role("row", name="13 Jul 2026 to 19 Jul 2026")
    week.scroll_into_view_if_needed()
    page.get_by_role("textbox", name="Training day").fill("2026-07-15")
    page.get_by_role("button", name="Add").click()
    expect(page.get_by_text("Wednesday, 15 Jul 2026")).to_be_visible()
    expect(week.get_by_role("cell").nth(5)).to_have_text("13")
    assert training_days(mine.desk) == (date(2026, 7, 15),)
    page.get_by_role("button", name="Take out 15 Jul 2026").click()
    expect(page.get_by_text("No training day is kept.")).to_be_visible()
    watched.check_quiet(mine.address)


def test_other_weeks_are_asked_for_and_refusals_are_said(opened: Opener, mine: Served) -> None:
    watched = opened()
    page = watched.open(mine.address + ADDRESS)
    page.get_by_label("Weeks", exact=True).fill("2")
    page.get_by_role("button", name="Plan the season").click()
    expect(page.get_by_role("row", name="13 Jul 2026 to 19 Jul 2026")).to_be_visible()
    expect(page.get_by_role("row", name="20 Jul 2026 to 26 Jul 2026")).to_have_count(0)
    page.goto(f"{mine.address}/rounds/season?weeks=99")
    expect(page.get_by_role("alert")).to_be_visible()


def test_the_page_is_whole_on_desk_and_phone_light_and_dark(opened: Opener, mine: Served) -> None:
    page = opened(DESK, has_touch=True).open(mine.address + ADDRESS)
    assert found_by_axe(page) == [], "desk, light"
    assert page.evaluate(WIDER) == 0
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    page.get_by_role("button", name="Dark sheet").click()
    settle(page)
    assert page.evaluate(WIDER) == 0, "phone: no sideways scrolling"
    assert page.evaluate(SMALL, [TARGETS, LEAST_PX]) == [], "phone: a target for a thumb"
    assert found_by_axe(page) == [], "phone, dark"


def test_the_season_is_reached_from_the_rounds(opened: Opener, mine: Served) -> None:
    page = opened().open(f"{mine.address}/rounds")
    expect(page.get_by_role("link", name="Season")).to_be_visible()
    page.get_by_role("link", name="Season").click()
    expect(page.get_by_role("heading", name="Season", level=1)).to_be_visible()
