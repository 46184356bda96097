"""The field book in a browser: a desk that can go away and come back, a bad line to it, a phone that is enrolled."""

from __future__ import annotations

import asyncio
import json
import shutil
import threading
import time
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import uvicorn
from playwright.sync_api import Page, expect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from broodsweep.access import Access, open_access
from broodsweep.desk.context import Desk
from broodsweep.web import create_app
from broodsweep.web.pages import STATIC
from tests.browser.conftest import PATIENCE_MS, write_basemap
from tests.web.conftest import district, make_desk

PIN = "739182"
PHONE_SIZE, TABLET_SIZE = (390, 844), (820, 1180)
SLOW_S = 1.5
expect.set_options(timeout=PATIENCE_MS)  # the machine may be crowded


class BadLine:
    """Stands before the desk and does to requests of phones what bad lines and troubled desks do.

    ``well``, ``slow`` (each request waits), ``trouble`` (500), ``cut`` (the desk reads a part of what is sent and
    hangs up), ``lost`` (the desk does what is asked, the answer does not arrive).
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app, self.mood, self.requests, self.bytes_sent = app, "well", 0, 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Treat one request as the mood is, and count what is sent."""

        async def counted(message: Message) -> None:
            self.bytes_sent += len(message.get("body", b""))
            await send(message)

        await self._treat(scope, receive, counted)

    async def _treat(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or not scope["path"].startswith("/api/fieldbook/"):
            await self.app(scope, receive, send)
            return
        self.requests += 1
        if self.mood == "slow":
            await asyncio.sleep(SLOW_S)
        if self.mood == "trouble":
            await send({"type": "http.response.start", "status": 500, "headers": []})
            await send({"type": "http.response.body", "body": b"<h1>Internal error</h1>"})
        elif self.mood == "cut":
            await receive()
            await self._hang_up(send)
        elif self.mood == "lost":
            await self.app(scope, receive, _swallow)
            await self._hang_up(send)
        else:
            await self.app(scope, receive, send)

    async def _hang_up(self, send: Send) -> None:
        """Promise more bytes than are sent: the browser sees a torn answer."""
        headers = [(b"content-length", b"1000"), (b"content-type", b"application/json")]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": b'{"answers":[', "more_body": True})
        raise ConnectionResetError


async def _swallow(message: Message) -> None:
    """Let an answer fall."""


@dataclass
class FieldDesk:
    """A desk with a field book: it can be stopped, and started again at the same address."""

    home: Path
    desk: Desk
    static: Path
    access: Access = field(init=False)
    line: BadLine = field(init=False)
    port: int = 0
    server: uvicorn.Server | None = None
    thread: threading.Thread | None = None

    def __post_init__(self) -> None:
        self.access = open_access(None, now=self.desk.now)
        self.line = BadLine(create_app(self.desk, home=self.home, static=self.static, access=self.access))

    @property
    def address(self) -> str:
        """Where the desk is."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Answer, at the same address as before when there was one."""
        config = uvicorn.Config(
            self.line, host="127.0.0.1", port=self.port, log_level="critical", lifespan="off"
        )
        self.server = uvicorn.Server(config)
        self.thread = threading.Thread(target=self.server.run, daemon=True)
        self.thread.start()
        for _ in range(1000):
            if self.server.started:
                break
            time.sleep(0.01)
        self.port = self.server.servers[0].sockets[0].getsockname()[1]

    def stop(self) -> None:
        """Be gone: nothing answers any more."""
        if self.server and self.thread:
            self.server.should_exit = self.server.force_exit = True
            self.thread.join(timeout=10)

    def code(self) -> str:
        """Make a code as the desk's page does; give the address that the square shows."""
        asked = urllib.request.Request(
            f"{self.address}/api/access/phones",
            data=b"{}",
            headers={"Content-Type": "application/json"},
            method="POST",
        )
        with urllib.request.urlopen(asked, timeout=10) as answer:
            return str(json.load(answer)["address"])

    def held(self) -> dict[str, dict[str, Any]]:
        """Lines that the desk holds and counts, by their name."""
        rows = self.desk.store.lines()
        found = {str(row.line): json.loads(row.content) for row in rows}
        assert len(found) == len(rows), "The desk holds a line twice."
        return found


@contextmanager
def field_desk(home: Path, *, static: Path = STATIC) -> Iterator[FieldDesk]:
    """Serve a small district with a field book until the block ends."""
    write_basemap(home)
    made = FieldDesk(home=home, desk=make_desk(district()), static=static)
    made.start()
    try:
        yield made
    finally:
        made.stop()


def copy_of_pages(folder: Path) -> Path:
    """Copy the built pages, to change them."""
    return Path(shutil.copytree(STATIC, folder / "static"))


def enrol(page: Page, desk: FieldDesk, label: str = "Phone one") -> None:
    """Enrol a phone as its user does, from the square at the desk to the open book."""
    page.goto(desk.code())
    page.get_by_label("Name of this phone").fill(label)
    page.get_by_label("PIN", exact=True).fill(PIN)
    page.get_by_label("The PIN again").fill(PIN)
    page.get_by_role("button", name="Enrol this phone").click()
    expect(page.locator("header.bar")).to_be_visible(timeout=PATIENCE_MS)


def unlock(page: Page, pin: str = PIN) -> None:
    """Open the locked book."""
    page.locator("#unlock-pin").fill(pin)
    page.locator("button.main").click()
    expect(page.locator("header.bar")).to_be_visible(timeout=PATIENCE_MS)


def until(page: Page, expression: str, seconds: float = 45) -> Any:
    """Ask the page again and again until the answer is true; without `eval` in the page."""
    end = time.monotonic() + seconds
    found = None
    while time.monotonic() < end:
        found = page.evaluate(expression)
        if found:
            return found
        page.wait_for_timeout(50)
    raise AssertionError(f"Expected {expression} to come true, last seen {found!r}.")


def until_kept_offline(page: Page) -> None:
    """Wait until the service worker has everything that the book needs."""
    until(page, "navigator.serviceWorker.getRegistration('/field/').then((one) => Boolean(one?.active))")
    until(page, "navigator.serviceWorker.controller !== null")


def until_handed_in(page: Page, seconds: float = 60) -> None:
    """Wait until nothing is only on the phone, as its bar says."""
    expect(page.locator("header.bar .unsent")).to_have_attribute("data-unsent", "0", timeout=seconds * 1000)


def same_lines(shown: Sequence[dict[str, Any]], held: dict[str, dict[str, Any]]) -> list[str]:
    """Return the names of lines that were shown as recorded and are not at the desk as they were written."""
    return [line["line"] for line in shown if held.get(line["line"]) != line]


PICTURE = """async (seed) => {
  const canvas = document.createElement('canvas');
  canvas.width = 640; canvas.height = 480;
  const pen = canvas.getContext('2d');
  for (let at = 0; at < 300; at += 1) {
    pen.fillStyle = `hsl(${(seed * 37 + at * 17) % 360} 60% ${(at * 13) % 90}%)`;
    pen.fillRect((at * 71 + seed) % 640, (at * 53) % 480, 40, 40);
  }
  const picture = await new Promise((done) => canvas.toBlob(done, 'image/jpeg', 0.9));
  return { picture, width: 640, height: 480 };
}"""
"""Draws a picture of its own for a seed."""

VISIT = f"""async ({{ apiary, colonies, photos, seed }}) => {{
  const book = fieldbook.book;
  const draw = {PICTURE};
  const visit = await book.begin(apiary, 'sweep');
  const of = {{ visit, apiary }};
  const shown = [];
  const write = async (kind, body) => shown.push(await book.write(kind, body, of));
  await write('place_confirmed', {{ longitude: 0.45, latitude: 54.8, accuracy_m: 6, by: 'gps', is_here: true }});
  await write('weather_seen', {{ temperature_c: 17, wind: 'light', rain: 'none', are_flying: true }});
  await write('colonies_counted', {{ present: colonies }});
  for (let colony = 1; colony <= colonies; colony += 1)
    await write('colony_looked', {{ colony, state: 'clean', disease: null }});
  const pictures = [];
  for (let number = 0; number < photos; number += 1) {{
    const made = await draw(seed * 100 + number);
    const {{ picture, ...size }} = made;
    pictures.push(await book.keepPhoto(picture, {{ visit, apiary, colony: 1, note: '', ...size }}));
  }}
  await write('kit_cleaned', {{ what: ['hands', 'tools'], how: 'soda' }});
  await book.sign(visit, {{ by: 'Ottar Brask', role: 'inspector', keeper_was_there: false, keeper_name: '',
    strokes: [[[1, 1], [500, 500]]], keeper_strokes: [] }});
  return {{ visit, shown, pictures }};
}}"""
"""Writes a whole visit, each line awaited as the screens do; gives what was shown as recorded."""
