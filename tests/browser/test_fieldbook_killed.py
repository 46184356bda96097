"""Random scripts in a real browser that is killed at random moments: what was shown as recorded comes home, once."""

from __future__ import annotations

import os
import random
import signal
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Error, Page

from tests.browser.conftest import ARGUMENTS, CHROMIUM, PATIENCE_MS
from tests.browser.fieldbook_phone import (
    PHONE_SIZE,
    PICTURE,
    FieldDesk,
    enrol,
    field_desk,
    same_lines,
    unlock,
    until,
    until_handed_in,
    until_kept_offline,
)

MOODS = ("well", "well", "slow", "trouble", "cut", "lost")

KEEP_WRITING = f"""async ({{ seed, known }}) => {{
  const book = fieldbook.book;
  const draw = {PICTURE};
  let state = seed;
  const chance = () => (state = (state * 1103515245 + 12345) % 2147483648) / 2147483648;
  let visit = known ?? await book.begin('N', 'sweep');
  for (let at = 0; ; at += 1) {{
    const of = {{ visit, apiary: 'N' }};
    const what = chance();
    let line;
    if (what < 0.6) line = await book.write('colony_looked', {{ colony: 1 + Math.floor(chance() * 20), state: 'clean', disease: null }}, of);
    else if (what < 0.85) line = await book.write('note_written', {{ text: `${{seed}} ${{at}}` }}, of);
    else {{
      const {{ picture, ...size }} = await draw(seed * 1000 + at);
      await shown({{ photo: await book.keepPhoto(picture, {{ visit, apiary: 'N', colony: null, note: '', ...size }}) }});
    }}
    if (line) await shown({{ line }});
    if (chance() < 0.1) {{
      await book.sign(visit, {{ by: 'O', role: 'inspector', keeper_was_there: false, keeper_name: '', strokes: [], keeper_strokes: [] }});
      visit = await book.begin('N', 'sweep');
    }}
    if (chance() < 0.3) await new Promise((done) => setTimeout(done, chance() * 60));
  }}
}}"""
"""Writes without end; tells what was shown as recorded only after the book said that it is."""


class Killed:
    """A phone whose browser is killed and started again on the same storage."""

    def __init__(self, browser: Browser, folder: Path) -> None:
        self.kind, self.folder = browser.browser_type, folder
        self.lines: dict[str, dict[str, Any]] = {}
        self.photos: set[str] = set()
        self.context: BrowserContext | None = None

    def start(self) -> Page:
        """Start the browser."""
        self.context = self.kind.launch_persistent_context(
            str(self.folder),
            executable_path=CHROMIUM,
            args=ARGUMENTS,
            viewport={"width": PHONE_SIZE[0], "height": PHONE_SIZE[1]},
        )
        self.context.set_default_timeout(PATIENCE_MS)
        self.context.expose_function("shown", self.shown)
        return self.context.pages[0]

    def shown(self, what: dict[str, Any]) -> None:
        """Note what the page shows as recorded."""
        if "line" in what:
            self.lines[what["line"]["line"]] = what["line"]
        else:
            self.photos.add(what["photo"])

    def kill(self) -> None:
        """Kill every process of this browser at once, as a phone whose battery falls out."""
        for entry in Path("/proc").iterdir():
            if not entry.name.isdigit() or int(entry.name) == os.getpid():
                continue
            with suppress(OSError):
                if str(self.folder).encode() in (entry / "cmdline").read_bytes():
                    os.kill(int(entry.name), signal.SIGKILL)
        with suppress(Error):
            self.close()
        for name in ("SingletonLock", "SingletonCookie", "SingletonSocket"):
            (self.folder / name).unlink(missing_ok=True)

    def close(self) -> None:
        """Close the browser."""
        if self.context:
            self.context.close()
            self.context = None


def script(desk: FieldDesk, phone: Killed, seed: int, kills: int) -> None:
    """Enrol, then write, be killed, start again, under a desk that is often away or in trouble."""
    rng = random.Random(seed)
    page = phone.start()
    enrol(page, desk)
    until(page, "fieldbook.book.satchel !== null")
    until_kept_offline(page)
    is_there = True
    for turn in range(kills):
        desk.line.mood = rng.choice(MOODS)
        if rng.random() < 0.3 and is_there:
            desk.stop()
            is_there = False
        elif not is_there and rng.random() < 0.7:
            desk.start()
            is_there = True
        known = page.evaluate("fieldbook.book.visits.find((one) => !one.signed)?.visit ?? null")
        with suppress(Error):
            page.evaluate(
                f"(asked) => {{ void ({KEEP_WRITING})(asked); }}", {"seed": seed * 100 + turn, "known": known}
            )
            if rng.random() < 0.5:
                page.evaluate("() => { void fieldbook.book.handIn(); }")
            before = len(phone.lines)
            for _ in range(600):  # on a crowded machine the first line may take its time
                page.wait_for_timeout(20)
                if len(phone.lines) > before:
                    break
            page.wait_for_timeout(rng.uniform(0, 700))
        phone.kill()
        page = phone.start()
        page.goto(f"{desk.address}/field/")
        unlock(page)
    desk.line.mood = "well"
    if not is_there:
        desk.start()
    page.evaluate("fieldbook.book.handIn()")
    until_handed_in(page)


def check(desk: FieldDesk, phone: Killed) -> None:
    """Compare what was shown as recorded with what the desk holds."""
    held = desk.held()
    assert same_lines(list(phone.lines.values()), held) == []
    numbers = sorted(line["number"] for line in held.values())
    assert numbers == list(range(1, len(numbers) + 1))
    taken = {line["body"]["photo"] for line in held.values() if line["kind"] == "photo_taken"}
    assert phone.photos <= taken
    assert {one.photo for one in desk.desk.store.kept_photos(taken)} == taken


@pytest.mark.parametrize("seed", [1, 2])
def test_a_killed_phone_loses_and_doubles_nothing(browser: Browser, tmp_path: Path, seed: int) -> None:
    with field_desk(tmp_path / "home") as desk:
        phone = Killed(browser, tmp_path / "phone")
        try:
            script(desk, phone, seed, kills=2)
            check(desk, phone)
        finally:
            phone.kill()
        assert len(phone.lines) >= 2  # one before each kill at least


@pytest.mark.slow
def test_a_phone_killed_at_twenty_moments_loses_and_doubles_nothing(browser: Browser, tmp_path: Path) -> None:
    with field_desk(tmp_path / "home") as desk:
        phone = Killed(browser, tmp_path / "phone")
        try:
            script(desk, phone, 100, kills=20)
            check(desk, phone)
        finally:
            phone.kill()
        assert len(phone.lines) >= 20


@pytest.mark.slow
def test_twenty_random_scripts_lose_and_double_nothing(browser: Browser, tmp_path: Path) -> None:
    shown = 0
    for seed in range(200, 220):
        with field_desk(tmp_path / f"home-{seed}") as desk:
            phone = Killed(browser, tmp_path / f"phone-{seed}")
            try:
                script(desk, phone, seed, kills=2)
                check(desk, phone)
            finally:
                phone.kill()
            shown += len(phone.lines)
    assert shown >= 40
