"""The documents say what is true: every command, room and word is in its place."""

from __future__ import annotations

import re
from pathlib import Path

from broodsweep.cli.app import EVERY

ROOT = Path(__file__).parents[1]
ROOMS = [
    path.name
    for path in (ROOT / "src/broodsweep").iterdir()
    if path.is_dir() and not path.name.startswith("_")
]


def read(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def test_readme_opens_with_the_job() -> None:
    first = read("README.md").split("\n\n")[1]
    assert first.startswith("A regional bee inspector leads")


def test_readme_names_every_command() -> None:
    text = read("README.md")
    missing = [name for name, _ in EVERY if f"`{name}`" not in text]
    assert not missing


def test_architecture_has_a_row_for_every_room() -> None:
    text = read("ARCHITECTURE.md")
    missing = [room for room in ROOMS if f"`{room}`" not in text]
    assert not missing


def test_architecture_stays_short() -> None:
    assert len(read("ARCHITECTURE.md").splitlines()) <= 150


def test_no_file_names_a_registry_address() -> None:
    hosts = re.compile(r"https?://[^\s\"']*(pypi|pythonhosted|npmjs|registry|debian)\.", re.IGNORECASE)
    found = []
    for path in ROOT.rglob("*"):
        if not path.is_file() or {".git", ".venv", ".tools", "node_modules", "var", "static"} & set(
            path.parts
        ):
            continue
        if path.suffix in {".py", ".toml", ".lock", ".json", ".md", ".ts", ".svelte", ".txt", ".npmrc"}:
            found += [str(path)] if hosts.search(path.read_text(encoding="utf-8", errors="ignore")) else []
    assert not found


def test_glossary_is_in_order() -> None:
    words = re.findall(r"^\| ([^|]+?) \|", read("GLOSSARY.md"), re.MULTILINE)[2:]
    assert words == sorted(words, key=str.casefold)
