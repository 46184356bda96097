"""What is exported is read back by libraries that know nothing of us, by the rules of the open standards.

Sources: RFC 7946 (GeoJSON) sections 3.1, 3.1.2, 3.2, 3.3 and 4; RFC 4180 (CSV) section 2; OGC GeoPackage 1.x as GDAL
reads it (pyogrio, independent of our reader: the schema is taken from GDAL's own answer) and its SQLite
application id (requirement 2); XLSX by openpyxl and by the ZIP and XML parts of ECMA-376. From memory: the RFC
section numbers.
"""

from __future__ import annotations

import csv
import json
import sqlite3
import zipfile
from datetime import date, datetime
from pathlib import Path

import numpy as np
import openpyxl
import pyogrio
import pyogrio.raw
import pytest
import shapely

from broodsweep import tables
from broodsweep.constants import Goods
from broodsweep.geo import Place, parse_place
from broodsweep.register import Apiary, Ground, Keeper, Move

GROUND = Ground(
    keepers=(Keeper(keeper="K1", name='Ann "Bee" Hay, Ærø', address="1 Row\nSkarn"),),
    apiaries=(
        Apiary(apiary="007", place=parse_place("SK 123 456"), colonies=4, kept_since=date(2020, 5, 1)),
        Apiary(
            apiary="A2", place=Place(longitude=-1.25, latitude=52.5, precision_m=10), colonies=0, keeper="K1"
        ),
    ),
    moves=(Move(moved_on=date(2024, 5, 1), goods=Goods.HONEY, from_apiary="007", quantity=2.5),),
)


def test_geojson_follows_rfc_7946(tmp_path: Path) -> None:
    path = tmp_path / "apiaries.geojson"
    tables.write_geojson(GROUND, path)
    whole = json.loads(path.read_bytes().decode("utf-8"), parse_constant=pytest.fail)
    assert whole["type"] == "FeatureCollection"  # 3.3
    assert "crs" not in whole  # 4: WGS84 always, no crs member
    for feature, row in zip(whole["features"], GROUND.apiaries, strict=True):
        assert set(feature) >= {"type", "geometry", "properties"}  # 3.2
        assert feature["type"] == "Feature"
        assert not {"coordinates", "geometries", "features"} & set(feature)  # 7.1
        longitude, latitude = feature["geometry"]["coordinates"]  # 3.1.1: longitude first
        assert (longitude, latitude) == (row.place.longitude, row.place.latitude)
        assert shapely.from_geojson(json.dumps(feature["geometry"])) == shapely.Point(longitude, latitude)
    meta, _, _, _ = pyogrio.raw.read(path)
    assert meta["geometry_type"] == "Point"


def test_a_record_without_a_place_has_a_null_geometry(tmp_path: Path) -> None:
    place = GROUND.apiaries[1].place
    tables.write_features([{"rank": 1, "where": place}, {"rank": 2, "where": None}], tmp_path / "x.geojson")
    features = json.loads((tmp_path / "x.geojson").read_text(encoding="utf-8"))["features"]
    assert features[0]["geometry"]["coordinates"] == [-1.25, 52.5]
    assert features[1]["geometry"] is None  # 3.2: an unlocated feature


def test_geopackage_is_read_by_gdal_with_types_and_reference_system(tmp_path: Path) -> None:
    path = tmp_path / "ground.gpkg"
    tables.write_geopackage(GROUND, path)
    layers = {str(name): kind for name, kind in pyogrio.list_layers(path)}
    assert layers == {"keepers": None, "apiaries": "Point", "moves": None}
    meta, _, shapes, fields = pyogrio.raw.read(path, layer="apiaries")
    columns = dict(zip(meta["fields"], fields, strict=True))
    assert meta["crs"] == "EPSG:4326"
    assert columns["colonies"].dtype == np.int64
    assert columns["kept_since"].dtype == np.dtype("M8[D]")
    assert list(columns["apiary"]) == ["007", "A2"]
    assert shapely.from_wkb(shapes)[1] == shapely.Point(-1.25, 52.5)
    database = sqlite3.connect(path)
    assert database.execute("PRAGMA application_id").fetchone()[0] == int.from_bytes(b"GPKG", "big")
    assert database.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    database.close()


def test_a_layer_in_another_reference_system_is_turned_into_wgs84(tmp_path: Path) -> None:
    path = tmp_path / "ground.gpkg"
    pyogrio.raw.write(
        str(path),
        shapely.to_wkb(shapely.points([[412_350.0, 345_650.0]])),
        [np.array(["A1"], dtype=object), np.array([3])],
        ["apiary", "colonies"],
        layer="apiaries",
        driver="GPKG",
        geometry_type="Point",
        crs="EPSG:27700",
    )
    (row,) = tables.read_ground(path).ground.apiaries
    same = parse_place("SK 123 456")
    assert row.place.longitude == pytest.approx(same.longitude, abs=1e-4)
    assert row.place.latitude == pytest.approx(same.latitude, abs=1e-4)


def test_csv_follows_rfc_4180(tmp_path: Path) -> None:
    tables.write_tables(GROUND, tmp_path)
    data = (tmp_path / "keepers.csv").read_bytes()
    assert (
        data.count(b"\r\n") == 2
    )  # 2.1: each record on its line, ended by CRLF; 2.6: the break in a cell is quoted
    assert b'"Ann ""Bee"" Hay, ' in data  # 2.7
    with (tmp_path / "keepers.csv").open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file, strict=True)
    assert row["name"] == 'Ann "Bee" Hay, Ærø'
    assert row["address"] == "1 Row\nSkarn"
    with (tmp_path / "apiaries.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file, strict=True))
    assert len({len(row) for row in rows}) == 1  # 2.4


def test_xlsx_has_real_dates_numbers_and_texts(tmp_path: Path) -> None:
    path = tmp_path / "ground.xlsx"
    tables.write_xlsx(GROUND, path)
    assert zipfile.ZipFile(path).testzip() is None
    page = openpyxl.load_workbook(path)["apiaries"]
    header = [cell.value for cell in page[1]]
    first = dict(zip(header, page[2], strict=True))
    assert first["apiary"].data_type == "s"
    assert first["apiary"].value == "007"
    assert first["colonies"].value == 4
    assert first["kept_since"].is_date
    assert first["kept_since"].value == datetime(2020, 5, 1)
