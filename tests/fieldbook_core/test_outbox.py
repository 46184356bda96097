"""Random scripts: written, killed, answered badly, cut off; then what was shown as recorded against what came in."""

from __future__ import annotations

import pytest

from tests.fieldbook_core.conftest import Ask

MOST_REQUESTS = 200
"""A round that asks the desk more often than this for some dozens of lines would be a hot loop."""


def check(results: list[dict[str, int]]) -> None:
    """Fail when a script lost, doubled or changed a line or a photo."""
    assert sum(found["shown"] for found in results) > 20 * len(results)
    for found in results:
        wrong = ("lost", "missing_photos", "doubled", "changed", "gaps", "still_unsent")
        assert {name: found[name] for name in wrong} == dict.fromkeys(wrong, 0), found["seed"]
        assert found["most_requests"] < MOST_REQUESTS, found["seed"]


def test_forty_random_scripts_lose_and_double_nothing(core: Ask) -> None:
    check(core("scripts", seeds=list(range(40))))


@pytest.mark.slow
def test_four_hundred_random_scripts_lose_and_double_nothing(core: Ask) -> None:
    for start in range(1000, 1400, 50):
        check(core("scripts", seeds=list(range(start, start + 50))))
