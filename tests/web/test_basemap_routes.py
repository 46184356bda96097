"""What the map is drawn on: layers of the home folder, base maps of the user's own."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from .conftest import TestClient

TILES = b"PMTiles\x03" + bytes(range(256)) * 4


@pytest.fixture
def filled(home: Path) -> Path:
    folder = home / "basemap"
    folder.mkdir(parents=True)
    (folder / "land.geojson").write_text('{"type":"FeatureCollection","features":[]}')
    (folder / "notes.txt").write_text("secret")
    return folder


def add(client: TestClient, name: str, content: bytes) -> int:
    return client.post("/api/basemap", files={"file": (name, io.BytesIO(content))}).status_code


def test_layers_are_listed_and_given(client: TestClient, filled: Path) -> None:
    assert [layer["name"] for layer in client.get("/api/basemap").json()["layers"]] == ["land"]
    assert client.get("/basemap/land.geojson").json()["type"] == "FeatureCollection"


def test_a_base_map_is_added_read_in_ranges_and_removed(client: TestClient) -> None:
    assert add(client, "district.pmtiles", TILES) == 201
    part = client.get("/basemap/district.pmtiles", headers={"Range": "bytes=8-15", "Accept-Encoding": "gzip"})
    assert part.status_code == 206
    assert part.content == TILES[8:16]
    assert part.headers["content-range"] == f"bytes 8-15/{len(TILES)}"
    assert client.delete("/api/basemap/district.pmtiles").json()["tiles"] == []


@pytest.mark.parametrize(
    ("name", "content"),
    [("map.pmtiles", b"PMTiles\x02old"), ("map.pmtiles", b""), ("map.zip", TILES), ("land.geojson", TILES)],
)
def test_what_is_no_base_map_is_refused(client: TestClient, name: str, content: bytes, home: Path) -> None:
    assert add(client, name, content) in (400, 404)
    assert not list(home.glob("basemap/*"))


@pytest.mark.parametrize(
    "name", ["notes.txt", "..%2F..%2Fsecret.geojson", ".hidden.geojson", "missing.pmtiles"]
)
def test_nothing_else_of_the_folder_is_given(client: TestClient, filled: Path, name: str) -> None:
    answer = client.get(f"/basemap/{name}")
    assert answer.status_code == 404
    assert "secret" not in answer.text


def test_a_layer_of_the_home_folder_cannot_be_removed(client: TestClient, filled: Path) -> None:
    assert client.delete("/api/basemap/land.geojson").status_code == 404
    assert (filled / "land.geojson").exists()
