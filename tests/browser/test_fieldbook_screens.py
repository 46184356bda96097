"""The phone's screens as a user meets them: by touch, by keyboard, in sun, after a kill, with a full phone."""

from __future__ import annotations

import base64
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, expect

from tests.browser.conftest import PATIENCE_MS, STATIC, write_basemap
from tests.browser.fieldbook_hand import SEED_VISIT, Hand, tab_to
from tests.browser.fieldbook_phone import (
    FieldDesk,
    enrol,
    unlock,
    until,
    until_handed_in,
    until_kept_offline,
)
from tests.browser.test_every_page import SMALL, WIDER, found_by_axe
from tests.browser.test_words import DAYS, MONTHS, UNITS, WALK, WORD, words_of_data
from tests.web.conftest import district, make_desk

PHONE, SMALL_PHONE, TABLET = (390, 844), (360, 640), (820, 1180)
AT_N = {"latitude": 54.8314, "longitude": 0.3337, "accuracy": 12}
"""Some metres from the place of apiary N on the register."""
AT_C = {"latitude": 54.8224, "longitude": 0.3332, "accuracy": 12}
COLONIES = 12
MOST_TOUCHES = 20
"""Issue 6: touches for a clean apiary of 12 colonies with everything the law wants."""
LEAST_PX = 48
BOUNCE_MS = 150
"""A little more than what the screen takes for one touch of a glove."""
TARGETS = (
    "main button, main a.button, main summary, main select, main input:not(.unseen), main textarea, main a"
)
GUIDES = ("order", "looking", "ropiness", "flow", "sampling", "washing", "suspect", "cautions")
STEPS = (
    "place",
    "weather",
    "colonies",
    "keeper",
    "washing",
    "notes",
    "sign",
    "after",
    "amend",
    "photos",
    "samples",
)
PAGES_OF_A_COLONY = ("signs", "tests", "photos", "samples", "weighing")
ADDRESSES = (
    *("/", "/near", "/other", "/found", "/visits", "/guides", "/stop/N", "/visit/V", "/visit/nowhere"),
    *(f"/guides/{guide}" for guide in GUIDES),
    *(f"/visit/V/{step}" for step in STEPS),
    "/visit/V/colony/3",
    *(f"/visit/V/colony/3/{name}" for name in PAGES_OF_A_COLONY),
)
IN_THE_DARK = (
    "/",
    "/stop/N",
    "/visit/V",
    *(f"/visit/V/{step}" for step in ("weather", "colonies", "sign", "after")),
)

Phone = Callable[..., Hand]


@pytest.fixture
def desk(browser: Browser, tmp_path: Path) -> Iterator[FieldDesk]:
    """A desk at which apiary N has twelve colonies."""
    home = tmp_path / "home"
    write_basemap(home)
    ground = district()
    apiaries = tuple(replace(row, colonies=COLONIES) if row.apiary == "N" else row for row in ground.apiaries)
    made = FieldDesk(home=home, desk=make_desk(replace(ground, apiaries=apiaries)), static=STATIC)
    made.start()
    yield made
    made.stop()


@pytest.fixture
def phone(browser: Browser, desk: FieldDesk) -> Iterator[Phone]:
    """Give a function that makes an enrolled phone at a place."""
    contexts: list[BrowserContext] = []

    def make(
        size: tuple[int, int] = PHONE,
        theme: str = "light",
        at: dict[str, float] | None = AT_N,
        script: str = "",
        **more: Any,
    ) -> Hand:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            color_scheme=theme,  # type: ignore[arg-type]
            geolocation=at,  # type: ignore[arg-type]
            permissions=["geolocation"] if at else [],
            reduced_motion="reduce",
            locale="en-GB",
            timezone_id="UTC",
            **more,
        )
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        if script:
            context.add_init_script(script)
        page = context.new_page()
        enrol(page, desk)
        until(page, "Boolean(fieldbook.book?.satchel)")
        understood = page.get_by_role("button", name="Understood")
        if understood.count():  # the frame's word on storage: its own tests look at it
            understood.click()
        return Hand(page)

    yield make
    for context in contexts:
        context.close()


def begun(hand: Hand, *, present: int | None = None) -> str:
    """Begin a visit at N by the book itself; with colonies counted if asked. Gives its name."""
    visit: str = hand.page.evaluate("fieldbook.book.begin('N', 'sweep')")
    if present is not None:
        counted = "([visit, present]) => fieldbook.book.write('colonies_counted', { present }, { visit, apiary: 'N' })"
        hand.page.evaluate(counted, [visit, present])
    return visit


def test_a_clean_apiary_of_twelve_colonies_takes_eighteen_touches(phone: Phone, desk: FieldDesk) -> None:
    hand = phone()
    hand.on(hand.page.get_by_role("link", name=re.compile("^.*N Una Selvik")))
    hand.question("Am I at the right apiary?")
    expect(hand.button("I am here: begin the visit")).to_be_visible()
    hand.touch("I am here: begin the visit")
    hand.question("What is the weather?")
    for answer in ("18°", "light", "none", "Flying"):
        hand.on(hand.page.get_by_role("button", name=re.compile(f"^{answer}")))
    hand.touch("Next: Colonies")
    hand.touch(f"There are {COLONIES} colonies")
    hand.touch("A run of clean ones")
    hand.on(hand.hive(COLONIES))
    expect(hand.page.locator("[data-state='clean']")).to_have_count(COLONIES)
    hand.touch("Next: What the keeper said")
    hand.touch("Next: Washing")
    hand.touch("Hands, tools, smoker, clothing and boots")
    hand.touch("Next: Sign")
    hand.question("Sign with the keeper")
    hand.touch("Yes", exact=True)
    hand.draw("Signature of Ottar Brask")
    hand.draw("Signature of the keeper")
    hand.touch("Sign the visit")
    hand.question("The visit so far")
    expect(hand.page.get_by_text("The keeper was there: Una Selvik.")).to_be_visible()
    assert hand.touches == 18 <= MOST_TOUCHES

    visit = hand.visit()
    assert visit["place"]["by"] == "gps" and visit["place"]["is_here"]
    assert visit["weather"] == {"temperature_c": 18, "wind": "light", "rain": "none", "are_flying": True}
    assert [row["state"] for row in visit["colonies"]] == ["clean"] * COLONIES
    assert visit["cleaned"]["what"] == ["hands", "tools", "smoker", "clothing", "boots"]
    assert (
        visit["signed"]["by"] == "Ottar Brask"
        and visit["signed"]["strokes"]
        and visit["signed"]["keeper_strokes"]
    )
    assert visit["is_whole"]
    until_handed_in(hand.page)
    rows = [row for row in desk.desk.snapshot().ground.visits if row.visit == visit["visit"]]
    assert [(row.colonies_present, row.colonies_inspected, row.colonies_suspect) for row in rows] == [
        (12, 12, 0)
    ]


def test_a_second_touch_is_suspect_and_the_last_touch_can_be_taken_back(phone: Phone) -> None:
    hand = phone()
    visit = begun(hand, present=5)
    hand.go(f"/visit/{visit}/colonies")
    hand.on(hand.hive(2))
    hand.recorded("colony 2 clean")
    hand.page.wait_for_timeout(BOUNCE_MS)
    hand.on(hand.hive(2))
    hand.recorded("colony 2 suspect")
    expect(hand.hive(2)).to_have_attribute("data-state", "suspect")
    hand.touch("Take back")
    expect(hand.hive(2)).to_have_attribute("data-state", "clean")
    hand.touch("Mark not opened")
    hand.on(hand.hive(4))
    expect(hand.hive(4)).to_have_attribute("data-state", "not_opened")
    states = {row["colony"]: row["state"] for row in hand.visit()["colonies"]}
    assert states == {2: "clean", 4: "not_opened"}
    lines = "fieldbook.book.visits[0].colonies.length"
    assert hand.page.evaluate(lines) == 2, "each later line stands for the earlier one about the same hive"


def test_a_bounce_of_the_glove_is_one_touch(phone: Phone) -> None:
    hand = phone()
    visit = begun(hand, present=3)
    hand.go(f"/visit/{visit}/colonies")
    hand.hive(1).evaluate("one => { one.click(); one.click(); }")
    hand.recorded("colony 1 clean")
    expect(hand.hive(1)).to_have_attribute("data-state", "clean")


def test_what_the_phone_could_not_write_is_said_not_shown(phone: Phone) -> None:
    hand = phone()
    visit = begun(hand, present=3)
    hand.go(f"/visit/{visit}/colonies")
    hand.page.evaluate(
        "() => { const book = fieldbook.book; const real = book.write.bind(book);"
        " globalThis.mend = () => { book.write = real; };"
        " book.write = () => new Promise((_, no) => setTimeout(() => no(new Error('The phone is full.')), 300)); }"
    )
    hand.on(hand.hive(1))
    expect(hand.page.locator("[data-state='writing']")).to_be_visible()
    expect(hand.hive(1)).to_have_attribute("data-state", "none")
    alert = hand.page.get_by_role("alert")
    expect(alert).to_contain_text("Not recorded: colony 1 clean")
    expect(alert).to_contain_text("The phone is full.")
    expect(hand.hive(1)).to_have_attribute("data-state", "none")
    hand.page.evaluate("mend()")
    hand.touch("Try again")
    expect(alert).to_have_count(0)
    hand.recorded("colony 1 clean")
    expect(hand.hive(1)).to_have_attribute("data-state", "clean")
    assert [row["state"] for row in hand.visit()["colonies"]] == ["clean"]


def test_a_failed_try_does_not_come_back_over_what_was_recorded_later(phone: Phone) -> None:
    hand = phone()
    visit = begun(hand, present=3)
    hand.go(f"/visit/{visit}/colonies")
    hand.page.evaluate(
        "() => { const book = fieldbook.book; const real = book.write.bind(book); let left = 2;"
        " book.write = (...line) => (left-- > 0 ? Promise.reject(new Error('Full.')) : real(...line)); }"
    )
    alerts = hand.page.get_by_role("alert")
    hand.on(hand.hive(1))
    expect(alerts).to_contain_text("colony 1 clean")
    hand.on(hand.hive(2))
    expect(alerts).to_contain_text("colony 2 clean")
    expect(alerts).to_contain_text("colony 1 clean")
    for state in ("clean", "suspect"):
        hand.page.wait_for_timeout(BOUNCE_MS)
        hand.on(hand.hive(2))
        expect(hand.hive(2)).to_have_attribute("data-state", state)
    expect(alerts).not_to_contain_text("colony 2")
    expect(alerts).to_contain_text("colony 1 clean")


def test_far_from_the_place_on_the_register_it_asks_first(phone: Phone) -> None:
    hand = phone(at=AT_C)
    hand.go("/stop/N")
    expect(hand.page.get_by_text("GPS, known to 12 m")).to_be_visible()
    hand.touch("I am here: begin the visit")
    expect(hand.page.get_by_text(re.compile("outside the place on the register"))).to_be_visible()
    assert hand.visit() is None
    hand.touch("No, or not sure")
    hand.question("Is this the place?")
    assert hand.visit()["place"] is None
    hand.touch("The apiary stands here")
    hand.touch("Yes, it stands here")
    expect(hand.page.get_by_text("The place is confirmed")).to_be_visible()
    assert hand.visit()["place"]["accuracy_m"] == 12


def test_a_loose_fix_confirms_no_place(phone: Phone) -> None:
    hand = phone(at={**AT_N, "accuracy": 900})
    hand.go("/stop/N")
    expect(hand.page.get_by_text("Too loose to say which apiary this is.")).to_be_visible()
    hand.touch("Begin the visit")
    hand.question("Is this the place?")
    assert hand.visit()["place"] is None


def test_without_gps_the_place_is_given_by_hand(phone: Phone) -> None:
    hand = phone(at=None)
    hand.go("/stop/N")
    hand.touch("Begin the visit")
    hand.question("Is this the place?")
    hand.touch("Type the place") if hand.button("Type the place").count() else hand.page.locator(
        "summary"
    ).first.click()
    hand.page.get_by_label("Latitude, longitude").fill("behind the barn")
    hand.touch("Write down this place")
    expect(hand.page.get_by_text("cannot be read as a place")).to_be_visible()
    hand.page.get_by_label("Latitude, longitude").fill("54.8315, 0.3339")
    hand.touch("Write down this place")
    hand.recorded("the place")
    place = hand.visit()["place"]
    assert (place["latitude"], place["longitude"], place["by"]) == (54.8315, 0.3339, "hand")


def test_a_suspect_colony_from_the_sign_to_what_it_means_for_the_day(phone: Phone, desk: FieldDesk) -> None:
    hand = phone()
    page = hand.page
    visit = begun(hand, present=4)
    hand.go(f"/visit/{visit}/colonies")
    hand.on(hand.hive(3))
    hand.recorded("colony 3 clean")
    page.wait_for_timeout(BOUNCE_MS)
    hand.on(hand.hive(3))
    hand.touch("Write down what is seen in colony 3")
    expect(
        page.get_by_text("Do not wait for more signs or for another test before you notify.")
    ).to_be_visible()
    hand.touch("American foulbrood")
    hand.go(f"/visit/{visit}/colony/3/signs")
    hand.touch("Seen: sunken caps")
    hand.touch("Seen: coffee-brown remains")
    hand.touch("Seen: coffee-brown remains")
    hand.touch("Seen: coffee-brown remains")
    hand.touch("Not there: patchy brood")
    hand.touch("Next: Tests")
    hand.touch("25 mm")
    hand.recorded("ropiness")
    hand.touch("Next: Weigh the evidence")
    expect(page.get_by_text("Suspicion is enough to notify.").first).to_be_visible()
    hand.recorded("weighing of colony 3")
    colony = next(row for row in hand.visit()["colonies"] if row["colony"] == 3)
    assert colony["disease"] == "AFB"
    assert colony["signs"] == {"caps_sunken": True, "coffee_brown": True, "patchy": False}
    assert colony["weighed"]["verdict"] == "suspected"
    assert colony["weighed"]["conditions"]["AFB"] > 0.9
    hand.touch("What this means for the day")
    expect(page.get_by_text("No clean apiary before decontamination")).to_be_visible()
    expect(page.get_by_text("Whom to notify: the bee inspectorate").first).to_be_visible()
    for address in ("/", "/stop/E"):
        hand.go(address)
        expect(page.get_by_text("No clean apiary before you are decontaminated.")).to_be_visible()
    hand.touch("Washing")
    for piece in ("hands", "tools", "clothing", "boots"):
        hand.on(page.get_by_role("button", name=piece, exact=True))
    expect(hand.button("boots", exact=True)).to_have_attribute("aria-pressed", "true")
    hand.go("/stop/E")
    expect(page.get_by_text("No clean apiary before you are decontaminated.")).to_have_count(0)
    until_handed_in(page)
    outbreak = desk.desk.snapshot().outbreak("AFB-2026-1")
    assert "N" in {case.apiary for case in outbreak.cases}


def test_the_clock_of_a_field_test_goes_on_while_the_book_is_killed(phone: Phone) -> None:
    hand = phone()
    page = hand.page
    visit = begun(hand, present=4)
    hand.go(f"/visit/{visit}/colony/2/tests")
    hand.touch("Field test for American foulbrood", exact=True)
    hand.touch("LOT-7, good until 1 Aug 2026")
    hand.touch("The drops are in: start the clock")
    expect(page.get_by_text("Do not read it yet.")).to_be_visible()
    page.evaluate(
        "() => { const rows = JSON.parse(localStorage['broodsweep.timers']);"
        " rows[0].started_at -= 200_000; localStorage['broodsweep.timers'] = JSON.stringify(rows); }"
    )
    page.reload()
    unlock(page)
    hand.question("Colony 2: tests")
    expect(page.get_by_text("Read it now, and before 10 minutes are over.")).to_be_visible()
    hand.touch("Both lines: positive")
    hand.recorded("field test")
    (test,) = next(row for row in hand.visit()["colonies"] if row["colony"] == 2)["tests"]
    reading = test["reading"]
    assert (reading["test"], reading["lines"], reading["lot"]) == ("lateral_flow_afb", ["C", "T"], "LOT-7")
    assert 3.3 <= reading["read_after_min"] <= 5
    assert page.evaluate("localStorage['broodsweep.timers']") == "[]"
    expect(page.get_by_text("not evidence")).to_have_count(0)
    hand.touch("Declare void")
    hand.recorded("declared void")
    expect(page.get_by_role("heading", name="Done")).to_have_count(0)


def test_after_a_kill_the_same_screen_stands_with_all_that_was_recorded(phone: Phone) -> None:
    hand = phone()
    page = hand.page
    visit = begun(hand, present=6)
    hand.go(f"/visit/{visit}/notes")
    page.get_by_label("Note", exact=True).fill("half a sent")
    until(page, f"fieldbook.book.draft('note.{visit}').then((kept) => kept === 'half a sent')")
    hand.go(f"/visit/{visit}/colonies")
    for number in (1, 2, 5):
        hand.on(hand.hive(number))
        hand.recorded(f"colony {number} clean")
    page.reload()
    unlock(page)
    hand.question("How do they stand?")
    expect(page.locator("[data-state='clean']")).to_have_count(3)
    hand.go(f"/visit/{visit}/notes")
    expect(page.get_by_label("Note", exact=True)).to_have_value("half a sent")
    expect(page.get_by_text("Not written down yet.")).to_be_visible()


JPEG_WITH_PLACE = """async () => {
  const canvas = new OffscreenCanvas(3000, 2000);
  const pen = canvas.getContext('2d');
  pen.fillStyle = '#a86'; pen.fillRect(0, 0, 3000, 2000);
  const plain = new Uint8Array(await (await canvas.convertToBlob({ type: 'image/jpeg' })).arrayBuffer());
  const words = new TextEncoder().encode('Exif\\0\\0GPSLatitude 54.8 SerialNumber 1234');
  const segment = new Uint8Array(4 + words.length);
  segment.set([0xff, 0xe1, (words.length + 2) >> 8, (words.length + 2) & 0xff]); segment.set(words, 4);
  const all = new Uint8Array([...plain.slice(0, 2), ...segment, ...plain.slice(2)]);
  return btoa(Array.from(all, (byte) => String.fromCharCode(byte)).join(''));
}"""


def test_a_photograph_is_kept_small_and_without_its_metadata(phone: Phone) -> None:
    hand = phone()
    visit = begun(hand, present=2)
    hand.go(f"/visit/{visit}/colony/1/photos")
    taken = base64.b64decode(hand.page.evaluate(JPEG_WITH_PLACE))
    assert b"GPSLatitude" in taken
    picture = {"name": "comb.jpg", "mimeType": "image/jpeg", "buffer": taken}
    hand.page.locator("input[capture]").set_input_files(picture)  # type: ignore[arg-type]
    hand.recorded("a photograph")
    expect(hand.page.get_by_role("img", name="Photograph 1, colony 1")).to_be_visible()
    (photo,) = hand.visit()["photos"]
    assert (photo["width"], photo["height"], photo["colony"]) == (2048, 1365, 1)
    text = hand.page.evaluate(
        "async (name) => { const bytes = new Uint8Array(await (await fieldbook.book.photo(name)).arrayBuffer());"
        " return Array.from(bytes, (byte) => String.fromCharCode(byte)).join(''); }",
        photo["photo"],
    )
    assert len(text) == photo["bytes"]
    assert "GPSLatitude" not in text and "Exif" not in text


CAMERA = """
navigator.mediaDevices.getUserMedia = async () => document.createElement('canvas').captureStream();
HTMLMediaElement.prototype.play = async () => undefined;
globalThis.BarcodeDetector = class { async detect() { return [{ rawValue: 'lab-77001' }]; } };
"""


def test_a_sample_is_scanned_or_typed_with_a_check_and_handed_on(phone: Phone) -> None:
    hand = phone(script=CAMERA)
    page = hand.page
    visit = begun(hand, present=2)
    hand.go(f"/visit/{visit}/colony/2/samples")
    page.get_by_label("Number of the seal").fill("5521")
    hand.touch("Scan the label")
    hand.recorded("sample LAB-77001")
    page.get_by_label("Label on the sample").fill("LAB-77001")
    page.get_by_label("Its last 3 characters again").fill("001")
    hand.touch("Write down the sample")
    expect(page.get_by_role("alert")).to_contain_text("already on another sample")
    page.get_by_label("Label on the sample").fill("LAB-77002")
    hand.touch("Write down the sample")
    expect(page.get_by_role("alert")).to_contain_text("differ from the label")
    page.get_by_label("Its last 3 characters again").fill("002")
    hand.touch("Write down the sample")
    hand.recorded("sample LAB-77002")
    page.locator("summary").filter(has_text="LAB-77001").click()
    page.get_by_label("Handed to").first.fill("District laboratory")
    hand.touch("Handed over now")
    hand.recorded("handed to District laboratory")
    first, second = hand.visit()["samples"]
    assert (first["sample"], first["of"], first["note"]) == ("LAB-77001", "brood_comb", "Seal 5521")
    assert [row["to"] for row in first["handed"]] == ["District laboratory"]
    assert (second["sample"], second["handed"]) == ("LAB-77002", [])


def test_what_the_keeper_said_is_written_from_the_first_touch_on(phone: Phone) -> None:
    hand = phone()
    page = hand.page
    visit = begun(hand, present=2)
    hand.go(f"/visit/{visit}/keeper")
    hand.touch("Came in")
    hand.touch("Nuclei")
    hand.recorded("nuclei")
    (report,) = hand.visit()["reports"]
    assert (report["direction"], report["goods"], report["quantity"]) == ("in", "nuclei", None)
    hand.touch("3", exact=True)
    hand.recorded("3 nuclei")
    page.get_by_label("On which day?").fill("2026-05-03")
    page.get_by_label("From whom, from where?").fill("a man at the market")
    page.get_by_label("From whom, from where?").blur()
    hand.recorded("a man at the market")
    page.locator("summary").filter(has_text="Choose the apiary").click()
    hand.on(page.get_by_role("button", name=re.compile("^C Ottar Brask")))
    hand.recorded("from C")
    (report,) = hand.visit()["reports"]
    assert (report["quantity"], report["moved_on"], report["other"]) == (3, "2026-05-03", "C")
    assert report["other_said"] == "a man at the market"
    hand.touch("Take back")
    expect(page.get_by_role("heading", name="Did anything come in or go out?")).to_be_visible()
    assert [row for row in hand.visit()["reports"] if not row["is_void"]] == []


def test_a_signed_visit_is_amended_with_a_reason_never_edited(phone: Phone) -> None:
    hand = phone()
    page = hand.page
    visit = page.evaluate(SEED_VISIT, {"apiary": "N", "present": 4})
    signed = (
        "visit => fieldbook.book.sign(visit, { by: 'Ottar Brask', role: 'lead', keeper_was_there: false,"
        " keeper_name: '', strokes: [[[1, 1], [9, 9]]], keeper_strokes: [] })"
    )
    page.evaluate(signed, visit)
    hand.go(f"/visit/{visit}/weather")
    expect(page.get_by_text("This visit is signed.")).to_be_visible()
    expect(page.get_by_role("button", name="18°")).to_have_count(0)
    hand.touch("Amend", exact=True)
    expect(page.get_by_text("Give a reason first.")).to_be_visible()
    page.get_by_label("Why is it amended?").fill("Read the wrong thermometer")
    hand.touch("Amend", exact=True)
    hand.touch("18°")
    hand.recorded("the weather")
    now = hand.visit()
    assert now["weather"]["temperature_c"] == 18
    assert [(row["kind"], row["reason"]) for row in now["amended"]] == [
        ("weather_seen", "Read the wrong thermometer")
    ]
    assert now["late"] == [] and now["is_whole"]


def test_a_found_apiary_takes_five_touches_and_is_on_the_register_at_the_next_contact(
    phone: Phone, desk: FieldDesk
) -> None:
    hand = phone()
    page = hand.page
    hand.touch("New apiary found")
    expect(page.get_by_text("GPS, known to 12 m")).to_be_visible()
    for _ in range(3):
        hand.touch("one more")
    hand.touch("Write down this apiary")
    expect(page.get_by_text("is written down.")).to_be_visible()
    assert hand.touches == 5
    (found,) = page.evaluate("JSON.parse(JSON.stringify(fieldbook.book.found))")
    assert (found["colonies"], found["accuracy_m"]) == (4, 12)
    until_handed_in(page)
    assert found["apiary"] in {row.apiary for row in desk.desk.snapshot().ground.apiaries}
    hand.touch("Begin a visit there")
    hand.question("Am I at the right apiary?")


def test_a_keyboard_alone_does_a_whole_visit(phone: Phone) -> None:
    hand = phone()
    page = hand.page

    def press(name: str) -> None:
        tab_to(page, name)
        page.keyboard.press("Enter")

    press("N Una Selvik")
    hand.question("Am I at the right apiary?")
    expect(hand.button("I am here: begin the visit")).to_be_visible()
    press("I am here: begin the visit")
    hand.question("What is the weather?")
    assert page.evaluate("document.activeElement.tagName") == "H1", "the focus goes to the new screen"
    for answer in ("18°", "light", "none", "Flying"):
        press(answer)
    press("Next: Colonies")
    press("There are 12 colonies")
    assert page.evaluate("document.activeElement !== document.body"), (
        "what was answered took the focus with it"
    )
    press("A run of clean ones")
    for _ in range(2):
        page.keyboard.press("Shift+Tab")
    press("Colony 12")
    expect(page.locator("[data-state='clean']")).to_have_count(COLONIES)
    press("Next: What the keeper said")
    hand.question("Where did bees come from and go to?")
    press("Next: Washing")
    hand.question("What was cleaned?")
    press("Hands, tools, smoker")
    press("Next: Sign")
    hand.question("Sign with the keeper")
    press("No")
    press("Type the name instead")
    press("Sign the visit")
    hand.question("The visit so far")
    visit = hand.visit()
    assert visit["signed"]["by"] == "Ottar Brask" and visit["signed"]["strokes"] == [] and visit["is_whole"]


@pytest.mark.parametrize(("size", "theme"), [(PHONE, "light"), (SMALL_PHONE, "dark"), (TABLET, "light")])
def test_every_screen_is_whole_and_axe_finds_nothing(phone: Phone, size: tuple[int, int], theme: str) -> None:
    hand = phone(size=size, theme=theme, has_touch=True)
    page = hand.page
    complaints: list[str] = []
    page.on(
        "console", lambda said: complaints.append(said.text) if said.type in ("error", "warning") else None
    )
    page.on("pageerror", lambda error: complaints.append(str(error)))
    visit = page.evaluate(SEED_VISIT, {"apiary": "N", "present": 40})
    # In the dark only the colours differ: the screens with every kind of part on them are enough.
    looked_at_by_axe = {PHONE: ADDRESSES, SMALL_PHONE: IN_THE_DARK, TABLET: ()}[size]
    for address in ADDRESSES:
        hand.go(address.replace("/V", f"/{visit}"))
        expect(page.get_by_text("Loading …")).to_have_count(0)
        assert "⟦" not in page.content(), f"{address}: a key without a sentence"
        assert page.evaluate(WIDER) == 0, f"{address}: sideways scrolling"
        assert page.evaluate(SMALL, [TARGETS, LEAST_PX - 0.5]) == [], f"{address}: a target for a glove"
        if address in looked_at_by_axe:
            assert found_by_axe(page) == [], address
    assert complaints == []


def test_no_plain_word_stands_outside_the_catalogue(phone: Phone, desk: FieldDesk) -> None:
    hand = phone()
    page = hand.page
    page.goto(f"{desk.address}/field/?locale=en-XA#/")
    unlock(page)
    until(page, "Boolean(fieldbook.book?.satchel)")
    visit = page.evaluate(SEED_VISIT, {"apiary": "N", "present": 4})
    told = page.evaluate("JSON.stringify([fieldbook.book.satchel, fieldbook.book.visits])")
    allowed = words_of_data() | set(WORD.findall(told)) | set(f"{MONTHS} {DAYS} {UNITS} Broodsweep".split())
    for address in ADDRESSES:
        hand.go(address.replace("/V", f"/{visit}"))
        page.wait_for_timeout(150)
        shown = page.evaluate(WALK)
        plain = {word: text for text in shown for word in WORD.findall(text) if word not in allowed}
        assert plain == {}, address


def test_with_the_largest_type_nothing_is_cut_off(phone: Phone) -> None:
    hand = phone(
        size=SMALL_PHONE,
        script="addEventListener('DOMContentLoaded', () => { const sheet = new CSSStyleSheet();"
        " sheet.replaceSync('html { font-size: 200% !important }'); document.adoptedStyleSheets = [sheet]; })",
    )
    visit = hand.page.evaluate(SEED_VISIT, {"apiary": "N", "present": 40})
    assert hand.page.evaluate("getComputedStyle(document.documentElement).fontSize") == "32px"
    for address in ADDRESSES:
        hand.go(address.replace("/V", f"/{visit}"))
        assert hand.page.evaluate(WIDER) == 0, f"{address}: sideways scrolling"


def test_with_no_signal_there_are_pictures_of_signs_the_weighing_and_the_map(
    phone: Phone, desk: FieldDesk
) -> None:
    hand = phone()
    page = hand.page
    until_kept_offline(page)
    until(
        page,
        "caches.open('broodsweep.fieldbook.map').then((kept) => kept.match('/api/basemap')).then(Boolean)",
    )
    desk.stop()
    page.context.set_offline(True)
    page.reload()
    unlock(page)
    visit = page.evaluate(SEED_VISIT, {"apiary": "N", "present": 4})
    hand.go(f"/visit/{visit}/colony/3/signs")
    expect(page.locator("[data-sign='caps_sunken'] svg[viewBox^='-34'] circle")).to_have_count(1)
    hand.touch("Not there: pierced caps")
    hand.recorded("pierced caps")
    hand.go(f"/visit/{visit}/colony/3/weighing")
    expect(page.get_by_text("Suspicion is enough to notify.").first).to_be_visible()
    hand.go("/near")
    hand.touch("Show the map")
    expect(page.locator("[data-idle=true]")).to_be_visible()


def test_the_map_is_loaded_when_it_is_asked_for_and_shows_the_own_place(phone: Phone) -> None:
    hand = phone()
    asked: list[str] = []
    # What the book fetches quietly, to have the map with no signal, is not the page loading it.
    hand.page.on(
        "request", lambda request: asked.append(request.url) if request.resource_type != "fetch" else None
    )
    hand.go("/near")
    expect(hand.page.get_by_role("img", name=re.compile("A sketch of the ground"))).to_be_visible()
    assert not [url for url in asked if "maplibre" in url or "/sheet-" in url]
    hand.touch("Show the map")
    expect(hand.page.locator("[data-idle=true]")).to_be_visible()
    hand.touch("Show the sketch")
    expect(hand.page.get_by_role("img", name=re.compile("A sketch of the ground"))).to_be_visible()
