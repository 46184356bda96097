"""Who keeps bees where; what moved. Knows no disease."""

from __future__ import annotations

from broodsweep.register.changes import Change, FieldChange, Plan, TablePlan, filled, plan_changes
from broodsweep.register.coarse import coarsen
from broodsweep.register.columns import COLUMNS, PLACE_COLUMN, Column, column_names, missing_columns
from broodsweep.register.duplicates import DuplicatePair, likely_duplicates
from broodsweep.register.faults import CellError, Fault
from broodsweep.register.merging import Merged, merge_apiaries, merge_keepers
from broodsweep.register.model import (
    TABLES,
    Apiary,
    Extra,
    Ground,
    Inspector,
    Keeper,
    Lot,
    Move,
    Removal,
    Row,
    Table,
    Visit,
)
from broodsweep.register.references import KnownApiaries, bare_keepers, swapped
from broodsweep.register.rows import ParsePlace, RowBuilder
from broodsweep.register.rules import faults_of, later_than
from broodsweep.register.sea import off_land

__all__ = [
    "COLUMNS",
    "PLACE_COLUMN",
    "TABLES",
    "Apiary",
    "CellError",
    "Change",
    "Column",
    "DuplicatePair",
    "Extra",
    "Fault",
    "FieldChange",
    "Ground",
    "Inspector",
    "Keeper",
    "KnownApiaries",
    "Lot",
    "Merged",
    "Move",
    "ParsePlace",
    "Plan",
    "Removal",
    "Row",
    "RowBuilder",
    "Table",
    "TablePlan",
    "Visit",
    "bare_keepers",
    "coarsen",
    "column_names",
    "faults_of",
    "filled",
    "later_than",
    "likely_duplicates",
    "merge_apiaries",
    "merge_keepers",
    "missing_columns",
    "off_land",
    "plan_changes",
    "swapped",
]
