"""A desk served on a free port of this machine, and Debian's Chromium to look at it with."""

from __future__ import annotations

import json
import os
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Request,
    expect,
    sync_playwright,
)

from broodsweep.desk.context import Desk
from broodsweep.web import create_app
from broodsweep.web.pages import STATIC
from tests.web.conftest import district, make_desk

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
DESK, PHONE = (1440, 900), (390, 844)
PATIENCE_MS = 45_000
"""Long enough for a crowded machine; nothing waits for it on a quiet one."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark every test here, and keep them on one worker: they share one browser."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.xdist_group("browser"))


def wanting() -> str | None:
    """Say what is not there that these tests need."""
    if not (shutil.which("chromium") or Path(CHROMIUM).exists()):
        return "Chromium is not installed: python3 run.py system"
    if not (STATIC / "index.html").exists():
        return "The pages are not built: python3 run.py setup"
    return None


@dataclass
class Served:
    """A running desk."""

    address: str
    desk: Desk
    stop: Callable[[], None]


@contextmanager
def serving(desk: Desk, home: Path, **more: Any) -> Iterator[Served]:
    """Serve a desk on a free port until the block ends."""
    app = create_app(desk, home=home, **more)
    config = uvicorn.Config(app, host="127.0.0.1", port=0, log_level="error", lifespan="off")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    for _ in range(1000):
        if server.started:
            break
        time.sleep(0.01)
    port = server.servers[0].sockets[0].getsockname()[1]

    def stop() -> None:
        app.state.stopping.ask()  # the pages that listen for changes let go
        server.should_exit = True
        thread.join(timeout=10)

    try:
        yield Served(f"http://127.0.0.1:{port}", desk, stop)
    finally:
        stop()


def write_basemap(home: Path) -> None:
    """Write a small invented base map round the district."""
    folder = home / "basemap"
    folder.mkdir(parents=True)
    west, south, east, north = 0.3, 54.7, 1.2, 54.95
    land = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    layers: dict[str, list[dict[str, Any]]] = {
        "land": [{"geometry": {"type": "Polygon", "coordinates": [land]}, "properties": {"name": "Isle"}}],
        "roads": [
            {
                "geometry": {"type": "LineString", "coordinates": [[west, 54.8], [east, 54.82]]},
                "properties": {"class": "primary"},
            }
        ],
        "places": [
            {
                "geometry": {"type": "Point", "coordinates": [0.42, 54.82]},
                "properties": {"name": "Vimmvoe", "rank": 1},
            }
        ],
    }
    for name, features in layers.items():
        made = [{"type": "Feature", **feature} for feature in features]
        text = json.dumps({"type": "FeatureCollection", "features": made})
        (folder / f"{name}.geojson").write_text(text)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    lacking = wanting()
    if lacking:
        if os.environ.get("BROODSWEEP_REQUIRE_ALL") == "1":
            pytest.fail(lacking)
        pytest.skip(lacking)
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield made
        made.close()


@pytest.fixture(scope="session")
def shared(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A desk that tests only look at."""
    home = tmp_path_factory.mktemp("home")
    write_basemap(home)
    with serving(make_desk(district()), home) as served:
        yield served


@pytest.fixture
def own(browser: Browser, tmp_path: Path) -> Iterator[Served]:
    """A desk of the test's own, to write on."""
    write_basemap(tmp_path / "home")
    with serving(make_desk(district()), tmp_path / "home") as served:
        yield served


@pytest.fixture
def bare(browser: Browser, tmp_path: Path) -> Iterator[Served]:
    """A desk with nothing on record."""
    with serving(make_desk(None), tmp_path / "home") as served:
        yield served


def settle(page: Page) -> None:
    """Wait until the sheet stands and its map is drawn."""
    expect(page.locator("h1")).to_be_visible()
    expect(page.locator(".waiting")).to_have_count(0)
    if page.locator("figure[data-idle]").count():
        expect(page.locator("figure[data-idle=true]")).to_be_visible(timeout=PATIENCE_MS)


@dataclass
class Watched:
    """A page with what it said to the console and what it asked for."""

    page: Page
    complaints: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def open(self, address: str) -> Page:
        """Open an address and wait until the sheet stands."""
        self.page.goto(address)
        settle(self.page)
        return self.page

    def check_quiet(self, address: str) -> None:
        """Fail when the page complained, or asked for anything beyond this desk."""
        assert self.complaints == []
        assert [url for url in self.asked if not url.startswith((address, "data:", "blob:"))] == []


Opener = Callable[..., Watched]


@pytest.fixture
def opened(browser: Browser) -> Iterator[Opener]:
    """Give a function that opens a fresh browser context at a size and in a theme."""
    contexts: list[BrowserContext] = []

    def make(size: tuple[int, int] = DESK, theme: str = "light", **more: Any) -> Watched:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            color_scheme=theme,  # type: ignore[arg-type]
            reduced_motion="reduce",
            locale="en-GB",
            timezone_id="UTC",
            **more,
        )
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        watched = Watched(context.new_page())

        def heard(message: ConsoleMessage) -> None:
            if message.type == "error" or (message.type == "warning" and "GL Driver" not in message.text):
                watched.complaints.append(message.text)

        def wanted(request: Request) -> None:
            watched.asked.append(request.url)

        watched.page.on("console", heard)
        watched.page.on("pageerror", lambda error: watched.complaints.append(str(error)))
        watched.page.on("request", wanted)
        return watched

    yield make
    for context in contexts:
        context.close()
