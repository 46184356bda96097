"""The drawn cells that the phone carries are those that are drawn here, and safe to put into a page."""

from __future__ import annotations

import json
import re
from pathlib import Path
from xml.etree import ElementTree

from broodsweep.diagnosis import signs
from broodsweep.diagnosis.cell_pictures import cell_pictures

KEPT = Path(__file__).parents[2] / "field/src/fieldbook/parts/cells.json"


def test_the_phone_carries_the_cells_as_they_are_drawn() -> None:
    assert json.loads(KEPT.read_text()) == cell_pictures(), "python -m broodsweep.diagnosis.cell_pictures"


def test_every_cell_is_well_formed_drawing_and_nothing_else() -> None:
    allowed = {
        "svg",
        "defs",
        "radialGradient",
        "stop",
        "g",
        "path",
        "polygon",
        "polyline",
        "circle",
        "ellipse",
        "rect",
        "line",
    }
    for name, drawn in cell_pictures().items():
        assert name == "defs" or name in signs()
        for element in ElementTree.fromstring(f"<svg>{drawn}</svg>").iter():
            assert element.tag in allowed, (name, element.tag)
            assert not [key for key in element.attrib if re.match("on|href|style", key)]
