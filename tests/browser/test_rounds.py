"""The Rounds page: planned, changed by the mouse, by the keyboard alone, taken back, printed, whole at every size."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from broodsweep.desk.round_plans import KeptPlan, plan_in_force
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


def plan_of(served: Served) -> KeptPlan:
    kept = plan_in_force(served.desk)
    assert kept is not None
    return kept


def noted(page: Page, text: str) -> Locator:
    """Find a line of what holds beside the tables."""
    return page.locator("ul.facts > li > span").filter(has_text=text)


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


def test_a_day_is_rained_off_with_one_press_and_dry_with_another(opened: Opener, mine: Served) -> None:
    page = opened().open(f"{mine.address}/rounds")
    page.get_by_role("button", name="Rained off Wednesday, 8 Jul 2026").click()
    expect(page.get_by_role("heading", name="What changed")).to_be_visible(timeout=60_000)
    expect(page.get_by_role("cell", name="8 Jul 2026 is rained off").first).to_be_visible()
    expect(page.get_by_text(re.compile(r"of \d+ announced visits moved"))).to_be_visible()
    assert plan_of(mine).facts.rained_off == {date(2026, 7, 8)}
    page.get_by_role("button", name="Dry after all Wednesday, 8 Jul 2026").click()
    expect(page.get_by_role("button", name="Rained off Wednesday, 8 Jul 2026")).to_be_visible(timeout=60_000)
    assert plan_of(mine).facts.rained_off == frozenset()


def test_weather_typed_for_a_day_shortens_it(opened: Opener, mine: Served) -> None:
    page = opened().open(f"{mine.address}/rounds")
    weather = page.get_by_role("form", name="Weather")
    day = weather.get_by_role("listitem").filter(has_text="Wednesday, 8 Jul 2026")
    day.get_by_label("Air, °C, Wednesday, 8 Jul 2026").fill("9")
    day.get_by_label("Wind, m/s, Wednesday, 8 Jul 2026").fill("2")
    expect(day).to_contain_text("Give all three figures, or none.")
    expect(weather.get_by_role("button", name="Note it and plan anew")).to_be_disabled()
    day.get_by_label("Rain, mm/h, Wednesday, 8 Jul 2026").fill("0")
    day.get_by_label("Rain, mm/h, Wednesday, 8 Jul 2026").blur()
    expect(day).to_contain_text("hives stay shut")
    day.get_by_role("button", name="Hour by hour Wednesday, 8 Jul 2026").click()
    for hour in ("10:00", "11:00", "12:00"):
        day.get_by_label(f"Air, °C, Wednesday, 8 Jul 2026, {hour}").fill("17")
    day.get_by_label("Air, °C, Wednesday, 8 Jul 2026, 12:00").blur()
    expect(day).to_contain_text("hives 10:00 to 13:00")
    weather.get_by_role("button", name="Note it and plan anew").click()
    expect(page.get_by_role("columnheader", name="hives 10:00 to 13:00")).to_be_visible(timeout=60_000)
    expect(noted(page, "weather of 8 Jul 2026: hives may be opened 10:00 to 13:00")).to_be_visible()
    changes = page.get_by_role("region", name="What changed")
    changes.get_by_role("button", name="Show all").click()
    expect(
        changes.get_by_role("cell", name="On 8 Jul 2026 hives may be opened 10:00 to 13:00")
    ).to_be_visible()
    late = [row.back_minute for row in plan_of(mine).plan.rounds if row.on == date(2026, 7, 8)]
    assert all(minute <= 14 * 60 + 30 for minute in late)


def test_a_forecast_file_is_read_and_one_for_another_week_is_refused(
    opened: Opener, mine: Served, tmp_path: Path
) -> None:
    watched = opened()
    page = watched.open(f"{mine.address}/rounds")
    weather = page.get_by_role("form", name="Weather")
    rows = [f"{SECOND}T{hour:02d}:00,{18 if hour >= 12 else 8},2,0" for hour in range(24)]
    right = tmp_path / "right.csv"
    right.write_text("time,temperature,wind,rain\n" + "\n".join(rows))
    wrong = tmp_path / "wrong.csv"
    wrong.write_text("time,temperature,wind,rain\n2026-08-20T10:00,18,2,0\n")
    weather.get_by_label("Forecast file, CSV or JSON").set_input_files(wrong)
    expect(weather.get_by_role("alert")).to_contain_text(
        "The forecast is for 20 Aug 2026 to 20 Aug 2026, but"
    )
    watched.complaints.clear()  # the browser itself writes down the answer 400
    weather.get_by_label("Forecast file, CSV or JSON").set_input_files(right)
    thursday = weather.get_by_role("listitem").filter(has_text="Thursday, 9 Jul 2026")
    expect(thursday).to_contain_text("hives 12:00 to 17:00")
    expect(weather.get_by_role("alert")).to_have_count(0)
    weather.get_by_role("button", name="Note it and plan anew").click()
    expect(page.get_by_role("columnheader", name="hives 12:00 to 17:00")).to_be_visible(timeout=60_000)
    watched.check_quiet(mine.address)


def test_an_appointment_and_a_keepers_hours_are_noted_from_the_visit(opened: Opener, mine: Served) -> None:
    page = opened().open(f"{mine.address}/rounds")
    apiary, _ = alone(mine, FIRST)
    page.locator("button.chip", has_text=apiary).first.click()
    dialog = page.get_by_role("dialog")
    dialog.locator("summary", has_text="Appointment with a keeper").click()
    agreed = dialog.get_by_role("form", name="Appointment with a keeper")
    agreed.get_by_label("Day").select_option(SECOND)
    agreed.get_by_role("button", name="Note it and plan anew").click()
    fact = f"{apiary} agreed with its keeper for 9 Jul 2026"
    expect(noted(page, fact)).to_be_visible(timeout=60_000)
    assert plan_of(mine).plan.chosen[apiary][1] == date(2026, 7, 9)
    page.get_by_role("button", name=f"Take back {fact}").click()
    expect(noted(page, fact)).to_have_count(0, timeout=60_000)
    page.locator("summary", has_text="Keeper's hours").last.click()
    hours = page.get_by_role("form", name="Keeper's hours")
    hours.get_by_label("Apiary", exact=True).fill(apiary)
    hours.get_by_label("From").fill("10:00")
    expect(hours.get_by_role("button", name="Note it and plan anew")).to_be_disabled()
    hours.get_by_label("Until").fill("12:00")
    hours.get_by_role("button", name="Further hours on the same day").click()
    hours.get_by_label("From").nth(1).fill("14:00")
    hours.get_by_label("Until").nth(1).fill("17:00")
    hours.get_by_role("button", name="Note it and plan anew").click()
    expect(noted(page, "there only 10:00 to 12:00, 14:00 to 17:00")).to_be_visible(timeout=60_000)


def test_the_rules_of_the_rounds_are_changed_and_undone(opened: Opener, mine: Served) -> None:
    page = opened().open(f"{mine.address}/rounds")
    page.locator("summary", has_text="Look at them, change them").click()
    rules = page.get_by_role("form", name="Rules of the rounds")
    rules.get_by_label("not after").fill("13:00")
    rules.get_by_label("After a full change and wash").uncheck()
    rules.get_by_role("button", name="Keep them and plan anew").click()
    expect(page.get_by_text("The rules of the rounds were changed.").first).to_be_visible(timeout=60_000)
    assert plan_of(mine).facts.rules.hygiene.decontamination_minutes is None
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("The rules of the rounds were changed.")).to_have_count(0)
    assert plan_of(mine).facts.rules.hygiene.decontamination_minutes == 45


def test_what_is_noted_before_the_first_plan_stands_on_the_page(opened: Opener, unplanned: Served) -> None:
    page = opened().open(f"{unplanned.address}/rounds")
    page.get_by_role("form", name="Day rained off").get_by_role("button", name="Note it").click()
    expect(noted(page, "8 Jul 2026 rained off")).to_be_visible()
    page.get_by_label("Days", exact=True).fill("2")
    page.get_by_role("button", name="Plan", exact=True).click()
    expect(page.get_by_role("heading", name="Who, which day")).to_be_visible(timeout=60_000)
    expect(page.get_by_role("columnheader", name="rained off")).to_be_visible()
    assert {row.on for row in plan_of(unplanned).plan.rounds if row.stops} == {date(2026, 7, 9)}


def test_a_plan_being_made_outlives_the_page_and_is_stopped_from_another(
    opened: Opener, unplanned: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ten minutes are asked for; the page is closed, opened again, and the best so far taken."""
    monkeypatch.setattr(
        "broodsweep.web.routes.rounds.Limits", lambda **asked: Limits(seconds=600.0, seeds=(1,))
    )
    first = opened().open(f"{unplanned.address}/rounds")
    first.get_by_label("Days", exact=True).fill("2")
    first.get_by_role("button", name="Plan", exact=True).click()
    expect(first.get_by_role("heading", name="Planning")).to_be_visible()
    first.close()
    page = opened().open(f"{unplanned.address}/rounds")
    expect(page.get_by_role("heading", name="Planning")).to_be_visible()
    expect(page.get_by_role("progressbar")).to_be_visible()
    expect(page.get_by_text("Best so far:")).to_be_visible(timeout=60_000)
    page.get_by_role("button", name="Stop, take the best so far").click()
    expect(page.get_by_role("heading", name="Who, which day")).to_be_visible(timeout=60_000)
    assert plan_of(unplanned).plan.rounds


def test_what_cannot_be_planned_is_said_on_the_page(opened: Opener, unplanned: Served) -> None:
    page = opened().open(f"{unplanned.address}/rounds")
    page.get_by_label("First day").fill("2026-07-11")
    page.get_by_label("Days", exact=True).fill("2")
    page.get_by_role("button", name="Plan", exact=True).click()
    expect(page.get_by_role("alert")).to_contain_text("Nobody works on these days", timeout=60_000)
    assert found_by_axe(page) == []


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


def test_a_long_board_scrolls_by_itself_on_a_phone(opened: Opener, browser: Browser, tmp_path: Path) -> None:
    """What is only spoken in the columns beyond the edge once widened the page."""
    desk = make_desk()
    planned(desk, days=5)
    write_basemap(tmp_path / "home")
    with serving(desk, tmp_path / "home") as served:
        page = opened(PHONE, is_mobile=True, has_touch=True).open(f"{served.address}/rounds")
        assert page.evaluate(WIDER) == 0
        assert page.evaluate("document.documentElement.scrollWidth") == PHONE[0]
