"""The sheets Hidden and Rehearse: whole, in words, kept up by a visit, never a bare figure of a doubtful run."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from playwright.sync_api import Browser, expect

from broodsweep.constants import Disease
from broodsweep.desk.hidden_runs import HiddenRuns
from broodsweep.spread import Settings
from tests.web.conftest import TODAY, district, make_desk
from tests.web.test_hidden import QUICK

from .conftest import DESK, PHONE, Opener, Served, serving, settle, write_basemap
from .test_every_page import LEAST_PX, SMALL, TARGETS, WIDER, found_by_axe
from .test_words import DAYS, MONTHS, UNITS, WALK, WORD, words_of_data

HIDDEN = "/outbreaks/AFB-2026-1/hidden"
REHEARSE = "/outbreaks/AFB-2026-1/rehearse"


def served_with(
    settings: Settings, tmp_path_factory: pytest.TempPathFactory, *, begun: bool = True
) -> Iterator[Served]:
    """Serve a district with its run finished, or none begun."""
    home = tmp_path_factory.mktemp("home")
    write_basemap(home)
    desk = make_desk(district())
    runs = HiddenRuns(desk, settings=settings)
    if begun:
        runs.start(Disease.AFB, TODAY)
        runs.wait(Disease.AFB, TODAY)
    with serving(desk, home, runs=runs) as served:
        yield served


@pytest.fixture(scope="module")
def ready(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    yield from served_with(QUICK, tmp_path_factory)


@pytest.fixture
def fresh(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    yield from served_with(QUICK, tmp_path_factory, begun=False)


@pytest.fixture
def doubtful(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    yield from served_with(replace(QUICK, mcse_limit=1e-12), tmp_path_factory)


@pytest.mark.parametrize("address", [HIDDEN, REHEARSE])
def test_a_sheet_is_whole_on_desk_and_phone_light_and_dark(
    opened: Opener, ready: Served, address: str
) -> None:
    watched = opened(DESK, has_touch=True)
    page = watched.open(ready.address + address)
    if address == HIDDEN:
        expect(page.get_by_role("heading", name="All-clear")).to_be_visible()
        page.locator("details > summary").first.click()
    assert found_by_axe(page) == [], "desk, light"
    page.get_by_role("button", name="Dark sheet").click()
    settle(page)
    assert page.evaluate(WIDER) == 0, "desk: no sideways scrolling"
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    settle(page)
    assert page.evaluate(WIDER) == 0, "phone: no sideways scrolling"
    assert page.evaluate(SMALL, [TARGETS, LEAST_PX]) == [], "phone: a target for a thumb"
    assert found_by_axe(page) == [], "phone, dark"
    watched.check_quiet(ready.address)


@pytest.mark.parametrize("address", [HIDDEN, REHEARSE])
def test_no_plain_word_stands_outside_the_catalogue(opened: Opener, ready: Served, address: str) -> None:
    page = opened().open(f"{ready.address}{address}?locale=en-XA")
    allowed = words_of_data() | set(f"{MONTHS} {DAYS} {UNITS}".split())
    plain = {word: text for text in page.evaluate(WALK) for word in WORD.findall(text) if word not in allowed}
    assert plain == {}


def test_a_run_is_begun_and_a_visit_moves_the_figures(opened: Opener, fresh: Served) -> None:
    page = opened().open(fresh.address + HIDDEN)
    page.get_by_role("button", name="Reckon hidden infection").click()
    expect(page.get_by_role("heading", name="Infected and unseen")).to_be_visible(timeout=120_000)
    line = page.locator("#risk-N")
    expect(line).to_contain_text("1.0 km from C, the nearest confirmed apiary")
    expect(line).to_contain_text("Last clean visit 4 of 9 colonies")
    line.get_by_role("link", name="Record a visit").click()
    page.locator("form button.main").click()
    expect(line).to_contain_text("Last clean visit 9 of 9 colonies, 0 days ago")
    assert HIDDEN in page.url


def test_a_run_that_has_not_converged_shows_ranges_alone(opened: Opener, doubtful: Served) -> None:
    page = opened().open(doubtful.address + HIDDEN)
    expect(page.get_by_text("Not to be relied on yet").first).to_be_visible()
    for figure in page.locator(".risk .said").all_inner_texts():
        assert " to " in figure or figure.count("under") == 2, figure
    expect(page.locator(".unseen-number .large")).to_contain_text("between")
    expect(page.get_by_text("held back")).to_be_visible()
    expect(page.get_by_role("heading", name="Worth of a visit")).to_have_count(0)


def test_strategies_are_composed_and_compared(opened: Opener, ready: Served) -> None:
    page = opened().open(ready.address + REHEARSE)
    page.get_by_label("Days ahead").fill("30")
    page.get_by_label("Futures of each").fill("4")
    page.get_by_role("button", name="Add a strategy").click()
    page.get_by_label("Name").last.fill("Wait and see")
    page.get_by_role("button", name="Rehearse them").click()
    expect(page.get_by_role("heading", name="What came of them")).to_be_visible(timeout=120_000)
    rows = page.get_by_role("row")
    expect(rows).to_have_count(6)
    expect(rows.last).to_contain_text("Wait and see")
    expect(rows.last).to_contain_text("against the first")
    expect(page.get_by_role("img", name="Infected apiaries over time")).to_be_visible()
