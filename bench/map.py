"""The map with 60,000 apiaries in headless Chromium: time until it is drawn, and each frame while it is dragged.

Headless Chromium draws by software here (ANGLE on SwiftShader): a machine with a graphics card is faster. A
frame is the time from one ``requestAnimationFrame`` to the next while the pointer drags the map to and fro.
"""

from __future__ import annotations

import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from bench._browser import browsed, served
from broodsweep.demo import make_register

APIARIES = 60_000
DRAGS, STEPS = 6, 40
FRAMES = """() => {
  window.frames_ms = [];
  let last = performance.now();
  const tick = (now) => { window.frames_ms.push(now - last); last = now; window.going && requestAnimationFrame(tick); };
  window.going = true;
  requestAnimationFrame(tick);
}"""


def drag(page: Any) -> list[float]:
    """Drag the map to and fro; return the time of each frame. [ms]"""
    box = page.locator("figure canvas").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.evaluate(FRAMES)
    for number in range(DRAGS):
        way = 1 if number % 2 else -1
        page.mouse.down()
        page.mouse.move(x + way * 150, y + way * 90, steps=STEPS)
        page.mouse.up()
        page.mouse.move(x, y)
    found: list[float] = page.evaluate("() => { window.going = false; return window.frames_ms; }")
    return found[1:]


def rows() -> list[dict[str, str]]:
    """Return the rows of the table."""
    with (
        tempfile.TemporaryDirectory() as home,
        served(make_register(APIARIES, seed=3), Path(home)) as address,
        browsed() as page,
    ):
        page.goto(f"{address}/settings")
        page.wait_for_load_state("networkidle")
        start = time.perf_counter()
        page.goto(f"{address}/ground")
        page.locator("figure[data-idle=true]").wait_for()
        idle_s = time.perf_counter() - start
        whole = drag(page)
        for _ in range(3):
            page.get_by_role("button", name="Closer").click()
            page.wait_for_timeout(1500)
        near = drag(page)
    return [
        {"what": "map of 60,000 apiaries: opened to idle", "ours": f"{idle_s:.1f} s"},
        _row("all 60,000 in view", whole),
        _row("three steps closer", near),
    ]


def _row(what: str, frames_ms: list[float]) -> dict[str, str]:
    median, high = statistics.median(frames_ms), statistics.quantiles(frames_ms, n=20)[-1]
    said = f"{median:.0f} ms median, {high:.0f} ms p95, {len(frames_ms)} frames"
    return {"what": f"map of 60,000 apiaries: a frame while dragging, {what}", "ours": said}
