"""Drive times of a road file, kept on disk so that the same places are not worked out twice."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from broodsweep.rounds.roads import travel_by_roads
from broodsweep.rounds.travel import TravelTable
from broodsweep.tables.osm_roads import read_roads
from broodsweep.words import Message

_FORMAT = "broodsweep travel 1"


def travel_source(
    path: Path, folder: Path | None = None
) -> Callable[[Mapping[str, tuple[float, float]]], TravelTable]:
    """Return what gives drive times over the roads of a file, kept in ``folder`` when one is given.

    A table is found again by the content of the road file and the points, whatever their names or order of asking.

    Parameters
    ----------
    path
        Road file.
    folder
        Where tables are kept; made when first needed. None: not kept.
    """

    def travel(points: Mapping[str, tuple[float, float]]) -> TravelTable:
        if folder is None:
            return travel_by_roads(read_roads(path), points)
        kept = folder / f"{_key(path, points)}.npz"
        table = _load(kept, points)
        if table is None:
            table = travel_by_roads(read_roads(path), points)
            _save(kept, table)
        return table

    return travel


def _key(path: Path, points: Mapping[str, tuple[float, float]]) -> str:
    digest = hashlib.sha256(_FORMAT.encode())
    if path.is_file():
        digest.update(path.read_bytes())
    digest.update(json.dumps(list(points.items())).encode())
    return digest.hexdigest()


def _load(kept: Path, points: Mapping[str, tuple[float, float]]) -> TravelTable | None:
    """Return the kept table; None when there is none or it is not sound (it is then made anew)."""
    try:
        with np.load(kept, allow_pickle=False) as file:
            words = json.loads(str(file["words"]))
            return TravelTable(
                names=tuple(points),
                points=tuple(points.values()),
                minutes=file["minutes"],
                km=file["km"],
                is_reachable=file["is_reachable"],
                method=_message(words["method"]),
                off_road={name: _message(row) for name, row in words["off_road"].items()},
            )
    except (OSError, ValueError, KeyError):
        return None


def _save(kept: Path, table: TravelTable) -> None:
    """Keep a table; a full disk only means that it is worked out again."""
    words = {
        "method": [table.method.key, dict(table.method.params)],
        "off_road": {name: [row.key, dict(row.params)] for name, row in table.off_road.items()},
    }
    part = kept.with_suffix(".part.npz")
    try:
        kept.parent.mkdir(parents=True, exist_ok=True)
        np.savez_compressed(
            part, minutes=table.minutes, km=table.km, is_reachable=table.is_reachable, words=json.dumps(words)
        )
        part.replace(kept)
    except OSError:
        part.unlink(missing_ok=True)


def _message(row: Any) -> Message:
    key, params = row
    return Message(key, params)
