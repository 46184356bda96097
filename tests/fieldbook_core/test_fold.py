"""The phone folds lines as the desk does: the same vectors (tests/fieldbook/vectors.json, written by the desk's fold)."""

from __future__ import annotations

import json
from pathlib import Path

from tests.fieldbook_core.conftest import Ask

VECTORS = Path(__file__).parents[1] / "fieldbook" / "vectors.json"


def test_phone_and_desk_make_the_same_visits_of_the_same_lines(core: Ask) -> None:
    vectors = json.loads(VECTORS.read_text())
    answers = core("fold", sets=[vector["lines"] for vector in vectors])
    assert len(answers) == len(vectors) >= 20
    for vector, answer in zip(vectors, answers, strict=True):
        assert answer["visits"] == vector["visits"], vector["seed"]
        assert answer["found"] == vector["found"], vector["seed"]
    assert any(visit["is_whole"] for vector in vectors for visit in vector["visits"])


def test_the_order_in_which_lines_lie_does_not_matter(core: Ask) -> None:
    lines = json.loads(VECTORS.read_text())[0]["lines"]
    there, back = core("fold", sets=[lines, lines[::-1]])
    assert there == back
