"""One island for every test of the room, made and written once."""

from __future__ import annotations

from pathlib import Path

import pytest

from broodsweep.demo import Island, make_island, write_island


@pytest.fixture(scope="session")
def island() -> Island:
    """Return Skarnsey of the default seed."""
    return make_island(7)


@pytest.fixture(scope="session")
def folder(island: Island, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder with the island's files."""
    target = tmp_path_factory.mktemp("skarnsey")
    write_island(island, target)
    return target
