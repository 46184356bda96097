"""In the pseudo-locale no page shows a plain word outside the data: every word comes from the catalogue."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from broodsweep.constants import Clearance, Disease, Goods
from broodsweep.outbreak import CaseState, DueState, EventKind
from broodsweep.rulebook import Checked, Standing
from broodsweep.words import has_key
from tests.web.conftest import district

from .conftest import Opener, Served
from .test_every_page import PAGES

FIELD = Path(__file__).parents[2] / "field/src"
WALK = """() => {
  const found = [];
  const isData = (node) => node.closest('[translate=no], option[translate=no], .maplibregl-ctrl-scale');
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const at = node.parentElement;
    if (!at || isData(at) || ['SCRIPT', 'STYLE'].includes(at.tagName)) continue;
    if (node.textContent.trim()) found.push(node.textContent.trim());
  }
  for (const one of document.querySelectorAll('[aria-label], [placeholder], [title], [alt]')) {
    if (isData(one)) continue;
    for (const name of ['aria-label', 'placeholder', 'title', 'alt'])
      if (one.getAttribute(name)) found.push(one.getAttribute(name));
  }
  found.push(document.title.split(' – ')[0]);
  return found;
}"""
MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Sept Oct Nov Dec"
DAYS = "Monday Tuesday Wednesday Thursday Friday Saturday Sunday"
UNITS = "km m MB CSV XLSX GeoJSON GeoPackage PMTiles AFB EFB"
WORD = re.compile(r"[A-Za-z]{2,}")


def words_of_data() -> set[str]:
    """Every plain word that stands in the register, the rulebooks' names and the record of the district."""
    ground = district()
    texts = [
        repr(row)
        for table in ("keepers", "apiaries", "moves", "visits", "lots")
        for row in getattr(ground, table)
    ]
    texts += ["Sample Skarnsey district Ottar Brask AFB-2026-1 Common practice common-practice Vimmvoe"]
    return {word for text in texts for word in WORD.findall(text)}


@pytest.mark.parametrize("name", PAGES)
def test_no_plain_word_stands_outside_the_catalogue(opened: Opener, shared: Served, name: str) -> None:
    path = PAGES[name]
    page = opened().open(f"{shared.address}{path}{'&' if '?' in path else '?'}locale=en-XA")
    allowed = words_of_data() | set(f"{MONTHS} {DAYS} {UNITS}".split())
    plain = {word: text for text in page.evaluate(WALK) for word in WORD.findall(text) if word not in allowed}
    assert plain == {}
    assert "⟦" not in page.content(), "a key without a sentence"


def test_every_key_that_the_pages_name_has_a_sentence() -> None:
    named = re.compile(r"'((?:web|common|disease|outbreak|rulebook)\.\w+(?:\.\w+)?)'")
    missing = {
        key: path.name
        for path in FIELD.rglob("*")
        if path.suffix in (".ts", ".svelte")
        for key in named.findall(path.read_text())
        if not has_key(key) and not key.endswith("_")
    }
    assert missing == {}


def test_every_value_of_a_closed_list_has_its_word() -> None:
    wanted = [
        *(f"outbreak.state.{state}" for state in CaseState),
        *(f"outbreak.step.{kind}" for kind in EventKind),
        *(f"outbreak.due_state.{state}" for state in DueState),
        *(f"rulebook.standing_{standing}".replace(" ", "_") for standing in Standing),
        *(f"web.checked_{checked}" for checked in Checked),
        *(f"web.goods_{goods}" for goods in Goods),
        *(f"web.clearance_{how}" for how in Clearance),
        *(f"disease.{disease}" for disease in Disease),
        *(f"web.ring_{answer}" for answer in ("in", "out", "cannot_tell")),
    ]
    assert [key for key in wanted if not has_key(key)] == []
