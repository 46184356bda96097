"""Every sentence that the store can say is in the catalogue, and every one there can be said."""

from __future__ import annotations

import re
from pathlib import Path

import broodsweep.store
from broodsweep.store.chain import CLOCK_SET_BACK
from broodsweep.words import keys


def test_sentences_of_the_code_and_of_the_catalogue_are_the_same():
    sources = "".join(path.read_text() for path in Path(broodsweep.store.__file__).parent.rglob("*.py"))
    said = set(re.findall(r'"(store\.[a-z_]+)"', sources)) - {"store.sqlite"}
    said |= {f"store.check_{name}" for name in re.findall(r'name="([a-z]+)", is_sound', sources)}
    said |= {f"store.note_{CLOCK_SET_BACK}"}
    assert said == {key for key in keys() if key.startswith("store.")}
