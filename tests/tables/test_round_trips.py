"""Whatever ground is written in whatever format, reading it gives it back."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest
from grounds import grounds
from hypothesis import HealthCheck, Phase, given, settings

from broodsweep import tables
from broodsweep.register import Ground, plan_changes

FORMATS: dict[str, Callable[[Ground, Path], object]] = {
    "folder": tables.write_tables,
    "ground.xlsx": tables.write_xlsx,
    "ground.gpkg": tables.write_geopackage,
}
QUICK = settings(
    max_examples=25,
    deadline=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow],
)


def back(reading: tables.Reading) -> Ground:
    assert not reading.all_complaints, [str(c) for c in reading.all_complaints]
    return reading.ground


@pytest.mark.parametrize("name", FORMATS)
@QUICK
@given(ground=grounds())
def test_a_ground_comes_back_as_it_was(name: str, ground: Ground) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        FORMATS[name](ground, path)
        reading = tables.read_ground(path)
        assert back(reading) == ground
        assert tables.plan(reading, ground).is_empty


@QUICK
@given(ground=grounds())
def test_the_places_of_a_ground_come_back_from_geojson(ground: Ground) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "of any name.geojson"  # the file says itself which table it holds
        tables.write_geojson(ground, path)
        assert back(tables.read_ground(path, base=ground)).apiaries == ground.apiaries


@QUICK
@given(before=grounds(), coming=grounds())
def test_saving_a_plan_and_planning_again_finds_nothing_to_do(before: Ground, coming: Ground) -> None:
    plan = plan_changes(coming, before)
    after = {}
    for table in plan.tables:
        rows = {_key(row): row for row in getattr(before, table.table)}
        rows |= {_key(row): row for row in table.rows}
        after[table.table] = tuple(rows.values())
    assert plan_changes(coming, Ground(**after)).is_empty
    for table in plan.tables:
        left_alone = [
            r
            for r in getattr(before, table.table)
            if _key(r) not in {_key(n) for n in getattr(coming, table.table)}
        ]
        assert all(row in after[table.table] for row in left_alone)


def _key(row: object) -> str:
    name = {"Move": "move", "Removal": "removal"}.get(type(row).__name__, type(row).__name__.lower())
    return str(getattr(row, name))
