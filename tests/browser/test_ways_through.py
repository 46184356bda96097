"""What a user does: by keyboard alone, by deep links, with the desk gone, with nothing on record, with very much."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from broodsweep.geo import parse_place
from broodsweep.register import Apiary
from broodsweep.words import render, say
from tests.web.conftest import TODAY, district, make_desk

from .conftest import Opener, Served, serving

OUTBREAK = "/outbreaks/AFB-2026-1"


def tab_to(page: Page, wanted: str, most: int = 60) -> None:
    """Press Tab until the focus is on what is called so."""
    for _ in range(most):
        page.keyboard.press("Tab")
        called = page.evaluate(
            "document.activeElement.labels?.[0]?.innerText ?? document.activeElement.innerText ?? ''"
        )
        if called.strip().startswith(wanted):
            return
    raise AssertionError(f"Expected to reach {wanted!r} by the Tab key.")


def test_a_measure_is_recorded_by_the_keyboard_alone(opened: Opener, own: Served) -> None:
    page = opened().open(f"{own.address}{OUTBREAK}?part=cases")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the sheet")).to_be_focused()
    page.keyboard.press("Enter")
    tab_to(page, "Record a step")
    page.keyboard.press("Enter")
    expect(page.get_by_label("Step", exact=True)).to_be_focused()
    page.keyboard.type("Standstill notice")
    tab_to(page, "Evidence")
    page.keyboard.type("Handed to the keeper")
    tab_to(page, "Write it down")
    page.keyboard.press("Enter")
    expect(page.locator(".announcer")).to_contain_text("standstill notice served")
    expect(page.get_by_text("Handed to the keeper")).to_be_visible()
    expect(page.get_by_text("Under measures").first).to_be_visible()
    events = own.desk.store.outbreaks()[0].cases[0].events
    assert [(event.kind, event.who) for event in events][-1] == ("notice_served", "Ottar Brask")


def test_the_form_offers_only_steps_that_are_possible(opened: Opener, shared: Served) -> None:
    page = opened().open(f"{shared.address}{OUTBREAK}?part=cases&record=C")
    offered = page.get_by_label("Step", exact=True).locator("option").all_inner_texts()
    assert "Standstill notice served" in offered
    assert "Standstill lifted" not in offered


def test_a_new_finding_becomes_an_outbreak(opened: Opener, own: Served) -> None:
    page = opened().open(f"{own.address}/today")
    page.get_by_role("link", name="Open an outbreak E").click()
    expect(page.get_by_label("Apiary", exact=True)).to_have_value("E")
    expect(page.get_by_label("European foulbrood")).to_be_checked()
    page.get_by_role("button", name="Open an outbreak").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("EFB-2026-1")
    assert [row.outbreak for row in own.desk.store.outbreaks()] == ["AFB-2026-1", "EFB-2026-1"]


def test_a_local_change_of_a_rule_shows_at_the_due_dates(opened: Opener, own: Served) -> None:
    page = opened().open(f"{own.address}/settings/rules/common-practice?change=notify.within")
    page.get_by_role("spinbutton", name="Time to notify").fill("2")
    page.get_by_label("Reason").fill("Islands: by the next boat")
    page.get_by_role("button", name="Change locally").click()
    expect(page.get_by_text("Islands: by the next boat")).to_be_visible()
    page.goto(own.address + OUTBREAK)
    expect(page.get_by_text("Locally changed: ").first).to_be_visible()


def test_deep_links_open_and_back_and_forward_follow(opened: Opener, shared: Served) -> None:
    page = opened().open(f"{shared.address}/settings/rules/common-practice?disease=EFB")
    expect(page.get_by_label("European foulbrood")).to_be_checked()
    page.get_by_role("link", name="Ground", exact=True).click()
    page.get_by_label("Search apiary").fill("black")
    expect(page.get_by_role("rowheader")).to_have_count(1)
    page.get_by_role("link", name="N", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("N")
    page.go_back()
    expect(page.get_by_label("Search apiary")).to_have_value("black")
    expect(page.get_by_role("rowheader")).to_have_count(1)
    page.go_back()
    expect(page.get_by_role("heading", level=1)).to_have_text("Common practice")
    page.go_forward()
    expect(page).to_have_url(f"{shared.address}/ground?search=black")


def test_a_form_with_unsaved_words_is_not_left_without_asking(opened: Opener, shared: Served) -> None:
    page = opened().open(f"{shared.address}/outbreaks")
    page.get_by_role("link", name="Open an outbreak").click()
    page.get_by_label("Evidence").fill("Ropy larvae")
    page.get_by_role("link", name="Today", exact=True).click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_be_visible()
    dialog.get_by_role("button", name="Stay here").click()
    expect(page.get_by_label("Evidence")).to_have_value("Ropy larvae")
    page.go_back()
    expect(dialog).to_be_visible()
    dialog.get_by_role("button", name="Stay here").click()
    expect(page.get_by_label("Evidence")).to_have_value("Ropy larvae")
    page.get_by_role("link", name="Today", exact=True).click()
    dialog.get_by_role("button", name="Leave without saving").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Today’s sheet")


def test_a_desk_that_has_gone_is_said_plainly_and_the_form_stays(opened: Opener, own: Served) -> None:
    watched = opened()
    page = watched.open(f"{own.address}{OUTBREAK}?part=cases&record=C")
    page.get_by_label("Step", exact=True).select_option("notice_served")
    page.get_by_label("Evidence").fill("Handed over")
    own.stop()
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_role("alert")).to_contain_text("The desk does not answer")
    expect(page.get_by_label("Evidence")).to_have_value("Handed over")


def test_what_failed_to_load_can_be_tried_again(opened: Opener, shared: Served) -> None:
    page = opened().page
    page.route("**/api/today**", lambda route: route.abort())
    page.goto(f"{shared.address}/today")
    expect(page.get_by_role("alert")).to_contain_text("The desk does not answer")
    page.unroute("**/api/today**")
    page.get_by_role("button", name="Try again").click()
    expect(page.get_by_role("heading", name="Overdue")).to_be_visible()
    expect(page.get_by_role("alert")).to_have_count(0)


def test_an_empty_record_says_what_would_fill_it(opened: Opener, bare: Served) -> None:
    watched = opened()
    for path in ("/today", "/ground"):
        page = watched.open(bare.address + path)
        expect(page.get_by_text("The record holds no apiaries yet")).to_be_visible()
        expect(page.get_by_role("link", name="Load tables").last).to_be_visible()
    page = watched.open(f"{bare.address}/outbreaks")
    expect(page.get_by_text("No outbreak is on record")).to_be_visible()
    watched.check_quiet(bare.address)


def test_tables_are_loaded_after_a_look(opened: Opener, bare: Served, tmp_path: Path) -> None:
    bad, good = tmp_path / "bad" / "apiaries.csv", tmp_path / "apiaries.csv"
    bad.parent.mkdir()
    bad.write_text("apiary,place,colonies\nQ1,OV 510 510,6\nQ2,nowhere,4\n")
    good.write_text("apiary,place,colonies\nQ1,OV 510 510,6\nQ2,OV 512 512,4\n")
    page = opened().open(f"{bare.address}/ground/load")
    page.get_by_label("Files").set_input_files(bad)
    page.get_by_role("button", name="Look at the files").click()
    row = page.get_by_role("row").filter(has_text="nowhere")
    expect(row).to_contain_text("line 3")
    expect(page.get_by_role("button", name="Take it in")).to_be_disabled()
    page.get_by_role("button", name="Choose other files").click()
    page.get_by_label("Files").set_input_files(good)
    page.get_by_role("button", name="Look at the files").click()
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_text("Taken in: 2 rows changed.").first).to_be_visible()
    page.get_by_role("link", name="To the ground").click()
    expect(page.get_by_role("rowheader")).to_have_count(2)


def test_a_long_register_is_paged_and_drawn(opened: Opener, tmp_path: Path) -> None:
    many = [
        Apiary(
            apiary=f"P{n:04d}",
            place=parse_place(f"OV {50000 + 7 * n} {50000 + (n * 37) % 9000}"),
            colonies=n % 30,
        )
        for n in range(3000)
    ]
    small = district()
    desk = make_desk(replace(small, apiaries=(*small.apiaries, *many)))
    with serving(desk, tmp_path / "home") as served:
        watched = opened()
        page = watched.open(f"{served.address}/ground")
        expect(page.locator("figure[data-idle=true]")).to_be_visible()
        expect(page.get_by_text("1–50 of 3,004")).to_be_visible()
        assert page.get_by_role("rowheader").count() == 50
        page.get_by_role("link", name="Next page").click()
        expect(page.get_by_text("51–100 of 3,004")).to_be_visible()
        page.get_by_label("Search apiary").fill("P2999")
        expect(page.get_by_role("rowheader")).to_have_count(1)
        watched.check_quiet(served.address)


def test_the_pages_write_days_and_distances_as_the_catalogue_does(opened: Opener, shared: Served) -> None:
    page = opened().open(f"{shared.address}{OUTBREAK}?part=sweep")
    shown = page.locator("main").inner_text()
    assert render(say("web.opened", opened_on=TODAY.replace(day=1))) in shown
    assert render(say("web.value_distance", value_m=3000.0)) in shown
    assert render(say("common.colonies", count=9)) in shown


@pytest.mark.parametrize("path", ["/today", f"{OUTBREAK}?part=all"])
def test_a_printed_sheet_is_complete_in_black(opened: Opener, shared: Served, path: str) -> None:
    watched = opened()
    page = watched.open(shared.address + path)
    expect(page.locator(".waiting")).to_have_count(0)
    page.emulate_media(media="print", color_scheme="dark")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    expect(page.get_by_role("navigation", name="Sections of the book")).to_be_hidden()
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"
    assert page.locator("main details:not([open])").count() == 0
    assert page.locator("main button:visible").count() == 0
    expect(page.get_by_role("term").filter(has_text="As of")).to_be_visible()
    printed = page.pdf(format="A4")
    assert printed.startswith(b"%PDF")
    assert b"/MediaBox [0 0 594.95996 841.91998]" in printed or b"/MediaBox [0 0 595" in printed


def test_the_whole_sheet_is_drawn_light_for_paper_and_then_printed(opened: Opener, shared: Served) -> None:
    """The map is drawn before the printing begins, in light even when the sheets are dark."""
    watched = opened(theme="dark")
    watched.page.add_init_script(
        "window.print = () => { window.printed = [document.documentElement.dataset.theme, "
        "document.querySelector('figure[data-idle=true] canvas') !== null]; }"
    )
    page = watched.open(shared.address + OUTBREAK)
    page.get_by_role("button", name="Print").click()
    expect(page.locator("figure[data-idle=true]")).to_be_visible(timeout=15_000)
    for _ in range(100):
        if page.evaluate("window.printed ?? null"):
            break
        page.wait_for_timeout(100)
    assert page.evaluate("window.printed") == ["light", True]
    assert page.evaluate("document.documentElement.dataset.theme") == "dark"


def test_the_map_follows_the_record(opened: Opener, own: Served) -> None:
    """After a step the map is given the apiaries of the new version of the record."""
    page = opened().open(f"{own.address}{OUTBREAK}?part=all&record=C")
    before = own.desk.store.version()
    expect(page.locator("figure")).to_have_attribute("data-version", str(before))
    page.get_by_label("Step", exact=True).select_option("notice_served")
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator(".announcer")).to_contain_text("standstill notice served")
    assert own.desk.store.version() > before
    expect(page.locator("figure")).to_have_attribute("data-version", str(own.desk.store.version()))
