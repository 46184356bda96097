"""The desk's view of the field: visits as they come in, what waits for a person, paper sheets."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from broodsweep.access import Access
from broodsweep.access.parcel import frame_of, make_parcel, open_parcel, open_pieces
from broodsweep.desk import fieldbook
from broodsweep.desk.field_photos import LARGEST_PHOTO, photo_bytes, take_piece
from broodsweep.desk.field_sheet import field_sheet, visit_sheet
from broodsweep.desk.paper_lines import PaperVisit, enter_paper, is_entered, sheet_name
from broodsweep.desk.paper_sheets import cautions_on_paper, sheets_for
from broodsweep.desk.satchel import purpose_at
from broodsweep.diagnosis import METHODS, signs
from broodsweep.fieldbook import SHA256_FORM
from broodsweep.web.access import Door
from broodsweep.web.context import ERRORS, Context, Here, Locale, OnDay
from broodsweep.web.fielding import FieldShaper
from broodsweep.web.satchels import told_satchel
from broodsweep.web.shapes import field as f
from broodsweep.web.shapes.base import Signed
from broodsweep.web.shapes.fieldbook import MOST_LINES
from broodsweep.words import render, text

router = APIRouter(prefix="/api/field", responses=ERRORS, tags=["field"])

VisitName = Annotated[str, Path(pattern="^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$")]
PARCEL: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    }
}
PHOTO_POLICY = "default-src 'none'; sandbox"


@router.get("")
def field_page(here: Here, door: Door, on: OnDay, locale: Locale) -> f.FieldSheetShape:
    """Say how the field stands: phones, visits, what waits for a person, what was refused."""
    return FieldShaper(here.desk, door, locale).sheet(field_sheet(here.desk, on))


@router.get("/visits/{visit}")
def field_visit(visit: VisitName, here: Here, door: Door, locale: Locale) -> f.FieldVisitSheetShape:
    """Give one visit whole, with all its lines."""
    return FieldShaper(here.desk, door, locale).visit(visit_sheet(here.desk, visit))


@router.get("/photos/{photo}", response_class=Response, responses={200: {"content": {"image/jpeg": {}}}})
def field_photo(photo: Annotated[str, Path(pattern="^[0-9a-f]{64}$")], here: Here) -> Response:
    """Give a photo, as the picture it is and nothing else."""
    data, kind = photo_bytes(here.desk, photo)
    headers = {
        "Cache-Control": "private, max-age=31536000, immutable",
        "Content-Security-Policy": PHOTO_POLICY,
        "Content-Disposition": f'inline; filename="{photo[:12]}.{kind.rpartition("/")[2]}"',
    }
    return Response(data, media_type=kind, headers=headers)


@router.post("/set-aside/{key}")
def decide(
    key: Annotated[str, Path(max_length=200)], asked: f.DecideAsked, here: Here, door: Door, locale: Locale
) -> f.KeptLineShape:
    """Take in a line that was set aside, or leave it."""
    row = fieldbook.decide_line(here.desk, here.author(asked.who), key, take_in=asked.take_in)
    return FieldShaper(here.desk, door, locale).line(row)


@router.post("/settle")
def settle_again(asked: Signed, here: Here, door: Door, locale: Locale) -> list[f.RefusalShape]:
    """Try once more whatever was refused, and say what still is."""
    rows = fieldbook.try_again(here.desk, here.author(asked.who))
    return FieldShaper(here.desk, door, locale).refusals(rows, {})


@router.get("/paper/start")
def paper_start(
    apiary: Annotated[str, Query(min_length=1, max_length=200)], here: Here, on: OnDay, locale: Locale
) -> f.PaperStartShape:
    """Say what a sheet for an apiary on a day begins with."""
    kept = here.desk.snapshot()
    row = kept.apiary(apiary)
    visit = sheet_name(apiary, on)
    return f.PaperStartShape(
        visit=visit,
        apiary=apiary,
        purpose=purpose_at(kept, apiary),
        is_entered=is_entered(here.desk, visit),
        colonies=row.colonies,
        keeper_name=kept.keeper_name(row),
        tests=[
            f.PaperTestShape(
                test=name,
                label=text(f"diagnosis.test.{name}", locale=locale),
                outcomes={
                    outcome: text(f"diagnosis.outcome.{outcome}", locale=locale)
                    for outcome in (*method.outcomes, "invalid")
                },
            )
            for name, method in METHODS.items()
        ],
        signs={name: text(f"diagnosis.sign.{name}", locale=locale) for name in signs()},
    )


@router.post("/paper", status_code=201)
def enter_sheet(asked: f.PaperAsked, here: Here, door: Door, locale: Locale) -> f.FieldVisitSheetShape:
    """Enter a paper sheet: it becomes the lines that a phone would have written."""
    author = here.author(asked.who)
    weather = {
        "temperature_c": asked.temperature_c,
        "wind": asked.wind,
        "rain": asked.rain,
        "are_flying": asked.are_flying,
    }
    enter_paper(
        here.desk,
        PaperVisit(
            visit=asked.visit,
            apiary=asked.apiary,
            visited_on=asked.visited_on,
            purpose=asked.purpose,
            who=author.who,
            inspector=asked.inspector or None,
            present=asked.present,
            weather=weather if any(value is not None for value in weather.values()) else None,
            colonies=[
                {"colony": row.colony, "state": row.state, "disease": row.disease} for row in asked.colonies
            ],
            signs=[
                {"colony": row.colony, "sign": sign, "is_present": True}
                for row in asked.colonies
                for sign in row.signs
            ],
            tests=[
                {
                    "colony": row.colony,
                    "reading": {
                        "test": row.test,
                        "outcome": row.outcome,
                        **({"lot": row.lot} if row.lot else {}),
                    },
                }
                for row in asked.tests
            ],
            samples=[
                {"sample": row.sample, "colony": row.colony, "of": row.of, "note": ""}
                for row in asked.samples
            ],
            handed=[
                {
                    "sample": row.sample,
                    "to": row.handed_to,
                    "handed_at": row.handed_at.isoformat(),
                    "note": "",
                }
                for row in asked.samples
                if row.handed_to and row.handed_at is not None
            ],
            reports=[row.model_dump(mode="json") for row in asked.reports],
            cleaned=asked.cleaned,
            cleaned_how=asked.cleaned_how,
            note=asked.note,
            signed_by=asked.signed_by,
            keeper_was_there=asked.keeper_was_there,
            keeper_name=asked.keeper_name,
        ),
    )
    return FieldShaper(here.desk, door, locale).visit(visit_sheet(here.desk, asked.visit))


@router.get("/paper.pdf", response_class=Response, responses={200: {"content": {"application/pdf": {}}}})
def paper_sheets(
    here: Here,
    locale: Locale,
    on: OnDay,
    apiary: Annotated[list[str] | None, Query(description="Apiaries; those of the day's rounds.")] = None,
    inspector: Annotated[str | None, Query(max_length=200)] = None,
) -> Response:
    """Give a paper sheet for each stop of a day, or for the apiaries named, as PDF."""
    from broodsweep.papers.field_paper import field_papers_pdf

    found = sheets_for(here.desk, on, apiaries=tuple(apiary or ()), inspector=inspector, locale=locale)
    data = field_papers_pdf(
        found,
        signs=[text(f"diagnosis.sign.{name}", locale=locale) for name in signs()],
        cautions=[render(row, locale) for row in cautions_on_paper()],
        locale=locale,
    )
    headers = {"Content-Disposition": f'inline; filename="field-sheets-{on.isoformat()}.pdf"'}
    return Response(data, media_type="application/pdf", headers=headers)


@router.get(
    "/phones/{device}/parcel",
    response_class=Response,
    responses={200: {"content": {"application/octet-stream": {}}}},
)
def parcel_for(
    device: Annotated[str, Path(max_length=100)], here: Here, door: Door, locale: Locale, on: OnDay
) -> Response:
    """Give what a phone takes along as one sealed file, for where no network joins the two."""
    phone = door.devices.device(device)
    told = told_satchel(here, door, phone, on, locale)
    made = make_parcel(
        told.model_dump(mode="json", by_alias=True),
        sender="desk",
        receiver=device,
        made_at=here.desk.now().isoformat(),
        sign=door.keys.sign,
        seal_to=phone.seal_key,
    )
    headers = {"Content-Disposition": f'attachment; filename="desk-{on.isoformat()}.parcel"'}
    return Response(made, media_type="application/octet-stream", headers=headers)


@router.post("/parcels", openapi_extra=PARCEL)
async def open_a_parcel(request: Request, here: Here, door: Door) -> f.ParcelShape:
    """Take in a phone's sealed file as if its lines and photos were handed in; twice changes nothing."""
    return await run_in_threadpool(_opened, here, door, await request.body())


def _opened(here: Context, door: Access, parcel: bytes) -> f.ParcelShape:
    phone = door.devices.device(frame_of(parcel)["from"])
    content = open_parcel(parcel, receiver="desk", seal=door.keys.seal, signed_by=phone.sign_key)
    found = open_pieces(content, door.keys.seal)
    counts = {"kept": 0, "already": 0, "set_aside": 0}
    for start in range(0, len(found["lines"]), MOST_LINES):
        taken = fieldbook.take_lines(here.desk, phone, found["lines"][start : start + MOST_LINES])
        for row in taken.answers:
            counts[row.answer] += 1
    whole = 0
    for photo, data in found["photos"]:
        if SHA256_FORM.fullmatch(photo) and 0 < len(data) <= LARGEST_PHOTO.value:
            whole += take_piece(here.desk, phone, photo, start=0, total=len(data), piece=data).is_whole
    return f.ParcelShape(
        phone=phone.label, photos=whole, photos_spoilt=len(found["photos"]) - whole, **counts
    )
