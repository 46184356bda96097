"""The document of this room says what is true."""

from __future__ import annotations

import json
import re
from pathlib import Path

from broodsweep.diagnosis import Observations, from_mapping, weigh
from broodsweep.diagnosis.constants import DRAWS, FREQUENCIES
from broodsweep.diagnosis.network import all_states
from broodsweep.diagnosis.reading import Reading

TEXT = (Path(__file__).parents[2] / "docs/weigh.md").read_text(encoding="utf-8")


def test_the_example_file_is_read_and_weighed() -> None:
    found = re.search(r"```json\n(.*?)```", TEXT, re.DOTALL)
    assert found
    observed, lots = from_mapping(json.loads(found[1]))
    assert weigh(observed, lots=lots).lead.condition == "AFB"


def test_every_name_of_a_reading_is_in_the_document() -> None:
    from dataclasses import fields

    for member in (*fields(Reading), *fields(Observations)):
        assert f'"{member.name}"' in TEXT or f"`{member.name}`" in TEXT, member.name


def test_the_numbers_in_the_document_are_those_of_the_model() -> None:
    states = all_states().has.shape[1]
    assert f"All {states:,} states" in TEXT
    assert f"{int(DRAWS.value)} draws" in TEXT
    for name, word in zip(
        ("always", "usually", "sometimes", "rarely", "never"), FREQUENCIES.values(), strict=False
    ):
        assert re.search(rf"{name}\s+{word.value:g}", TEXT)
