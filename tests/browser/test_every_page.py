"""Each page, on a phone and on a desk, light and dark: whole, quiet, and with nothing that axe finds."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from .conftest import DESK, PHONE, Opener, Served, settle

PAGES = {
    "today": "/today",
    "ground": "/ground?chosen=N",
    "apiary": "/ground/apiary/Z%2F1",
    "visit": "/ground/apiary/N?visit=1",
    "enter": "/ground/enter",
    "load": "/ground/load",
    "duplicates": "/ground/duplicates",
    "outbreaks": "/outbreaks",
    "field": "/fieldwork",
    "paper entry": "/fieldwork/paper",
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
WIDER = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
SMALL = """([targets, least]) => [...document.querySelectorAll(targets)]
    .filter((one) => one.checkVisibility() && one.getBoundingClientRect().height < least)
    .map((one) => one.outerHTML.slice(0, 120))"""
TARGETS = "button, a.button, summary, select, input:not([type=radio]):not([type=checkbox]), textarea, .choice, nav a"


def found_by_axe(page: Page) -> list[str]:
    violations = Axe().run(page).response["violations"]
    return [f"{one['id']}: {node['html'][:160]}" for one in violations for node in one["nodes"]]


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_whole_on_desk_and_phone_light_and_dark(opened: Opener, shared: Served, name: str) -> None:
    watched = opened(DESK, has_touch=True)
    page = watched.open(shared.address + PAGES[name])
    assert found_by_axe(page) == [], "desk, light"
    page.get_by_role("button", name="Dark sheet").click()
    settle(page)
    assert page.evaluate("document.documentElement.dataset.theme") == "dark"
    assert found_by_axe(page) == [], "desk, dark"
    assert page.evaluate(WIDER) == 0, "desk: no sideways scrolling"
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    settle(page)
    assert page.evaluate(WIDER) == 0, "phone: no sideways scrolling"
    assert page.evaluate(SMALL, [TARGETS, LEAST_PX]) == [], "phone: a target for a thumb"
    assert found_by_axe(page) == [], "phone, dark"
    watched.check_quiet(shared.address)
