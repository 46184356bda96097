"""Weighing in the browser with the processor slowed down four times, and what the weigher adds to a page."""

from __future__ import annotations

import gzip
import tempfile
from pathlib import Path
from statistics import median
from typing import Any

import broodsweep.web
from bench._browser import browsed, served
from broodsweep.demo import make_register

SLOWER = 4
GROUND = 40
TURNS = 12
READ = "name => performance.getEntriesByName(name).map(entry => entry.duration)[0] ?? -1"
SIGNS = (
    "caps_sunken",
    "caps_perforated",
    "caps_greasy",
    "dead_under_caps",
    "larva_stretched",
    "coffee_brown",
    "smell_putrid",
    "patchy",
    "few_nurses",
    "lone_sealed_cell",
)
"""A classic case, touched sign after sign."""


def _touch(page: Any, sign: str, place: int) -> None:
    page.locator(f'[data-sign="{sign}"] input').nth(place).check(force=True)
    page.wait_for_timeout(700)


def _timed(address: str, page: Any) -> dict[str, list[float]]:
    page.goto(f"{address}/weigh")
    page.locator("[role=radiogroup]").first.wait_for()
    page.wait_for_timeout(3000)
    client = page.context.new_cdp_session(page)
    client.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    found: dict[str, list[float]] = {"weigh.posterior": [], "weigh.answer": []}
    for sign in SIGNS:
        _touch(page, sign, 0)
        for name, taken in found.items():
            taken.append(float(page.evaluate(READ, name)))
    for turn in range(TURNS):  # the whole comb, one sign changing to and fro
        _touch(page, "patchy", turn % 2)
        for name, taken in found.items():
            taken.append(float(page.evaluate(READ, name)))
    return found


def _sizes() -> dict[str, int]:
    """Return the bytes of the weigher's numbers and code, as they travel (gzip)."""
    static = Path(broodsweep.web.__file__).parent / "static" / "assets"
    (model,) = static.glob("model-*.js")
    return {"numbers": len(gzip.compress(model.read_bytes(), 9))}


def rows() -> list[dict[str, str]]:
    """Return what was measured."""
    ground = make_register(GROUND, seed=3)
    with tempfile.TemporaryDirectory() as home, served(ground, Path(home)) as address, browsed() as page:
        found = _timed(address, page)
    posterior, answer = found["weigh.posterior"], found["weigh.answer"]
    what = f"phone, {SLOWER}x slower:"
    return [
        {
            "what": f"{what} posterior with interval, median",
            "ours": f"{median(posterior):.1f} ms",
            "goal": "< 20 ms",
        },
        {"what": f"{what} posterior with interval, first touch", "ours": f"{posterior[0]:.1f} ms"},
        {
            "what": f"{what} posterior with interval, slowest after it",
            "ours": f"{max(posterior[1:]):.1f} ms",
            "goal": "< 20 ms",
        },
        {"what": f"{what} whole answer, median", "ours": f"{median(answer):.1f} ms"},
        {"what": "phone: numbers of the weigher, gzip", "ours": f"{_sizes()['numbers'] / 1024:.1f} kB"},
    ]
