"""Files that are made for one answer and go when it was sent."""

from __future__ import annotations

import shutil
import zipfile
from collections.abc import Sequence
from pathlib import Path

from fastapi import BackgroundTasks
from starlette.responses import FileResponse

MEDIA = {
    ".csv": "text/csv; charset=utf-8",
    ".zip": "application/zip",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".gpkg": "application/geopackage+sqlite3",
    ".geojson": "application/geo+json",
}


def sent(path: Path, name: str, folder: Path, later: BackgroundTasks) -> FileResponse:
    """Send a file under a name; its folder goes afterwards."""
    later.add_task(shutil.rmtree, folder, ignore_errors=True)
    return FileResponse(path, media_type=MEDIA[path.suffix], filename=f"{name}{path.suffix}")


def bundled(paths: Sequence[Path], folder: Path, name: str, later: BackgroundTasks) -> FileResponse:
    """Send one file as it is, several as a zip."""
    if len(paths) == 1:
        return sent(paths[0], name, folder, later)
    packed = folder / "bundle.zip"
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as bundle:
        for path in paths:
            bundle.write(path, path.name)
    return sent(packed, name, folder, later)
