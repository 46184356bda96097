"""Every word of the commands comes from the catalogue: the pseudo-locale finds any that does not."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from broodsweep.cli.app import EVERY

LIBRARY = {
    # words that the command-line library writes itself, and names that are typed, not read
    "Usage", "Options", "Commands", "Arguments", "Show", "this", "message", "and", "exit", "default", "required",
    "COMMAND", "ARGS", "OPTIONS", "INTEGER", "TEXT", "PATH", "broodsweep", "env", "var", "x", "seed", "from",
}  # fmt: skip


def call(*words: str) -> str:
    environment = {**os.environ, "BROODSWEEP_LANG": "en-XA", "COLUMNS": "220", "TERM": "dumb"}
    done = subprocess.run(
        [sys.executable, "-m", "broodsweep", *words],
        capture_output=True,
        text=True,
        env=environment,
        check=False,
    )
    return done.stdout + done.stderr


@pytest.mark.parametrize("command", ["", *[name for name, _ in EVERY]])
def test_help_has_no_word_outside_the_catalogue(command: str) -> None:
    shown = call(*([command] if command else []), "--help")
    shown = re.sub(r"--?[a-z][a-z-]*|BROODSWEEP_\w+|\[[^\]]*\]|<[^>]*>|\{[^}]*\}", " ", shown)
    names = {name for name, _ in EVERY}
    metavars = {part for word in re.findall(r"\b[A-Z][A-Z.=]+\b", shown) for part in re.split("[.=]", word)}
    plain = set(re.findall(r"\b[A-Za-z]{2,}\b", shown)) - LIBRARY - names - metavars
    assert not plain


def test_answers_have_no_word_outside_the_catalogue() -> None:
    ground = Path(__file__).parent / "ground"
    data = (ground / "apiaries.csv").read_text() + (ground / "keepers.csv").read_text()
    for words in (("due", "--on", "2026-07-08"), ("sweep", "--on", "2026-07-08"), ("ring", "--at", "C")):
        shown = call(*words, "--ground", str(ground))
        plain = {word for word in re.findall(r"\b[A-Za-z]{2,}\b", shown) if word not in data}
        # names that are data: the outbreak, months (the locale's own), units, law texts quoted in their language
        months = {"May", "Jul", "Aug", "Jun"}
        assert not {w for w in plain if w not in months | {"AFB", "km"}} or words[0] == "due", plain
