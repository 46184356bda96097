"""Answers about loading tables: what would change, what was refused and the way out."""

from __future__ import annotations

from enum import StrEnum

from pydantic import Field

from broodsweep.web.shapes.base import Asked, Shape, Signed


class LoadState(StrEnum):
    """How far a load has come."""

    READING = "reading"
    READY = "ready"
    APPLYING = "applying"
    DONE = "done"
    FAILED = "failed"


class FieldChangeShape(Shape):
    """One field of a row, before and after."""

    field: str
    before: str
    after: str


class RowChangeShape(Shape):
    """A row on record that would become another."""

    key: str
    fields: list[FieldChangeShape]


class TablePlanShape(Shape):
    """What would change in one table."""

    table: str
    new: int
    changed: int
    same: int
    changes: list[RowChangeShape] = Field(description="The first changed rows.")


class RefusedShape(Shape):
    """Something wrong with a row: where it stands, what is wrong, the way out."""

    file: str
    line: int | None
    column: str | None
    value: str
    what: str
    way_out: str


class ColumnsShape(Shape):
    """The columns of a file that were not known, and ours that they may be."""

    table: str
    file: str
    unknown: list[str]
    ours: list[str]


class LoadShape(Shape):
    """One load: nothing is taken in before it is applied."""

    token: str
    state: LoadState
    progress_share: float = Field(ge=0, le=1)
    files: list[str]
    tables: list[TablePlanShape]
    refused: list[RefusedShape] = Field(description="The first faults; the refused rows' file has all.")
    faults: int
    can_skip: bool = Field(description="Whether the rest can be loaded without the refused rows.")
    warnings: list[RefusedShape]
    notes: list[str]
    columns: list[ColumnsShape]
    mapping: dict[str, dict[str, str]] = Field(description="Table → their column → ours.")
    changed_rows: int | None = Field(description="How many rows the load changed, once applied.")
    trouble: str | None


class ApplyAsked(Signed):
    """The word to take the load in; ``skip_bad`` leaves the refused rows out."""

    skip_bad: bool = False


class MappingAsked(Asked):
    """Which of their columns is which of ours."""

    mapping: dict[str, dict[str, str]]
