"""Reads and writes the tables: CSV, XLSX, GeoPackage, GeoJSON."""

from __future__ import annotations

from broodsweep.tables.atomic import replacing
from broodsweep.tables.complaints import Complaint, RefusedRow, UnknownColumn
from broodsweep.tables.headers import ColumnMapping, suggest_mapping
from broodsweep.tables.reader import read_ground
from broodsweep.tables.reading import Reading, plan
from broodsweep.tables.write_map import write_features, write_geojson, write_geopackage
from broodsweep.tables.write_text import write_refused, write_rows_csv, write_tables
from broodsweep.tables.write_workbook import write_rows_xlsx, write_xlsx

__all__ = [
    "ColumnMapping",
    "Complaint",
    "Reading",
    "RefusedRow",
    "UnknownColumn",
    "plan",
    "read_ground",
    "replacing",
    "suggest_mapping",
    "write_features",
    "write_geojson",
    "write_geopackage",
    "write_refused",
    "write_rows_csv",
    "write_rows_xlsx",
    "write_tables",
    "write_xlsx",
]
