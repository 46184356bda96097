"""The catalogue is complete: every key that the code names has its sentence, and says only what it is given."""

from __future__ import annotations

import ast
import string
from datetime import date
from pathlib import Path

import pytest

from broodsweep import words
from broodsweep.words.catalogue import load

SOURCE = Path(words.__file__).parents[1]
CALLS = {"say", "text", "Message"}


def named_keys() -> dict[str, str]:
    """Keys written as literals in the code, with the file that names them."""
    found: dict[str, str] = {}
    for path in SOURCE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if not isinstance(node, ast.Call) or not node.args:
                continue
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
            first = node.args[0]
            if (
                (name in CALLS or name.endswith("Error"))
                and isinstance(first, ast.Constant)
                and isinstance(first.value, str)
            ):
                if name.endswith("Error") and (" " in first.value or "." not in first.value):
                    continue
                found[first.value] = str(path.relative_to(SOURCE))
    return found


def test_every_key_named_in_the_code_has_a_sentence() -> None:
    missing = {key: where for key, where in named_keys().items() if not words.has_key(key)}
    assert not missing


def test_every_sentence_has_well_formed_places() -> None:
    for key, forms in load("en").items():
        for form in forms:
            for _, name, spec, conversion in string.Formatter().parse(form):
                assert name != "", f"{key}: a place without a name in {form!r}"
                assert not spec, f"{key}: the name of the value decides its format, not {spec!r}"
                assert conversion is None


def test_a_message_is_written_by_the_names_of_its_values() -> None:
    assert words.render(words.say("common.days", count=1)) == "1 day"
    assert words.render(words.say("common.days", count=1400)) == "1,400 days"
    assert words.text("disease.AFB") == "American foulbrood"


def test_pseudo_locale_accents_everything_outside_the_places() -> None:
    shown = words.text("common.days", locale=words.PSEUDO, count=3)
    assert shown.startswith("3 ")
    assert not set(shown) & set(string.ascii_letters)


def test_an_unknown_key_is_an_error() -> None:
    with pytest.raises(KeyError):
        words.text("no.such.key", on=date(2026, 6, 1))
