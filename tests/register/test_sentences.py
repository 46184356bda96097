"""Every key that the register and the tables build at run time has its sentence."""

from __future__ import annotations

import re
from pathlib import Path

import broodsweep
from broodsweep import words

ROOT = Path(broodsweep.__file__).parent


def test_every_key_of_the_two_rooms_is_in_the_catalogue_and_used() -> None:
    text = "\n".join(
        path.read_text() for room in ("register", "tables") for path in (ROOT / room).glob("*.py")
    )
    named = set(re.findall(r'"((?:register|tables)\.[a-z_0-9]+)"', text))
    ways = {f"{key}_way_out" for key in re.findall(r'bad_file\(\s*"([a-z_.0-9]+)"', text)}
    missing = [key for key in named | ways if not words.has_key(key)]
    assert not missing
