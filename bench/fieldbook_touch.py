"""From the touch of a hive to its mark on the screen, which stands only when the line is on the disk."""

from __future__ import annotations

import tempfile
from pathlib import Path
from statistics import median, quantiles

from playwright.sync_api import Page
from tests.browser.fieldbook_phone import enrol, field_desk, until

from bench._browser import browsed

SLOWER = 4
HIVES = 60
GOAL = "under 50 ms"
BEGIN = """async (present) => {
  const visit = await fieldbook.book.begin('N', 'sweep');
  await fieldbook.book.write('colonies_counted', { present }, { visit, apiary: 'N' });
  location.hash = `/visit/${visit}/colonies`;
}"""
TOUCH = """async (number) => {
  const hive = document.querySelector(`[data-colony='${number}']`);
  const begun = performance.now();
  await new Promise((done) => {
    new MutationObserver((_, watcher) => {
      if (hive.dataset.state !== 'clean') return;
      watcher.disconnect();
      done();
    }).observe(hive, { attributes: true });
    hive.click();
  });
  return performance.now() - begun;
}"""


def _touched(page: Page) -> list[float]:
    """Touch every hive of a fresh visit; give the times. [ms]"""
    page.evaluate(BEGIN, HIVES)
    until(page, f"document.querySelectorAll('[data-colony]').length === {HIVES}")
    taken = []
    for number in range(1, HIVES + 1):
        taken.append(float(page.evaluate(TOUCH, number)))
        page.wait_for_timeout(60)
    return taken


def rows() -> list[dict[str, str]]:
    """Return what was measured."""
    found = []
    with tempfile.TemporaryDirectory() as home, field_desk(Path(home)) as desk, browsed() as page:
        page.set_viewport_size({"width": 390, "height": 844})
        enrol(page, desk)
        client = page.context.new_cdp_session(page)
        for rate in (1, SLOWER):
            client.send("Emulation.setCPUThrottlingRate", {"rate": rate})
            taken = _touched(page)
            slow = "" if rate == 1 else f", processor {rate} times slower"
            found.append(
                {
                    "what": f"field book: touch of a hive to its mark, {HIVES} hives{slow}: median (95 %)",
                    "ours": f"{median(taken):.0f} ms ({quantiles(taken, n=20)[-1]:.0f} ms)",
                    "goal": GOAL,
                }
            )
    return found
