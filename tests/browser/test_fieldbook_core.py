"""The field book in Chromium against the real desk: with no network, killed, full, renewed, cleared; nothing is lost."""

from __future__ import annotations

import io
import json
import re
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, expect

from broodsweep.access.parcel import open_parcel
from tests.browser.conftest import PATIENCE_MS
from tests.browser.fieldbook_phone import (
    PHONE_SIZE,
    PIN,
    TABLET_SIZE,
    VISIT,
    FieldDesk,
    copy_of_pages,
    enrol,
    field_desk,
    same_lines,
    unlock,
    until,
    until_handed_in,
    until_kept_offline,
)


@pytest.fixture
def desk(browser: Browser, tmp_path: Path) -> Iterator[FieldDesk]:
    with field_desk(tmp_path / "home") as made:
        yield made


@pytest.fixture
def phones(browser: Browser) -> Iterator[Any]:
    """Give a function that takes a new phone (a browser context of its own) out of its box."""
    contexts: list[BrowserContext] = []

    def make(size: tuple[int, int] = PHONE_SIZE, **more: Any) -> Page:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]}, has_touch=True, locale="en-GB", **more
        )
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        return context.new_page()

    yield make
    for context in contexts:
        context.close()


def visit(page: Page, *, colonies: int = 4, photos: int = 0, seed: int = 1, apiary: str = "N") -> Any:
    """Write a whole visit and give what was shown as recorded."""
    asked = {"apiary": apiary, "colonies": colonies, "photos": photos, "seed": seed}
    return page.evaluate(VISIT, asked)


def whole_at_the_desk(desk: FieldDesk, written: list[Any]) -> None:
    """Fail when something that was shown as recorded is not at the desk, or is there twice."""
    held = desk.held()
    for one in written:
        assert same_lines(one["shown"], held) == []
        assert len(desk.desk.store.kept_photos(one["pictures"])) == len(one["pictures"])
    numbers = [(line["device"], line["number"]) for line in held.values()]
    assert len(numbers) == len(set(numbers))


@pytest.mark.parametrize("size", [PHONE_SIZE, TABLET_SIZE], ids=["phone", "tablet"])
def test_a_whole_visit_with_photographs_needs_no_network(
    desk: FieldDesk, phones: Any, size: tuple[int, int]
) -> None:
    page = phones(size)
    enrol(page, desk)
    until(page, "fieldbook.book.satchel !== null")
    until_kept_offline(page)
    desk.stop()
    page.context.set_offline(True)
    page.reload()
    unlock(page)
    written = visit(page, colonies=12, photos=3)
    expect(page.locator("header.bar .unsent")).to_have_text("Only here: 21 entries, 3 photos")
    page.reload()
    unlock(page)
    (kept,) = page.evaluate("fieldbook.book.visits")
    assert (kept["is_whole"], len(kept["colonies"]), len(kept["photos"])) == (True, 12, 3)
    assert (
        page.evaluate("async (name) => (await fieldbook.book.photo(name)).size", written["pictures"][0]) > 0
    )
    assert desk.held() == {}
    page.context.set_offline(False)
    desk.start()
    page.evaluate("fieldbook.book.handIn()")
    until_handed_in(page)
    whole_at_the_desk(desk, [written])
    assert [row.visit for row in desk.desk.snapshot().ground.visits].count(written["visit"]) == 1


def test_the_book_can_be_put_on_the_home_screen(desk: FieldDesk, phones: Any) -> None:
    page = phones()
    page.goto(f"{desk.address}/field/")
    address = page.locator("link[rel=manifest]").get_attribute("href")
    told = page.evaluate("async (address) => (await fetch(address)).json()", address)
    assert (told["scope"], told["start_url"], told["display"]) == ("/field/", "/field/", "standalone")
    for icon in told["icons"]:
        answer = page.request.get(f"{desk.address}{icon['src']}")
        assert f"{Image.open(io.BytesIO(answer.body())).size[0]}x" in icon["sizes"]
    until_kept_offline(page)


def test_a_bad_line_and_a_troubled_desk_lose_and_double_nothing(desk: FieldDesk, phones: Any) -> None:
    page = phones()
    enrol(page, desk)
    written = []
    for seed, mood in enumerate(("slow", "trouble", "cut", "lost", "gone")):
        desk.line.mood = mood
        if mood == "gone":
            desk.stop()
        written.append(visit(page, photos=1, seed=seed))
        page.evaluate(
            "Promise.race([fieldbook.book.handIn(), new Promise((done) => setTimeout(done, 2500))])"
        )
    asked = desk.line.requests
    page.wait_for_timeout(1500)
    assert desk.line.requests - asked < 10  # waits between tries
    desk.line.mood = "well"
    desk.start()
    page.evaluate("fieldbook.book.handIn()")
    until_handed_in(page)
    whole_at_the_desk(desk, written)


def test_a_refused_line_says_when_it_is_tried_again(desk: FieldDesk, phones: Any) -> None:
    page = phones()
    enrol(page, desk)
    desk.line.mood = "trouble"
    visit(page)
    page.evaluate("fieldbook.book.handIn()")
    page.locator("header.bar .unsent").click()
    expect(page.get_by_text(re.compile("The desk did not take it. Next try in"))).to_be_visible()
    expect(page.get_by_text(re.compile("The oldest has been waiting for"))).to_be_visible()
    desk.line.mood = "well"
    page.get_by_role("button", name="Hand in now").click()
    until_handed_in(page)
    assert len(desk.held()) == 10


def test_two_phones_at_one_apiary_bring_home_two_visits(desk: FieldDesk, phones: Any) -> None:
    pages = [phones(), phones()]
    for number, page in enumerate(pages):
        enrol(page, desk, f"Phone {number}")
        page.context.set_offline(True)
    written = [visit(page, photos=1, seed=number) for number, page in enumerate(pages)]
    for page in pages:
        page.context.set_offline(False)
    for page in pages:
        page.evaluate("void fieldbook.book.handIn()")
    for page in pages:
        until_handed_in(page)
    whole_at_the_desk(desk, written)
    assert len({line["device"] for line in desk.held().values()}) == 2


def test_a_second_tab_sees_what_the_first_writes_and_numbers_have_no_gap(
    desk: FieldDesk, phones: Any
) -> None:
    first = phones()
    enrol(first, desk)
    desk.stop()
    second = first.context.new_page()
    second.goto(f"{desk.address}/field/")
    unlock(second)
    name = first.evaluate("fieldbook.book.begin('N', 'sweep')")
    until(second, "fieldbook.book.visits.length === 1")
    write = """(visit) => Array.from({ length: 15 }, (_, at) => fieldbook.book.write('note_written',
      { text: `${at}` }, { visit, apiary: 'N' }))"""
    for page in (first, second):
        page.evaluate(f"(visit) => {{ window.all = Promise.all(({write})(visit)); }}", name)
    lines = [line for page in (first, second) for line in page.evaluate("window.all")]
    assert sorted(line["number"] for line in lines) == list(range(2, 32))
    for page in (first, second):
        until(page, "fieldbook.book.visits[0].notes.length === 30")
        until(page, "fieldbook.book.unsent.lines === 31")


def test_a_full_phone_says_that_it_was_not_recorded(desk: FieldDesk, phones: Any) -> None:
    page = phones()
    console = page.context.new_cdp_session(page)
    console.send("Storage.overrideQuotaForOrigin", {"origin": desk.address, "quotaSize": 4_000_000})
    enrol(page, desk)
    page.context.set_offline(True)
    before = visit(page)
    said = page.evaluate(
        """async () => {
          const of = { visit: fieldbook.book.visits[0].visit, apiary: 'N' };
          const text = crypto.getRandomValues(new Uint32Array(8000)).join(' ');
          for (let at = 0; at < 60; at += 1) {
            try { await fieldbook.book.write('note_written', { text: `${at} ${text}` }, of); }
            catch (error) { return [error.key, error.message]; }
          }
        }"""
    )
    assert said[0] == "fieldbook.phone_full"
    assert said[1].startswith("This was not recorded: the phone's storage is full.")
    console.send("Storage.overrideQuotaForOrigin", {"origin": desk.address})
    after = visit(page, seed=2)
    page.context.set_offline(False)
    page.evaluate("fieldbook.book.handIn()")
    until_handed_in(page)
    whole_at_the_desk(desk, [before, after])
    numbers = sorted(line["number"] for line in desk.held().values())
    assert numbers == list(range(1, len(numbers) + 1))


def test_a_newer_book_waits_until_it_is_taken_and_reads_what_was_written(
    browser: Browser, phones: Any, tmp_path: Path
) -> None:
    static = copy_of_pages(tmp_path)
    with field_desk(tmp_path / "home", static=static) as desk:
        page = phones()
        enrol(page, desk)
        until_kept_offline(page)
        desk.line.mood = "trouble"
        written = visit(page, photos=1)
        page.evaluate("(visit) => { location.hash = `#/visit/${visit}`; }", written["visit"])
        make_newer(static)
        page.evaluate("navigator.serviceWorker.getRegistration('/field/').then((one) => one.update())")
        until(page, "navigator.serviceWorker.getRegistration('/field/').then((one) => Boolean(one.waiting))")
        offer = page.get_by_role("button", name="Change to it")
        expect(page.locator("h1")).to_be_visible()
        expect(offer).to_have_count(0)  # not while a visit is being written
        more = page.evaluate(
            "(visit) => fieldbook.book.write('visit_amended', { reason: 'x', kind: 'note_written',"
            " body: { text: 'after' } }, { visit, apiary: 'N' })",
            written["visit"],
        )
        assert page.evaluate("document.documentElement.dataset.version ?? null") is None
        page.locator("header.bar .home").click()
        offer.click()
        expect(page.locator("#unlock-pin")).to_be_visible()
        assert page.locator("meta[name=x-newer]").count() == 1
        unlock(page)
        desk.line.mood = "well"
        page.evaluate("fieldbook.book.handIn()")
        until_handed_in(page)
        whole_at_the_desk(desk, [written])
        assert same_lines([more], desk.held()) == []


def make_newer(static: Path) -> None:
    """Put a newer book in the place of the built one, as an update of the program does."""
    page, worker = static / "fieldbook.html", static / "field" / "sw.js"
    page.write_text(page.read_text().replace("<head>", '<head><meta name="x-newer" content="2" />'))
    told = re.sub(r'("url":"/field/","revision":)"[0-9a-f]+"', r'\1"newer"', worker.read_text())
    assert told != worker.read_text()
    worker.write_text(told)
    for path in (page, worker):
        path.with_name(f"{path.name}.gz").unlink(missing_ok=True)


def test_wrong_pins_slow_down_and_nothing_personal_lies_open(desk: FieldDesk, phones: Any) -> None:
    page = phones()
    enrol(page, desk)
    until(page, "fieldbook.book.satchel !== null")
    page.context.set_offline(True)
    page.evaluate("fieldbook.book.begin('N', 'sweep')")
    assert "Selvik" in json.dumps(page.evaluate("fieldbook.book.satchel"))
    lying = page.evaluate(
        """async () => {
          const base = await new Promise((done) => {
            const asked = indexedDB.open('broodsweep.fieldbook');
            asked.onsuccess = () => done(asked.result);
          });
          const texts = [];
          const look = (value) => {
            if (typeof value === 'string') texts.push(value);
            else if (value instanceof ArrayBuffer) texts.push(new TextDecoder('latin1').decode(value));
            else if (ArrayBuffer.isView(value)) texts.push(new TextDecoder('latin1').decode(value));
            else if (value && typeof value === 'object' && !(value instanceof CryptoKey)) Object.values(value).forEach(look);
          };
          for (const name of base.objectStoreNames) {
            const rows = await new Promise((done) => {
              const asked = base.transaction(name).objectStore(name).getAll();
              asked.onsuccess = () => done(asked.result);
            });
            if (name !== 'singles') rows.forEach(look);
            else rows.filter((row) => !row?.forms).forEach(look);
          }
          base.close();
          return texts.join('\\n') + JSON.stringify(localStorage);
        }"""
    )
    for secret in ("Selvik", "visit_begun", "01632", "Ottar"):
        assert secret not in lying
    page.reload()
    for _ in range(3):
        page.locator("#unlock-pin").fill("000000")
        page.locator("button.main").click()
        expect(page.get_by_role("alert")).to_contain_text("That is not the PIN")
    expect(page.locator("button.main")).to_be_disabled()
    page.reload()
    expect(page.locator("button.main")).to_be_disabled()  # waiting outlives the page
    page.wait_for_timeout(5000)
    unlock(page)


def test_the_book_locks_itself_out_of_sight_once_what_is_being_written_is_down(
    desk: FieldDesk, phones: Any
) -> None:
    page = phones()
    page.clock.install()
    enrol(page, desk)
    page.context.set_offline(True)
    name = page.evaluate("fieldbook.book.begin('N', 'sweep')")
    hide = """(is) => {
      Object.defineProperty(document, 'visibilityState', { configurable: true, get: () => (is ? 'hidden' : 'visible') });
      document.dispatchEvent(new Event('visibilitychange'));
    }"""
    page.evaluate(hide, True)
    page.clock.fast_forward("05:00")
    page.evaluate(hide, False)
    expect(page.locator("header.bar")).to_be_visible()
    page.evaluate(hide, True)
    page.evaluate(
        "(visit) => { window.late = fieldbook.book.write('note_written', { text: 'last' }, { visit, apiary: 'N' }); }",
        name,
    )
    page.clock.fast_forward("11:00")
    expect(page.locator("#unlock-pin")).to_be_visible()
    assert page.evaluate("fieldbook.book") is None
    page.evaluate(hide, False)
    unlock(page)
    assert page.evaluate("fieldbook.book.visits[0].notes") == ["last"]


def test_a_phone_whose_pin_is_forgotten_hands_in_by_a_file(desk: FieldDesk, phones: Any) -> None:
    page = phones()
    enrol(page, desk)
    page.context.set_offline(True)
    written = visit(page, photos=1)
    page.get_by_role("button", name="Lock the book").click()
    page.get_by_text("PIN forgotten").click()
    page.get_by_role("button", name="Save what is only here to a file").click()
    with page.expect_download() as saved:
        page.get_by_role("link", name=re.compile("Save Phone-one")).click()
    parcel = Path(saved.value.path()).read_bytes()
    for _ in range(2):  # opened twice it changes nothing
        asked_of(desk, "/api/field/parcels", parcel)
        whole_at_the_desk(desk, [written])
        assert len(desk.held()) == 11  # begun, 3, 4 colonies, photo, washing, signature
    page.get_by_role("checkbox").check()
    page.get_by_role("button", name="Clear this phone").click()
    expect(page.get_by_role("button", name="Enrol this phone")).to_be_visible()


def asked_of(desk: FieldDesk, path: str, body: bytes | None = None) -> bytes:
    """Ask the desk as its own pages do."""
    headers = {"Content-Type": "application/octet-stream"}
    asked = urllib.request.Request(f"{desk.address}{path}", data=body, headers=headers)
    with urllib.request.urlopen(asked, timeout=20) as answer:
        return bytes(answer.read())


def test_the_day_comes_to_the_phone_in_a_parcel(desk: FieldDesk, phones: Any) -> None:
    page, other = phones(), phones()
    desk.line.mood = "trouble"
    enrol_under_trouble(page, desk)
    assert page.evaluate("fieldbook.book.satchel") is None
    (phone,) = desk.access.devices.everyone()
    parcel = asked_of(desk, f"/api/field/phones/{phone.device}/parcel")
    file = {"name": "desk.parcel", "mimeType": "application/json", "buffer": parcel}
    page.context.set_offline(True)
    page.locator("header.bar .unsent").click()
    page.get_by_label("Or from a file of the desk").set_input_files(file)
    until(page, "fieldbook.book.satchel !== null")
    assert "Selvik" in json.dumps(page.evaluate("fieldbook.book.satchel"))
    enrol_under_trouble(other, desk)
    other.locator("header.bar .unsent").click()
    other.get_by_label("Or from a file of the desk").set_input_files(file)
    expect(other.get_by_role("alert").first).to_contain_text("This parcel was made for another phone")


def enrol_under_trouble(page: Page, desk: FieldDesk) -> None:
    """Enrol while the desk answers, and let it fall into trouble before anything is taken along."""
    page.route("**/api/fieldbook/satchel*", lambda route: route.abort())
    desk.line.mood = "well"
    enrol(page, desk)
    desk.line.mood = "trouble"


def test_a_lost_phone_hands_in_and_clears_itself(desk: FieldDesk, phones: Any) -> None:
    page = phones()
    enrol(page, desk)
    until(page, "fieldbook.book.satchel !== null")
    page.context.set_offline(True)
    written = visit(page, photos=1)
    (phone,) = desk.access.devices.everyone()
    desk.access.devices.revoke(phone.device, by="Ottar Brask", wipe=True)
    page.reload()
    unlock(page)
    page.context.set_offline(False)
    expect(page.get_by_text("This phone was cleared because the desk asked for it.")).to_be_visible()
    whole_at_the_desk(desk, [written])
    until(page, "true")
    for _ in range(100):
        if desk.access.devices.device(phone.device).wiped_at:
            break
        page.wait_for_timeout(50)
    assert desk.access.devices.device(phone.device).wiped_at is not None


def test_a_lost_phone_is_cleared_while_it_is_locked_and_nothing_unsent_is_lost(
    desk: FieldDesk, phones: Any
) -> None:
    page = phones()
    enrol(page, desk)
    page.context.set_offline(True)
    visit(page, photos=1)
    page.get_by_role("button", name="Lock the book").click()
    (phone,) = desk.access.devices.everyone()
    desk.access.devices.revoke(phone.device, by="Ottar Brask", wipe=True)
    page.context.set_offline(False)
    expect(page.locator("h1")).to_have_text("This phone was cleared")
    page.reload()
    expect(page.get_by_text("Only here: 11 entries, 1 photo")).to_be_visible()
    page.get_by_role("button", name="Save what is only here to a file").click()
    with page.expect_download() as saved:
        page.get_by_role("link", name=re.compile("Save Phone-one")).click()
    parcel = Path(saved.value.path()).read_bytes()
    found = open_parcel(parcel, receiver="desk", seal=desk.access.keys.seal, signed_by=phone.sign_key)
    assert len(found["pieces"]) == 12


def test_a_lost_phone_with_nothing_unsent_is_cleared_whole(desk: FieldDesk, phones: Any) -> None:
    page = phones()
    enrol(page, desk)
    page.get_by_role("button", name="Lock the book").click()
    (phone,) = desk.access.devices.everyone()
    desk.access.devices.revoke(phone.device, by="Ottar Brask", wipe=True)
    page.reload()
    expect(page.get_by_text("This phone was cleared because the desk asked for it.")).to_be_visible()


def test_signing_out_keeps_what_is_only_here(desk: FieldDesk, phones: Any) -> None:
    page = phones()
    enrol(page, desk)
    page.context.set_offline(True)
    visit(page)
    assert (
        page.evaluate("fieldbook.signOut(false).then(() => 'cleared', (error) => error.key)")
        == "fieldbook.phone_unsent_stays"
    )
    page.context.set_offline(False)
    until_handed_in(page)  # by itself, as the network is back
    page.locator("header.bar .unsent").click()
    page.get_by_role("checkbox").check()
    page.get_by_role("button", name="Clear this phone").click()
    expect(page.get_by_role("button", name="Enrol this phone")).to_be_visible()
    assert len(desk.held()) == 10


def test_the_pin_can_be_changed(desk: FieldDesk, phones: Any) -> None:
    page = phones()
    enrol(page, desk)
    page.locator("header.bar .unsent").click()
    page.locator("summary", has_text="Change the PIN").click()
    page.locator("#old-pin").fill(PIN)
    page.get_by_label("PIN", exact=True).last.fill("quince jam")
    page.get_by_label("The PIN again").fill("quince jam")
    page.get_by_role("button", name="Change the PIN").click()
    expect(page.get_by_text("The PIN was changed.")).to_be_visible()
    page.reload()
    unlock(page, "quince jam")


def test_a_code_works_once_and_the_page_says_so(desk: FieldDesk, phones: Any) -> None:
    address = desk.code()
    for page, is_first in ((phones(), True), (phones(), False)):
        page.goto(address)
        expect(page.get_by_label("Code from the desk")).not_to_have_value("")
        assert page.evaluate("location.hash") == "#/"  # the code is not left standing in the address
        page.get_by_label("Name of this phone").fill("Phone")
        page.get_by_label("PIN", exact=True).fill(PIN)
        page.get_by_label("The PIN again").fill(PIN)
        page.get_by_role("button", name="Enrol this phone").click()
        if is_first:
            expect(page.locator("header.bar")).to_be_visible()
        else:
            expect(page.get_by_role("alert")).to_contain_text("The desk did not take the code")


def with_exif() -> bytes:
    """A photograph as a camera writes it: turned, with the place and the camera's name in it."""
    image = Image.new("RGB", (3000, 2000), (180, 120, 40))
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0112] = "Camera works", "Lens 9", 6
    exif.get_ifd(0x8825).update({1: "N", 2: (54.0, 48.0, 0.0), 3: "E", 4: (0.0, 27.0, 0.0)})
    held = io.BytesIO()
    image.save(held, "JPEG", exif=exif)
    assert b"Camera works" in held.getvalue()
    return held.getvalue()


def test_a_photograph_keeps_nothing_of_where_and_with_what_it_was_taken(desk: FieldDesk, phones: Any) -> None:
    page = phones()
    enrol(page, desk)
    page.context.set_offline(True)
    name = page.evaluate("fieldbook.book.begin('N', 'sweep')")
    page.evaluate("(visit) => { location.hash = `#/visit/${visit}/photos`; }", name)
    files = {"name": "comb.jpg", "mimeType": "image/jpeg", "buffer": with_exif()}
    page.locator("input[type=file]").first.set_input_files(files)
    until(page, "fieldbook.book.visits[0].photos.length === 1")
    (photo,) = page.evaluate("fieldbook.book.visits[0].photos")
    assert (photo["width"], photo["height"]) == (1365, 2048)  # upright, and fitted
    raw = bytes(
        page.evaluate(
            "async (name) => Array.from(new Uint8Array(await (await fieldbook.book.photo(name)).arrayBuffer()))",
            photo["photo"],
        )
    )
    kept = Image.open(io.BytesIO(raw))
    assert kept.size == (1365, 2048)
    assert dict(kept.getexif()) == {}
    assert b"Camera works" not in raw
    assert b"Exif" not in raw


def test_axe_finds_nothing_on_the_frames_own_screens(desk: FieldDesk, phones: Any) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page = phones()
    axe = Axe()
    page.goto(desk.code())
    expect(page.locator("h1")).to_be_visible()
    found = {"enrol": axe.run(page).response["violations"]}
    enrol(page, desk)
    page.locator("header.bar .unsent").click()
    expect(page.locator("h1")).to_have_text("This phone")
    found["phone"] = axe.run(page).response["violations"]
    page.get_by_role("button", name="Lock the book").click()
    expect(page.locator("#unlock-pin")).to_be_visible()
    found["locked"] = axe.run(page).response["violations"]
    assert {
        where: [(one["id"], len(one["nodes"])) for one in all_] for where, all_ in found.items() if all_
    } == {}


def test_a_visit_that_the_desk_has_leaves_the_phone_after_a_week(desk: FieldDesk, phones: Any) -> None:
    page = phones()
    page.clock.install()
    enrol(page, desk)
    visit(page, photos=1)
    page.clock.run_for(2000)
    page.evaluate("fieldbook.book.handIn()")
    until_handed_in(page)
    open_one = page.evaluate("fieldbook.book.begin('N', 'sweep')")
    page.evaluate("fieldbook.book.handIn()")
    page.evaluate("fieldbook.book.tidy()")
    assert page.evaluate("fieldbook.book.visits.length") == 2
    page.clock.fast_forward(8 * 86_400_000)
    page.evaluate("fieldbook.book.tidy()")
    assert page.evaluate("fieldbook.book.visits.map((one) => one.visit)") == [open_one]  # still in hand
    line = page.evaluate(
        "(visit) => fieldbook.book.write('note_written', { text: 'x' }, { visit, apiary: 'N' })", open_one
    )
    assert line["number"] == 13  # numbers go on where they were


def test_the_map_is_taken_along(desk: FieldDesk, phones: Any) -> None:
    page = phones()
    enrol(page, desk)
    until(page, "fieldbook.book.takenAt !== null")
    held = """async () => (await (await caches.open('broodsweep.fieldbook.map')).keys())
      .map((request) => new URL(request.url).pathname)"""
    until(page, f"({held})().then((names) => names.includes('/basemap/roads.geojson'))")
    names = page.evaluate(held)
    assert "/api/basemap" in names
    assert any(name.startswith("/assets/") for name in names)
    until_kept_offline(page)
    desk.stop()
    page.context.set_offline(True)
    page.reload()
    answer = "async (name) => (await fetch(name)).status"
    assert [page.evaluate(answer, name) for name in names] == [200] * len(names)


def test_a_browser_that_cannot_keep_the_book_says_so(desk: FieldDesk, phones: Any) -> None:
    page = phones()
    page.add_init_script("Object.defineProperty(globalThis, 'isSecureContext', { value: false })")
    page.goto(f"{desk.address}/field/")
    expect(page.locator("h1")).to_have_text("This browser cannot keep the field book")


def test_an_older_book_does_not_touch_the_store_of_a_newer_one(desk: FieldDesk, phones: Any) -> None:
    page = phones()
    page.goto(f"{desk.address}/field/manifest-less")
    page.evaluate(
        """() => new Promise((done, refused) => {
          const asked = indexedDB.open('broodsweep.fieldbook', 99);
          asked.onsuccess = () => { asked.result.close(); done(); };
          asked.onerror = () => refused(asked.error);
        })"""
    )
    page.goto(f"{desk.address}/field/")
    expect(page.locator("h1")).to_have_text("The field book was renewed")


def test_every_word_of_the_frame_comes_from_the_catalogue(desk: FieldDesk, phones: Any) -> None:
    page = phones()
    page.goto(f"{desk.address}/field/?locale=en-XA")
    expect(page.locator("h1")).to_be_visible()
    texts = page.locator("h1, h2, p, label, button, a").all_inner_texts()
    assert len(texts) > 8
    plain = [text for text in texts if text.strip() and text.isascii()]
    assert plain == []
