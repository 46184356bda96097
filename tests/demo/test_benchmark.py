"""Registers of any size: as many as asked, clustered, the same for the same seed, and loadable."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.spatial import cKDTree

from broodsweep.demo import make_register, write_register
from broodsweep.demo.gridref import to_grid
from broodsweep.tables.reader import read_ground


def test_has_the_number_asked_for_and_is_repeatable() -> None:
    ground = make_register(3_000, 1)
    assert len(ground.apiaries) == 3_000
    assert len({row.apiary for row in ground.apiaries}) == 3_000
    assert {row.keeper for row in ground.apiaries} == {row.keeper for row in ground.keepers}
    assert make_register(3_000, 1) == ground
    assert make_register(3_000, 2) != ground


def test_apiaries_stand_in_clusters() -> None:
    """The mean distance to the nearest neighbour is far below that of evenly scattered points (Clark-Evans)."""
    ground = make_register(6_000, 3)
    spots = to_grid([(row.place.longitude, row.place.latitude) for row in ground.apiaries])
    nearest = cKDTree(spots).query(spots, k=2)[0][:, 1]
    scattered = 0.5 / np.sqrt(len(spots) / (500_000 * 800_000))
    assert nearest.mean() < 0.6 * scattered


def test_written_register_is_read_without_a_complaint(tmp_path: Path) -> None:
    made = write_register(500, 4, tmp_path)
    reading = read_ground(tmp_path)
    assert reading.is_sound, [str(one) for one in reading.all_complaints][:3]
    assert len(reading.ground.apiaries) == len(made.apiaries)


def test_a_register_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="n >= 1"):
        make_register(0, 1)
