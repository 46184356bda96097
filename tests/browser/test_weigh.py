"""Weigh a comb in the browser: by touch and keyboard, on the telephone, with a kit, into a case; practice."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from .conftest import DESK, PHONE, Opener, Served, settle
from .test_every_page import LEAST_PX, SMALL, TARGETS, WIDER, found_by_axe
from .test_words import DAYS, MONTHS, UNITS, WALK, WORD, words_of_data

PAGES = {
    "weigh": "/weigh",
    "questions": "/weigh?questions=1",
    "practice": "/weigh/practice",
    "case": "/weigh/practice?case=7",
}


def touch(page: Page, sign: str, answer: str = "seen") -> None:
    """Answer for a sign."""
    page.get_by_role("radiogroup", name=sign).get_by_role("radio", name=answer, exact=True).check(force=True)


def fill(page: Page) -> None:
    """Enter a comb with American foulbrood."""
    for sign in ("Sunken caps", "Coffee-brown remains", "Patchy brood"):
        touch(page, sign)
    touch(page, "Loose rubbery scale", "not there")
    page.get_by_role("button", name="30 mm").click()
    expect(page.get_by_text("Suspected: American foulbrood")).to_be_visible()


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_whole_on_desk_and_phone_light_and_dark(opened: Opener, shared: Served, name: str) -> None:
    watched = opened(DESK, has_touch=True)
    page = watched.open(shared.address + PAGES[name])
    if name == "weigh":
        fill(page)
        page.get_by_role("button", name="Add: field test for American foulbrood").click()
        page.locator("article.test summary").first.click()
        page.get_by_text("Where, when, what is known").click()
    assert found_by_axe(page) == [], "desk, light"
    page.get_by_role("button", name="Dark sheet").click()
    settle(page)
    assert page.evaluate(WIDER) == 0, "desk: no sideways scrolling"
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    settle(page)
    assert page.evaluate(WIDER) == 0, "phone: no sideways scrolling"
    assert page.evaluate(SMALL, [TARGETS, LEAST_PX]) == [], "phone: a target for a thumb"
    assert found_by_axe(page) == [], "phone, dark"
    watched.check_quiet(shared.address)


@pytest.mark.parametrize("name", PAGES)
def test_no_plain_word_stands_outside_the_catalogue(opened: Opener, shared: Served, name: str) -> None:
    path = PAGES[name]
    page = opened().open(f"{shared.address}{path}{'&' if '?' in path else '?'}locale=en-XA")
    if name == "weigh":
        for row in page.locator("[role=radiogroup]").all()[:9:2]:
            row.locator("input").first.check(force=True)
        page.locator(".ruler button").last.click()
        page.locator(".add button").first.click()
        expect(page.locator(".chances").first).to_be_visible()
    settle(page)
    allowed = words_of_data() | set(f"{MONTHS} {DAYS} {UNITS}".split())
    plain = {word: text for text in page.evaluate(WALK) for word in WORD.findall(text) if word not in allowed}
    assert plain == {}
    assert "⟦" not in page.content(), "a key without a sentence"


def test_touches_are_weighed_at_once_and_what_is_open_stays_not_looked_at(
    opened: Opener, shared: Served
) -> None:
    page = opened(PHONE, has_touch=True).open(f"{shared.address}/weigh?apiary=N")
    expect(page.get_by_text("counts as not looked at, never as absent")).to_be_visible()
    fill(page)
    strip = page.locator("a.strip")
    expect(strip).to_contain_text("American foulbrood")
    expect(strip).to_contain_text("Suspected")
    expect(
        page.get_by_text(re.compile("A known case of American foulbrood .* lies 999 m away|lies 1.0 km away"))
    ).to_be_visible()
    answer = page.locator("#answer")
    expect(answer.get_by_text("The brood pattern")).to_have_count(0)
    expect(answer.get_by_text("Sealed cells standing alone")).to_be_visible()
    for words in ("Tell the competent authority now", "Do not wait", "Move nothing"):
        expect(answer.get_by_text(words)).to_be_visible()
    touch(page, "Patchy brood", "not looked at")
    expect(answer.get_by_text("The brood pattern")).to_be_visible()
    page.reload()
    settle(page)
    expect(
        page.get_by_role("radiogroup", name="Sunken caps").get_by_role("radio", name="seen")
    ).to_be_checked()
    page.get_by_role("button", name="Start again").click()
    expect(page.get_by_text("counts as not looked at, never as absent")).to_be_visible()


def test_a_comb_is_weighed_and_a_keeper_led_with_the_server_gone(opened: Opener, shared: Served) -> None:
    page = opened(PHONE).open(f"{shared.address}/weigh?apiary=N")
    touch(page, "Sunken caps")
    expect(page.locator(".chances").first).to_be_visible()
    page.context.set_offline(True)
    fill(page)
    expect(page.locator("a.strip")).to_contain_text("American foulbrood over 0.9")
    page.get_by_text("Which assumption matters most").click()
    expect(page.get_by_text(re.compile("of its range")).first).to_be_visible()
    page.get_by_role("link", name="Ask a keeper on the telephone").click()
    for _ in range(3):
        page.get_by_role("button", name="No", exact=True).click()
    expect(page.get_by_text("Question 4, at most")).to_be_visible()
    page.get_by_role("button", name="See the answer").click()
    keep = page.get_by_role("form", name="Keep this weighing")
    keep.get_by_label("Where it belongs").select_option("At the apiary, without a case")
    keep.get_by_role("button", name="Keep the look").click()
    expect(keep.get_by_role("alert").first).to_be_visible()
    page.context.set_offline(False)
    expect(page.locator("a.strip")).to_contain_text("American foulbrood"), "nothing was lost"


def test_a_look_is_kept_at_its_apiary_and_a_case_is_opened_on_it(opened: Opener, own: Served) -> None:
    page = opened().open(f"{own.address}/weigh?apiary=N")
    fill(page)
    keep = page.get_by_role("form", name="Keep this weighing")
    keep.get_by_label("Where it belongs").select_option("At the apiary, without a case")
    expect(keep.get_by_text("This look leads to suspicion")).to_be_visible()
    keep.get_by_role("button", name="Keep the look").click()
    looks = page.locator("#looks")
    looks.get_by_role("button", name="Open a case on it").click()
    expect(page.get_by_text("Suspected: American foulbrood")).to_be_visible()
    keep.get_by_role("button", name="Open outbreak").or_(
        keep.get_by_role("button", name="Open an outbreak")
    ).click()
    expect(page.get_by_text(re.compile("The weighing of N is kept in"))).to_be_visible()
    case = own.desk.snapshot().outbreaks[-1].cases[-1]
    assert case.events[0].detail["weighing"]["look"] == 1
    page.goto(f"{own.address}/ground/apiary/N")
    expect(page.get_by_role("link", name=re.compile("^Evidence in"))).to_be_visible()


def test_a_comb_is_entered_by_the_keyboard_alone(opened: Opener, shared: Served) -> None:
    page = opened().open(f"{shared.address}/weigh")
    row = page.get_by_role("radiogroup", name="Sunken caps")
    row.get_by_role("radio", name="not looked at").focus()
    page.keyboard.press("ArrowRight")
    expect(row.get_by_role("radio", name="seen", exact=True)).to_be_checked()
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowLeft")
    expect(
        page.get_by_role("radiogroup", name="Pierced caps").get_by_role("radio", name="not there")
    ).to_be_checked()
    expect(page.locator(".chances").first).to_be_visible()


def test_a_kit_is_timed_read_and_kept_in_a_case(opened: Opener, own: Served) -> None:
    watched = opened()
    watched.page.clock.install()
    page = watched.open(f"{own.address}/weigh?apiary=N")
    touch(page, "Coffee-brown remains")
    page.get_by_role("button", name="Add: field test for American foulbrood").click()
    test = page.locator("article.test")
    test.locator("summary").click()
    test.get_by_role("button", name=re.compile("Start the clock.*Wait about 3 minutes")).click()
    page.clock.run_for(181_000)
    expect(test.get_by_text("Time is over", exact=True)).to_be_visible()
    test.get_by_role("radio", name="Both lines: positive").check(force=True)
    expect(test.get_by_label("Read after how many minutes")).to_have_value("3")
    test.get_by_label("Lot of the kit").select_option("LOT-7")
    expect(test.get_by_text("Use this lot first")).to_be_visible()
    page.clock.run_for(1000)
    expect(page.get_by_text("Confirmed on this evidence: American foulbrood")).to_be_visible()
    keep = page.get_by_role("form", name="Keep this weighing")
    keep.get_by_label("Where it belongs").select_option("AFB-2026-1")
    expect(keep.get_by_label("As", exact=True)).to_have_value("confirmed")
    keep.get_by_role("button", name="Add the case").click()
    expect(page.locator("h1")).to_contain_text("AFB-2026-1")
    expect(page.get_by_text("The weighing of N is kept in AFB-2026-1")).to_be_visible()
    event = own.desk.snapshot().outbreak("AFB-2026-1").cases[1].events[0]
    assert event.detail["by"] == "field_kit"
    assert event.detail["weighing"]["lots"] == ["LOT-7"]


def test_a_keeper_on_the_telephone_is_led_one_question_at_a_time(opened: Opener, shared: Served) -> None:
    page = opened(PHONE).open(f"{shared.address}/weigh?questions=1")
    expect(page.get_by_text("Question 1, at most")).to_be_visible()
    page.get_by_role("button", name="Yes", exact=True).click()
    expect(page.get_by_text("Question 2, at most")).to_be_visible()
    page.get_by_role("button", name="Cannot tell").click()
    page.get_by_role("button", name="No", exact=True).click()
    expect(page.get_by_text("Question 4, at most")).to_be_visible()
    page.get_by_role("button", name="One question back").click()
    expect(page.get_by_text("Question 3, at most")).to_be_visible()
    page.get_by_role("button", name="See the answer").click()
    expect(
        page.get_by_role("radiogroup", name="Patchy brood").get_by_role("radio", name="seen", exact=True)
    ).to_be_checked()
    expect(
        page.get_by_role("radiogroup", name="Sunken caps").get_by_role("radio", name="not looked at")
    ).to_be_checked()


def test_what_would_tell_most_leads_to_its_place(opened: Opener, shared: Served) -> None:
    page = opened().open(f"{shared.address}/weigh")
    touch(page, "Coffee-brown remains")
    page.get_by_role("button", name=re.compile("Enter this test.*ropiness")).click()
    expect(
        page.get_by_label("Cell 1").locator("input").or_(page.locator(".cell input")).first
    ).to_be_focused()


def test_a_refused_reading_is_said_beside_the_answer(opened: Opener, shared: Served) -> None:
    page = opened().open(f"{shared.address}/weigh")
    page.locator(".cell input").fill("900")
    expect(page.get_by_role("alert")).to_contain_text("A rope of 900 mm cannot be")


def test_a_lot_of_kits_is_entered(opened: Opener, own: Served) -> None:
    page = opened().open(f"{own.address}/weigh")
    page.get_by_text("Enter a lot, or correct one").click()
    form = page.get_by_role("form", name="Enter a lot, or correct one")
    form.get_by_label("Lot on the pouch").fill("NEW-1")
    form.get_by_label("Disease").select_option("EFB")
    form.get_by_label("Good until").fill("2026-07-20")
    form.get_by_label("Where it lies").fill("van 2")
    form.get_by_role("button", name="Save").click()
    expect(page.get_by_role("row", name=re.compile("NEW-1.*runs out soon.*van 2"))).to_be_visible()
    expect(page.get_by_text("lot NEW-1 runs out on 20 Jul 2026")).to_be_visible()


def test_practice_is_scored_and_the_truth_is_told(opened: Opener, own: Served) -> None:
    page = opened().open(f"{own.address}/weigh/practice?case=7")
    expect(page.get_by_role("button", name="Tell me what it was")).to_be_disabled()
    for slider in page.get_by_role("slider").all():
        slider.press("ArrowLeft")
        slider.press("ArrowRight")
    page.get_by_role("button", name="Tell me what it was").click()
    expect(page.get_by_role("heading", name="It was: starved or neglected brood")).to_be_focused()
    expect(page.get_by_text("Your score is 0.25")).to_be_visible()
    expect(page.get_by_text("1 case answered")).to_be_visible()
    assert [key for key in own.desk.snapshot().settings if key.startswith("practice/")]


def test_a_printed_weighing_says_what_was_seen_and_what_was_not(opened: Opener, shared: Served) -> None:
    page = opened().open(f"{shared.address}/weigh")
    fill(page)
    page.emulate_media(media="print")
    expect(page.get_by_text("Seen: sunken caps, coffee-brown remains")).to_be_visible()
    expect(page.get_by_text("Looked for and not there: loose rubbery scale.")).to_be_visible()
    expect(page.locator(".groups")).to_be_hidden()
    expect(page.get_by_role("heading", name="Not looked at")).to_be_visible()
