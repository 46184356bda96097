"""Who keeps bees where; what moved. Knows no disease."""

from __future__ import annotations

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

__all__ = [
    "TABLES",
    "Apiary",
    "Extra",
    "Ground",
    "Inspector",
    "Keeper",
    "Lot",
    "Move",
    "Removal",
    "Row",
    "Table",
    "Visit",
]
