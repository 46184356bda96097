"""A base map of the user's own, as another program writes it, is drawn over the areas of ours."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import numpy as np
import pyogrio
import shapely
from PIL import Image

from tests.browser.conftest import Opener, Served, serving, write_basemap
from tests.web.conftest import district, make_desk


def write_tiles(path: Path, over: tuple[float, float, float, float]) -> None:
    """Write lines as PMTiles with GDAL."""
    west, south, east, north = over
    lines = [
        shapely.LineString([(west, south + (north - south) * part), (east, south + (north - south) * part)])
        for part in np.linspace(0.05, 0.95, 19)
    ]
    pyogrio.raw.write(
        path,
        geometry=np.array([shapely.to_wkb(line) for line in lines], dtype=object),
        field_data=[],
        fields=[],
        layer="lines",
        driver="PMTiles",
        geometry_type="LineString",
        crs="EPSG:4326",
        dataset_options={"MINZOOM": "4", "MAXZOOM": "13"},
    )


def picture(opened: Opener, served: Served) -> np.ndarray:
    """The drawn map as numbers."""
    page = opened().open(f"{served.address}/ground")
    png = page.locator("figure[data-idle] canvas").first.screenshot()
    return np.asarray(Image.open(BytesIO(png)).convert("RGB"), dtype=np.int16)


def test_lines_of_a_users_own_tiles_are_drawn_over_the_land(opened: Opener, tmp_path: Path) -> None:
    """Nineteen lines change many points of the map; drawn under the land they would change almost none."""
    home = tmp_path / "home"
    write_basemap(home)
    with serving(make_desk(district()), home) as served:
        before = picture(opened, served)
        write_tiles(home / "basemap/lines.pmtiles", (0.3, 54.7, 1.2, 54.95))
        after = picture(opened, served)
    changed = (np.abs(after - before).sum(axis=2) > 12).sum()
    assert changed > 2000
