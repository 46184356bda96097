"""A phone on the hotspot: Chromium over real TLS, with and without trust in the desk's authority."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from playwright.sync_api import Error, Page, sync_playwright

from broodsweep.web.pages import STATIC

from .conftest import WORDS, Team, free_port, need

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]
ARGUMENTS = [
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PATIENCE_MS = 45_000


@pytest.fixture
def served(team: Team) -> Iterator[int]:
    need("chromium", "certutil")
    if not (STATIC / "index.html").exists():
        pytest.skip("The pages are not built: python3 run.py setup")
    port = free_port()
    desk = team.serve("--hotspot", "--at", "127.0.0.1", port=port)
    import time
    import urllib.request

    for _ in range(300):
        try:
            urllib.request.urlopen(f"http://127.0.0.1:{port + 1}/", timeout=2)
            break
        except OSError:
            assert desk.poll() is None, (team.home / "serve.log").read_text()
            time.sleep(0.3)
    yield port
    desk.terminate()
    assert desk.wait(timeout=30) in (0, -15)


def phone_home(team: Team, *, trusts: bool) -> Path:
    """Make a home for a browser, whose certificate store trusts the authority or does not."""
    home = team.home / ("trusting" if trusts else "strange")
    store = home / ".pki/nssdb"
    store.mkdir(parents=True)
    database = f"sql:{store}"
    subprocess.run(["certutil", "-d", database, "-N", "--empty-password"], check=True)
    if trusts:
        held = ["-A", "-t", "C,,", "-n", "desk", "-i", str(team.home / "authority/authority.pem")]
        subprocess.run(["certutil", "-d", database, *held], check=True)
    return home


def look(home: Path, url: str, act: Callable[[Page], None]) -> None:
    """Open a page in a browser of its own, in a thread of its own: other browser tests keep a loop in this one."""

    def run() -> None:
        with sync_playwright() as running:
            browser = running.chromium.launch(
                executable_path="/usr/bin/chromium", args=ARGUMENTS, env={**os.environ, "HOME": str(home)}
            )
            page = browser.new_page(viewport={"width": 390, "height": 844})
            page.set_default_timeout(PATIENCE_MS)
            try:
                page.goto(url)
                act(page)
            finally:
                browser.close()

    with ThreadPoolExecutor(1) as thread:
        thread.submit(run).result()


def test_a_phone_that_trusts_the_desk_signs_in_and_may_work_offline(team: Team, served: int) -> None:
    def act(page: Page) -> None:
        page.get_by_label("Name", exact=True).fill("Una Selvik")
        page.get_by_label("Password", exact=True).fill(WORDS)
        page.get_by_role("button", name="Sign in", exact=True).click()
        page.get_by_role("link", name="Outbreaks").first.wait_for()
        assert page.evaluate("isSecureContext")
        page.goto(f"https://127.0.0.1:{served}/field/")
        scope = page.evaluate("navigator.serviceWorker.ready.then((found) => found.scope)")
        assert scope == f"https://127.0.0.1:{served}/field/"

    look(phone_home(team, trusts=True), f"https://127.0.0.1:{served}/", act)


def test_a_phone_that_does_not_trust_it_is_stopped_by_the_browser(team: Team, served: int) -> None:
    def act(_: Page) -> None:
        raise AssertionError("reached the desk without trust")

    with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
        look(phone_home(team, trusts=False), f"https://127.0.0.1:{served}/", act)


def test_the_page_without_tls_hands_out_the_certificate_and_nothing_else(team: Team, served: int) -> None:
    import httpx

    beside = f"http://127.0.0.1:{served + 1}"
    page = httpx.get(beside + "/")
    fingerprint = " ".join(page.text.split("<code>")[1].split("</code>")[0].split())
    assert len(fingerprint.replace(" ", "")) == 64 and fingerprint in (team.home / "serve.log").read_text()
    handed = httpx.get(beside + "/broodsweep-desk.crt")
    assert handed.content == (team.home / "authority/authority.pem").read_bytes()
    assert b"PRIVATE" not in handed.content
    for path in ("/api/session", "/authority.key", "/field/", "/../authority.key"):
        assert httpx.get(beside + path).status_code == 404
