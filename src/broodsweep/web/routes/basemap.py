"""What the map is drawn on: layers of the home folder, base maps that the user added, the grid, the squares."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, File, Query, UploadFile
from starlette.responses import FileResponse

from broodsweep.errors import BroodsweepError, NotFoundError
from broodsweep.geo import corners
from broodsweep.web.context import ERRORS, Context, Here
from broodsweep.web.grid import View, grid_lines
from broodsweep.web.shapes.desk import BasemapShape, LayerShape, TilesShape

router = APIRouter(responses=ERRORS, tags=["map"])
files = APIRouter(responses=ERRORS, tags=["map"])
LAYERS, TILES = ".geojson", ".pmtiles"
MAGIC, SPEC = b"PMTiles", 3
CHUNK = 1 << 20
SHOWN_SQUARES = 600
_NAME = re.compile(r"[\w .()-]{1,100}")


@router.get("/api/basemap")
def basemap(here: Here) -> BasemapShape:
    """Say what the map can be drawn on."""
    folder = here.basemap
    found = sorted(folder.iterdir()) if folder.is_dir() else []
    return BasemapShape(
        layers=[
            LayerShape(name=path.stem, address=f"/basemap/{path.name}")
            for path in found
            if path.suffix == LAYERS
        ],
        tiles=[
            TilesShape(
                name=path.name,
                address=f"/basemap/{path.name}",
                megabytes=round(path.stat().st_size / 1e6, 1),
            )
            for path in found
            if path.suffix == TILES
        ],
    )


@files.get("/basemap/{name}", response_class=FileResponse)
def basemap_file(name: str, here: Here) -> FileResponse:
    """Give a layer or a base map; ranges of bytes may be asked for."""
    path = _path(here, name)
    if not path.is_file():
        raise NotFoundError("web.no_such_map", name=name)
    media = "application/geo+json" if path.suffix == LAYERS else "application/vnd.pmtiles"
    return FileResponse(path, media_type=media, headers={"Cache-Control": "private, no-cache"})


@router.post("/api/basemap", status_code=201)
def add_basemap(
    here: Here, file: Annotated[UploadFile, File(description="A PMTiles file, version 3.")]
) -> BasemapShape:
    """Add a base map of the user's own."""
    name = Path((file.filename or "").replace("\\", "/")).name
    path = _path(here, name)
    head = file.file.read(len(MAGIC) + 1)
    if path.suffix != TILES or head != MAGIC + bytes([SPEC]):
        raise BroodsweepError("web.not_pmtiles", name=name or "–")
    here.basemap.mkdir(parents=True, exist_ok=True)
    draft = path.with_suffix(".part")
    try:
        with draft.open("wb") as target:
            target.write(head)
            while piece := file.file.read(CHUNK):
                target.write(piece)
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)
    return basemap(here)


@router.delete("/api/basemap/{name}")
def remove_basemap(name: str, here: Here) -> BasemapShape:
    """Take a base map that the user added away again."""
    path = _path(here, name)
    if path.suffix != TILES or not path.is_file():
        raise NotFoundError("web.no_such_map", name=name)
    path.unlink()
    return basemap(here)


def _path(here: Context, name: str) -> Path:
    path = here.basemap / name
    if not _NAME.fullmatch(name) or path.suffix not in (LAYERS, TILES) or name.startswith("."):
        raise NotFoundError("web.no_such_map", name=name or "–")
    return path


Longitude = Annotated[float, Query(ge=-360, le=360)]
Latitude = Annotated[float, Query(ge=-90, le=90)]


@router.get("/api/map/grid")
def map_grid(
    here: Here, west: Longitude, south: Latitude, east: Longitude, north: Latitude
) -> dict[str, Any]:
    """Give the lines of the grid that the places of the register are written in, as GeoJSON."""
    return grid_lines(here.desk.snapshot(), View(west=west, south=south, east=east, north=north))


@router.get("/api/map/squares")
def map_squares(
    here: Here, west: Longitude, south: Latitude, east: Longitude, north: Latitude
) -> dict[str, Any]:
    """Give the squares in which the apiaries of a view lie, as GeoJSON."""
    view = View(west=west, south=south, east=east, north=north)
    seen = [row for row in here.desk.snapshot().ground.apiaries if view.holds(row.place)][:SHOWN_SQUARES]
    features = [
        {
            "type": "Feature",
            "properties": {"apiary": row.apiary, "precision_m": row.place.precision_m},
            "geometry": {"type": "Polygon", "coordinates": [_closed(corners(row.place))]},
        }
        for row in seen
    ]
    return {"type": "FeatureCollection", "features": features}


def _closed(ring: tuple[tuple[float, float], ...]) -> list[tuple[float, float]]:
    return [*ring, ring[0]]
