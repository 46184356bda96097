"""The page on rulebooks keeps its promises: its example loads, its list of matters is the vocabulary."""

from __future__ import annotations

import os
import re
from datetime import date
from pathlib import Path

from broodsweep import words
from broodsweep.constants import Disease
from broodsweep.rulebook import TOPICS, Standing, load_books

PAGE = Path(__file__).parents[2] / "docs" / "rulebooks.md"
MARKS = re.compile(r"(<!-- matters:.*?-->\n).*?(<!-- /matters -->)", re.DOTALL)


def example() -> str:
    found = re.search(r"```toml\n(.*?)```", PAGE.read_text(), re.DOTALL)
    assert found
    return found[1]


def matters() -> str:
    rows = ["| name | what it is about | kind | words or figures |", "| --- | --- | --- | --- |"]
    for name, topic in TOPICS.items():
        label = words.text(f"rulebook.topic_{name.replace('.', '_')}")
        listed = ", ".join(f"`{word}`" for word in (*topic.words, *topic.figures, *topic.optional))
        rows.append(f"| `{name}` | {label} | {topic.kind} | {listed} |")
    return "\n".join(rows) + "\n"


def test_the_example_of_the_page_loads_and_answers(tmp_path: Path) -> None:
    (tmp_path / "skarnsey.toml").write_text(example())
    book = load_books(tmp_path)["skarnsey"]
    before = book.rule("reinspect.earliest", Disease.AFB, date(2023, 12, 31))
    behind = book.rule("reinspect.earliest", Disease.AFB, date(2024, 1, 1))
    assert (before.value, before.unit) == (2, "months")
    assert (behind.value, behind.unit) == (45, "days")
    ring = book.rule("sweep.first_ring", Disease.EFB, date(2026, 6, 1))
    assert (ring.number(), ring.standing, ring.book) == (4000.0, Standing.OFFICIAL_PRACTICE, "skarnsey")
    silent = book.rule("sweep.widened_ring", Disease.EFB, date(2026, 6, 1))
    assert silent.is_fallback and silent.book == "common-practice"


def test_the_example_shows_every_kind_of_value() -> None:
    units = set(re.findall(r'^unit = "(.*)"$', example(), re.MULTILINE))
    assert units >= {"yes or no", "m", "words", "word", "months", "days", "figures"}


def test_the_page_lists_every_matter_as_it_is() -> None:
    text = PAGE.read_text()
    fresh = MARKS.sub(lambda found: f"{found[1]}{matters()}{found[2]}", text)
    if os.environ.get("WRITE_DOCS"):
        PAGE.write_text(fresh)
    else:
        assert text == fresh, (
            "docs/rulebooks.md is behind: run WRITE_DOCS=1 pytest tests/rulebook/test_docs.py"
        )
