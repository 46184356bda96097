"""The Rounds page: planned, changed by the mouse, by the keyboard alone, taken back, printed, whole at every size."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from broodsweep.desk.round_plans import plan_in_force
from broodsweep.desk.round_worker import Limits
from broodsweep.web.shapes import rounds as shapes
from tests.desk.test_round_plans import ground, make_desk, planned

from .conftest import DESK, PHONE, Opener, Served, serving, settle, write_basemap
from .test_every_page import LEAST_PX, SMALL, TARGETS, WIDER, found_by_axe
from .test_words import DAYS, MONTHS, UNITS, WALK, WORD

FIRST, SECOND = "2026-07-08", "2026-07-09"
FEW_STEPS = 60


@pytest.fixture(autouse=True)
def few_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every plan asked for by the page is searched by steps, not by seconds: the same plan on every machine."""

    def stepped(**asked: object) -> Limits:
        return Limits(iterations=FEW_STEPS, seeds=(1,))

    monkeypatch.setattr("broodsweep.web.routes.rounds.Limits", stepped)


@pytest.fixture
def mine(browser: Browser, tmp_path: Path) -> Iterator[Served]:
    """A desk with two inspectors and a plan for two days."""
    desk = make_desk()
    planned(desk)
    write_basemap(tmp_path / "home")
    with serving(desk, tmp_path / "home") as served:
        yield served


@pytest.fixture
def unplanned(browser: Browser, tmp_path: Path) -> Iterator[Served]:
    """The same desk before its first plan."""
    write_basemap(tmp_path / "home")
    with serving(make_desk(), tmp_path / "home") as served:
        yield served


def cell(page: Page, inspector: str, on: str) -> Locator:
    return page.locator(f"[data-cell='{on} {inspector}']")


def alone(served: Served, on: str) -> tuple[str, str]:
    """Name a visit on that day that one inspector makes alone, and the inspector."""
    kept = plan_in_force(served.desk)
    assert kept is not None
    return next(
        (stop.apiary, row.inspector)
        for row in kept.plan.rounds
        if row.on.isoformat() == on
        for stop in row.stops
        if stop.together_with is None
    )


def test_plan_is_pressed_and_the_rounds_are_there(opened: Opener, unplanned: Served) -> None:
    watched = opened()
    page = watched.open(f"{unplanned.address}/rounds")
    expect(page.get_by_text("No rounds are planned yet.")).to_be_visible()
    assert found_by_axe(page) == []
    page.get_by_label("Days", exact=True).fill("2")
    page.get_by_role("button", name="Plan", exact=True).click()
    expect(page.get_by_role("heading", name="Who, which day")).to_be_visible(timeout=60_000)
    kept = plan_in_force(unplanned.desk)
    assert kept is not None
    chips = page.locator("button.chip")
    expect(chips).to_have_count(sum(len(row.stops) for row in kept.plan.rounds))
    first = next(row for row in kept.plan.rounds if row.on.isoformat() == FIRST)
    card = page.get_by_role("article", name=re.compile("Dimsa Naskister|Belnor Grevand")).first
    expect(card).to_contain_text("min drive")
    expect(card).to_contain_text("Bring")
    expect(page.locator(f"#round-stop-{first.stops[0].apiary}").first).to_contain_text("AFB-2026-1")
    settle(page)
    watched.check_quiet(unplanned.address)


def test_a_visit_is_dragged_to_another_day_and_taken_back(opened: Opener, mine: Served) -> None:
    page = opened().open(f"{mine.address}/rounds")
    apiary, who = alone(mine, FIRST)
    before = plan_in_force(mine.desk)
    page.locator("button.chip", has_text=apiary).first.drag_to(cell(page, who, SECOND))
    expect(page.get_by_role("heading", name="What changed")).to_be_visible(timeout=60_000)
    expect(cell(page, who, SECOND).get_by_role("button", name=apiary)).to_be_visible()
    expect(page.get_by_role("cell", name="Fixed there by hand")).to_be_visible()
    page.get_by_role("button", name="Undo").click()
    expect(cell(page, who, FIRST).get_by_role("button", name=apiary)).to_be_visible()
    assert plan_in_force(mine.desk) == before


def test_a_visit_is_moved_by_the_keyboard_alone(opened: Opener, mine: Served) -> None:
    page = opened().open(f"{mine.address}/rounds")
    apiary, who = alone(mine, FIRST)
    cell(page, who, FIRST).get_by_role("button", name=apiary).focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("dialog")).to_contain_text(f"Change the visit to {apiary}")
    expect(page.get_by_label("To the day")).to_be_focused()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Tab")
    expect(page.get_by_label("To the inspector")).to_be_focused()
    page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Move there and fix it")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="What changed")).to_be_visible(timeout=60_000)
    expect(cell(page, who, SECOND).get_by_role("button", name=apiary)).to_be_visible()
    expect(page.get_by_role("status").first).to_contain_text("The plan is there")


def test_rain_illness_and_absence_are_noted_and_taken_back(opened: Opener, mine: Served) -> None:
    page = opened().open(f"{mine.address}/rounds")
    page.get_by_role("form", name="Day rained off").get_by_role("button").click()
    expect(page.get_by_role("columnheader", name="rained off")).to_be_visible(timeout=60_000)
    expect(cell(page, "I1", FIRST).locator("button.chip")).to_have_count(0)
    take_back = page.get_by_role("button", name=re.compile("^Take back 8 Jul 2026 rained off"))
    take_back.click()
    expect(take_back).to_have_count(0, timeout=60_000)
    apiary, _ = alone(mine, FIRST)
    page.locator("button.chip", has_text=apiary).first.click()
    page.get_by_role("button", name="Visit done").click()
    expect(page.locator("li.done", has_text=apiary).first).to_be_visible()
    kept = plan_in_force(mine.desk)
    assert kept is not None
    assert list(kept.facts.done) == [apiary]


def test_the_page_is_whole_on_desk_and_phone_light_and_dark(opened: Opener, mine: Served) -> None:
    watched = opened(DESK, has_touch=True)
    page = watched.open(f"{mine.address}/rounds?plan=1")
    assert found_by_axe(page) == [], "desk, light"
    assert page.evaluate(WIDER) == 0, "desk: no sideways scrolling"
    page.locator("button.chip").first.click()
    assert found_by_axe(page) == [], "the dialog"
    page.keyboard.press("Escape")
    expect(page.get_by_role("dialog")).to_have_count(0)
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    page.get_by_role("button", name="Dark sheet").click()
    settle(page)
    assert page.evaluate(WIDER) == 0, "phone: no sideways scrolling"
    assert page.evaluate(SMALL, [TARGETS, LEAST_PX]) == [], "phone: a target for a thumb"
    assert found_by_axe(page) == [], "phone, dark"
    watched.check_quiet(mine.address)


def test_no_plain_word_stands_outside_the_catalogue(opened: Opener, mine: Served) -> None:
    page = opened().open(f"{mine.address}/rounds?locale=en-XA")
    rows = ground()
    texts = [str(name) for row in rows.keepers for name in (row.keeper, row.name)]
    texts += [name for row in rows.apiaries for name in (row.apiary, row.place.text)]
    texts += [str(name) for row in rows.inspectors for name in (row.inspector, row.name)]
    allowed = {word for text in texts for word in WORD.findall(text)}
    allowed |= set(f"{MONTHS} {DAYS} {UNITS} GPX Ottar Brask Vimmvoe Sample".split())
    plain = {word: text for text in page.evaluate(WALK) for word in WORD.findall(text) if word not in allowed}
    assert plain == {}
    assert "⟦" not in page.content(), "a key without a sentence"


def test_on_paper_each_round_is_a_page_with_its_sketch(opened: Opener, mine: Served) -> None:
    page = opened().open(f"{mine.address}/rounds")
    kept = plan_in_force(mine.desk)
    assert kept is not None
    pages = sum(bool(row.stops) for row in kept.plan.rounds)
    page.emulate_media(media="print")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    cards = page.locator("article.round")
    expect(cards).to_have_count(pages)
    assert (
        cards.evaluate_all("rows => rows.map((row) => getComputedStyle(row).breakBefore)") == ["page"] * pages
    )
    expect(page.get_by_role("img", name="Sketch of the round")).to_have_count(pages)
    expect(page.get_by_role("button")).to_have_count(page.locator("button.chip").count())
    assert (
        page.evaluate("getComputedStyle(document.documentElement).getPropertyValue('--accent').trim()")
        == "#000"
    )
    printed = page.pdf(format="A4", prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page[^s]", printed)) >= pages + 1


def test_rounds_are_planned_from_an_outbreak(opened: Opener, mine: Served) -> None:
    page = opened().open(f"{mine.address}/outbreaks/EFB-2026-1")
    page.get_by_role("link", name="Plan rounds").click()
    expect(page.get_by_label("For", exact=True)).to_have_value("EFB-2026-1")
    page.get_by_role("button", name="Plan afresh").click()
    expect(page.get_by_text("Planned afresh for EFB-2026-1")).to_be_visible(timeout=60_000)
    kept = plan_in_force(mine.desk)
    assert kept is not None
    assert kept.question.outbreak == "EFB-2026-1"


def test_the_change_of_every_kind_has_its_sentence() -> None:
    from broodsweep.words import has_key

    kinds = list(shapes.ChangeKind)
    assert [kind for kind in kinds if not has_key(f"rounds_page.told_{kind}")] == []
