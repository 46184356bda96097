"""Loading tables: put aside, look, and only then take in."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Annotated, Literal

from fastapi import APIRouter, BackgroundTasks, File, Form, UploadFile
from starlette.responses import FileResponse

from broodsweep.errors import NotFoundError
from broodsweep.register import Change, TablePlan, column_names
from broodsweep.tables.complaints import Complaint
from broodsweep.web.context import ERRORS, Here, Locale
from broodsweep.web.downloads import bundled
from broodsweep.web.loads import Load
from broodsweep.web.shapes.loading import (
    ApplyAsked,
    ColumnsShape,
    FieldChangeShape,
    LoadShape,
    MappingAsked,
    RefusedShape,
    RowChangeShape,
    TablePlanShape,
)
from broodsweep.words import render

router = APIRouter(prefix="/api", responses=ERRORS, tags=["load"])
SHOWN_FAULTS, SHOWN_ROWS = 200, 25
TableName = Literal["keepers", "apiaries", "moves", "visits", "removals", "inspectors", "lots"]


@router.post("/load", status_code=202)
def begin_load(
    here: Here,
    locale: Locale,
    files: Annotated[list[UploadFile], File(description="CSV, XLSX, GeoPackage, GeoJSON, or a zip of them.")],
    table: Annotated[TableName | Literal[""], Form(description="Which table one file holds.")] = "",
) -> LoadShape:
    """Put files aside and begin to read them; ask for the load by its token until it is ready."""
    given = [(file.filename or "table.csv", file.file) for file in files]
    return load_shape(here.loads.start(given, table or None), locale)


@router.get("/load/{token}")
def look_at_load(token: str, here: Here, locale: Locale) -> LoadShape:
    """Say how far a load has come, what it would change, and what was refused."""
    return load_shape(here.loads.get(token), locale)


@router.put("/load/{token}/mapping", status_code=202)
def map_columns(token: str, asked: MappingAsked, here: Here, locale: Locale) -> LoadShape:
    """Say which of their columns is which of ours, and read again; kept once the load is taken in."""
    load = here.loads.get(token)
    here.loads.read(load, asked.mapping)
    return load_shape(load, locale)


@router.post("/load/{token}/apply", status_code=202)
def apply_load(token: str, asked: ApplyAsked, here: Here, locale: Locale) -> LoadShape:
    """Take a load in."""
    load = here.loads.get(token)
    here.loads.apply(load, here.author(asked.who), skip_bad=asked.skip_bad)
    return load_shape(load, locale)


@router.delete("/load/{token}", status_code=204)
def drop_load(token: str, here: Here) -> None:
    """Forget a load; what was taken in stays."""
    here.loads.get(token)
    here.loads.drop(token)


@router.get("/load/{token}/refused.csv", response_class=FileResponse)
def refused_rows(token: str, here: Here, later: BackgroundTasks) -> FileResponse:
    """Give the refused rows as they stood, with the reasons beside; a zip when several tables had some."""
    from broodsweep.tables import write_refused

    load = here.loads.get(token)
    if load.reading is None or not load.reading.refused:
        raise NotFoundError("web.nothing_refused")
    folder = Path(tempfile.mkdtemp(dir=here.loads.folder))
    return bundled(write_refused(load.reading, folder), folder, "refused", later)


def load_shape(load: Load, locale: str) -> LoadShape:
    """Return a load as an answer."""
    reading, plan = load.reading, load.plan
    faults = reading.all_complaints if reading else ()
    return LoadShape(
        token=load.token,
        state=load.state,
        progress_share=load.progress_share,
        files=[path.name for path in load.files],
        tables=[_table(table) for table in plan.tables if _has_rows(table)] if plan else [],
        refused=[_fault(one, locale) for one in faults[:SHOWN_FAULTS]],
        faults=len(faults),
        can_skip=bool(reading and not reading.complaints),
        warnings=[_fault(one, locale) for one in reading.warnings[:SHOWN_FAULTS]] if reading else [],
        notes=[render(note, locale) for note in reading.notes] if reading else [],
        columns=_columns(load),
        mapping=load.mapping,
        changed_rows=load.changed_rows,
        trouble=render(load.trouble, locale) if load.trouble else None,
    )


def _has_rows(table: TablePlan) -> bool:
    return bool(table.new or table.changed or table.same)


def _table(table: TablePlan) -> TablePlanShape:
    return TablePlanShape(
        table=table.table,
        new=len(table.new),
        changed=len(table.changed),
        same=table.same,
        changes=[_change(change) for change in table.changed[:SHOWN_ROWS]],
    )


def _change(change: Change) -> RowChangeShape:
    return RowChangeShape(
        key=change.key,
        fields=[
            FieldChangeShape(field=field.field, before=_written(field.before), after=_written(field.after))
            for field in change.fields
        ],
    )


def _written(value: object) -> str:
    """Write a field's value shortly: a place by its own text."""
    if value is None:
        return ""
    return str(getattr(value, "text", value))


def _fault(one: Complaint, locale: str) -> RefusedShape:
    return RefusedShape(
        file=one.file,
        line=one.line,
        column=one.column,
        value=one.value,
        what=render(one.what, locale),
        way_out=render(one.way_out, locale),
    )


def _columns(load: Load) -> list[ColumnsShape]:
    """List the columns that are not ours, file by file, with those that were mapped by hand."""
    found: dict[tuple[str, str], list[str]] = {}
    for one in load.reading.unknown_columns if load.reading else ():
        found.setdefault((one.table, one.file), []).append(one.column)
    for table, columns in load.mapping.items():
        for (name, _), unknown in found.items():
            if name == table:
                unknown.extend(theirs for theirs in columns if theirs not in unknown)
    return [
        ColumnsShape(table=table, file=file, unknown=unknown, ours=list(column_names(table)))
        for (table, file), unknown in found.items()
    ]
