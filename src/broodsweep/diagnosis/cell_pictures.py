"""One drawn cell for each sign that a single cell can show, for the pages: ``python -m broodsweep.diagnosis.cell_pictures``."""

from __future__ import annotations

import json
import sys

import numpy as np

from broodsweep.diagnosis.cells import DEFINITIONS
from broodsweep.diagnosis.picture import DRAWERS

_SEED = 20261125


def cell_pictures() -> dict[str, str]:
    """Return sign → SVG content about the centre of a cell of radius 30, and under ``defs`` what all refer to."""
    return {"defs": DEFINITIONS} | {
        sign: drawers[0](np.random.Generator(np.random.PCG64(_SEED))) for sign, drawers in DRAWERS.items()
    }


if __name__ == "__main__":
    json.dump(cell_pictures(), sys.stdout, indent=0, sort_keys=True)
    sys.stdout.write("\n")
