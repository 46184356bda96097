"""Each page, on a phone and on a desk, light and dark: whole, quiet, and with nothing that axe finds."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from .conftest import DESK, PHONE, Opener, Served

PAGES = {
    "today": "/today",
    "ground": "/ground?chosen=N",
    "apiary": "/ground/apiary/Z%2F1",
    "visit": "/ground/apiary/N?visit=1",
    "load": "/ground/load",
    "duplicates": "/ground/duplicates",
    "outbreaks": "/outbreaks",
    "open": "/outbreaks/open?apiary=E&disease=EFB&kind=suspected&found_on=2026-07-06",
    "outbreak": "/outbreaks/AFB-2026-1",
    "cases": "/outbreaks/AFB-2026-1?part=cases&record=C",
    "sweep": "/outbreaks/AFB-2026-1?part=sweep",
    "settings": "/settings",
    "rules": "/settings/rules/common-practice?change=sweep.first_ring",
    "journal": "/settings/journal",
    "nowhere": "/settings/nothing/here",
}
LEAST_PX = 44
TARGETS = "button, a.button, summary, select, input:not([type=radio]):not([type=checkbox]), textarea, .choice, nav a"


def settle(page: Page) -> None:
    """Wait until the sheet stands and its map is drawn."""
    expect(page.locator("h1")).to_be_visible()
    expect(page.locator(".waiting")).to_have_count(0)
    if page.locator("figure[data-idle]").count():
        expect(page.locator("figure[data-idle=true]")).to_be_visible()


def found_by_axe(page: Page) -> list[str]:
    violations = Axe().run(page).response["violations"]
    return [f"{one['id']}: {node['html'][:160]}" for one in violations for node in one["nodes"]]


@pytest.mark.parametrize("name", PAGES)
def test_a_page_on_the_desk_is_whole_in_both_themes(opened: Opener, shared: Served, name: str) -> None:
    watched = opened(DESK)
    page = watched.open(shared.address + PAGES[name])
    settle(page)
    assert found_by_axe(page) == []
    page.get_by_role("button", name="Dark sheet").click()
    settle(page)
    assert page.evaluate("document.documentElement.dataset.theme") == "dark"
    assert found_by_axe(page) == []
    watched.check_quiet(shared.address)


@pytest.mark.parametrize("name", PAGES)
def test_a_page_on_the_phone_fits_and_has_targets_for_a_thumb(
    opened: Opener, shared: Served, name: str
) -> None:
    watched = opened(PHONE, has_touch=True)
    page = watched.open(shared.address + PAGES[name])
    settle(page)
    wider = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wider == 0, "no sideways scrolling"
    small = page.evaluate(
        """([targets, least]) => [...document.querySelectorAll(targets)]
            .filter((one) => one.checkVisibility() && one.getBoundingClientRect().height < least)
            .map((one) => one.outerHTML.slice(0, 120))""",
        [TARGETS, LEAST_PX],
    )
    assert small == []
    assert found_by_axe(page) == []
    watched.check_quiet(shared.address)
