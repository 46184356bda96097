"""A hand at the field book: it touches, types and signs as a user does, and counts its touches."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import Locator, Page, expect

from tests.browser.conftest import PATIENCE_MS
from tests.browser.fieldbook_phone import until

SEED_VISIT = """async ({ apiary, present }) => {
  const book = fieldbook.book;
  const visit = await book.begin(apiary, 'sweep');
  const of = { visit, apiary };
  const place = { longitude: 0.3337, latitude: 54.8314, accuracy_m: 8, by: 'gps', is_here: true };
  await book.write('place_confirmed', place, of);
  await book.write('weather_seen', { temperature_c: 17.5, wind: 'moderate', rain: 'drizzle', are_flying: true }, of);
  await book.write('colonies_counted', { present }, of);
  for (let colony = 1; colony < present; colony += 1) {
    const state = colony % 9 === 0 ? 'not_opened' : 'clean';
    await book.write('colony_looked', { colony, state, disease: null }, of);
  }
  await book.write('colony_looked', { colony: 3, state: 'suspect', disease: 'AFB' }, of);
  for (const sign of ['caps_sunken', 'coffee_brown', 'hard_scale'])
    await book.write('sign_seen', { colony: 3, sign, is_present: true }, of);
  const reading = { test: 'ropiness', length_mm: 25, done_on: '2026-07-08' };
  await book.write('test_done', { test: crypto.randomUUID(), colony: 3, reading, is_void: false }, of);
  await book.write('sample_taken', { sample: 'LAB-2026-000123456', colony: 3, of: 'brood_comb', note: '' }, of);
  const said = { report: crypto.randomUUID(), direction: 'in', goods: 'nuclei', quantity: 3, moved_on: '2026-05-03',
    other: null, other_said: 'A keeper whose name is long enough to need a second line on any phone', is_void: false };
  await book.write('keeper_said', said, of);
  await book.write('note_written', { text: 'A wordthatislongerthanthescreeniswidesothatithastobebrokensomewhere.' }, of);
  const canvas = new OffscreenCanvas(400, 300);
  canvas.getContext('2d').fillRect(0, 0, 200, 300);
  const picture = await canvas.convertToBlob({ type: 'image/jpeg' });
  await book.keepPhoto(picture, { visit, apiary, colony: 3, note: '', width: 400, height: 300 });
  return visit;
}"""
"""Writes a visit with something on every screen; gives its name."""


@dataclass
class Hand:
    """Touches the screen of a phone, and counts."""

    page: Page
    touches: int = field(default=0)

    def button(self, name: str, *, exact: bool = False) -> Locator:
        """Find a button or a link that looks like one."""
        found = self.page.get_by_role("button", name=name, exact=exact)
        return found.or_(self.page.get_by_role("link", name=name, exact=exact)).first

    def touch(self, name: str, *, exact: bool = False) -> None:
        """Touch a button or a link by its name."""
        self.on(self.button(name, exact=exact))

    def on(self, target: Locator) -> None:
        """Touch something."""
        target.click()
        self.touches += 1

    def hive(self, number: int) -> Locator:
        """Find a hive in the row."""
        return self.page.locator(f"[data-colony='{number}']")

    def question(self, words: str) -> None:
        """Wait for the screen with this question."""
        expect(self.page.get_by_role("heading", level=1, name=words)).to_be_visible(timeout=PATIENCE_MS)

    def recorded(self, words: str) -> None:
        """Wait until the screen says that this is recorded."""
        said = self.page.locator("[data-state='recorded']")
        expect(said).to_contain_text(words, timeout=PATIENCE_MS)

    def draw(self, label: str) -> None:
        """Sign in a box with one stroke."""
        box = self.page.get_by_role("img", name=label)
        box.evaluate("one => one.scrollIntoView({ block: 'center' })")
        place = box.bounding_box()
        assert place
        self.page.mouse.move(place["x"] + 30, place["y"] + 80)
        self.page.mouse.down()
        for step in range(1, 12):
            self.page.mouse.move(place["x"] + 30 + 14 * step, place["y"] + 80 - 40 * (step % 3))
        self.page.mouse.up()
        self.touches += 1

    def go(self, path: str) -> None:
        """Go to a screen by its address, and wait until its heading is there."""
        self.page.evaluate("path => { location.hash = path; }", path)
        until(self.page, f"location.hash === '#{path}' && document.querySelector('main h1') !== null")

    def visit(self) -> dict[str, Any]:
        """Give the newest visit as the book has it."""
        found: dict[str, Any] = self.page.evaluate(
            "JSON.parse(JSON.stringify(fieldbook.book.visits[0] ?? null))"
        )
        return found


def tab_to(page: Page, name: str, role: str | None = None, most: int = 120) -> None:
    """Go with the tabulator until something with this name has the focus."""
    for _ in range(most):
        page.keyboard.press("Tab")
        here = page.evaluate(
            "() => { const one = document.activeElement; if (one === document.body) return '';"
            " const label = one.labels?.[0]?.textContent ?? '';"
            " return `${one.getAttribute('aria-label') ?? ''} ${label} ${one.textContent}`; }"
        )
        if name in " ".join(here.split()):
            return
    raise AssertionError(f"Expected to reach {name!r} with the keyboard.")
