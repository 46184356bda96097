"""What the benchmarks of the pages share: a desk served on this machine, and Debian's Chromium."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from broodsweep.desk.context import Desk
from broodsweep.desk.ports import Author
from broodsweep.register import TABLES, Ground
from broodsweep.rulebook import load_books
from broodsweep.store import MemoryStore

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@contextmanager
def served(ground: Ground, home: Path) -> Iterator[str]:
    """Serve a desk on a ground from this process until the block ends; give its address."""
    import uvicorn

    from broodsweep.web import create_app

    now = datetime(2026, 7, 8, 9, tzinfo=UTC)
    store = MemoryStore(now=lambda: now)
    with store.work(Author(who="bench"), "load") as work:
        for table in TABLES:
            work.save(table.name, getattr(ground, table.name))
    desk = Desk(store=store, books=load_books(None), now=lambda: now, as_of=now.date())
    config = uvicorn.Config(create_app(desk, home=home), port=0, log_level="error", lifespan="off")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    try:
        yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join(timeout=10)


@contextmanager
def browsed() -> Iterator[Any]:
    """Give a page of headless Chromium at desk size."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.set_default_timeout(120_000)
        try:
            yield page
        finally:
            browser.close()
