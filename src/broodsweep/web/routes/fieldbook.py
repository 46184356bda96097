"""What phones ask: lines and photos handed in, the satchel for the day, word of changes."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator
from datetime import date
from hashlib import sha256
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import StreamingResponse
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import Response

from broodsweep.constants import Disease
from broodsweep.desk.access import Role
from broodsweep.desk.field_photos import LARGEST_PHOTO, LARGEST_PIECE, photo_state, take_piece
from broodsweep.desk.fieldbook import take_lines
from broodsweep.desk.round_names import inspector_names
from broodsweep.desk.satchel import Satchel, satchel
from broodsweep.errors import RefusedError, TroubleError
from broodsweep.rulebook import Rule
from broodsweep.web.access import Door, Phone
from broodsweep.web.changes import Stopping, changes
from broodsweep.web.context import ERRORS, Here, Locale
from broodsweep.web.refusals import shaped
from broodsweep.web.shapes import fieldbook as f
from broodsweep.web.shapes.base import shape
from broodsweep.web.shapes.rules import value_said
from broodsweep.words import Message, render, say

router = APIRouter(prefix="/api", responses=ERRORS, tags=["field book"])

PIECE: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    }
}
NO_ROOM = 507
PhotoName = Annotated[str, Path(pattern="^[0-9a-f]{64}$")]


@router.post("/fieldbook/lines")
def hand_in_lines(asked: f.LinesAsked, here: Here, phone: Phone, locale: Locale) -> f.LinesAnswerShape:
    """Take in lines of a phone; handing the same line in again changes nothing."""
    taken = take_lines(here.desk, phone, asked.lines)
    return f.LinesAnswerShape(
        answers=[shape(f.LineAnswerShape, row, locale) for row in taken.answers],
        wipe=phone.wipe_asked_at is not None,
        photos_wanted=list(taken.photos_wanted),
    )


@router.get("/fieldbook/photos/{photo}")
def photo_received(photo: PhotoName, here: Here, phone: Phone) -> f.ReceivedShape:
    """Say how much of a photo is here."""
    found = photo_state(here.desk, phone, photo)
    return f.ReceivedShape(received=found.received, is_whole=found.is_whole)


@router.put(
    "/fieldbook/photos/{photo}",
    openapi_extra=PIECE,
    response_model=f.ReceivedShape,
    responses={
        NO_ROOM: {"model": ERRORS[503]["model"], "description": "No room for photos on the desk's disk."}
    },
)
async def hand_in_photo(
    photo: PhotoName,
    request: Request,
    here: Here,
    phone: Phone,
    locale: Locale,
    start: Annotated[int, Query(alias="from", ge=0, le=int(LARGEST_PHOTO.value))],
    total: Annotated[int, Query(alias="bytes", ge=1, le=int(LARGEST_PHOTO.value))],
) -> Response | f.ReceivedShape:
    """Take in a piece of a photo, at most 512 KiB; pieces may come again."""
    piece = await request.body()
    if len(piece) > LARGEST_PIECE.value:
        raise HTTPException(413)
    if start + len(piece) > total:
        raise RefusedError("fieldbook.piece_too_long", bytes=total)
    try:
        found = await run_in_threadpool(
            take_piece, here.desk, phone, photo, start=start, total=total, piece=piece
        )
    except TroubleError as err:
        if err.message.key == "store.no_room_for_photos":
            return shaped(request.scope, NO_ROOM, err.message)
        raise
    return f.ReceivedShape(received=found.received, is_whole=found.is_whole)


@router.get(
    "/fieldbook/satchel", response_model=f.SatchelShape, responses={304: {"description": "As before."}}
)
def take_along(
    request: Request,
    here: Here,
    phone: Phone,
    door: Door,
    locale: Locale,
    on: Annotated[date | None, Query(description="Day asked about; today.")] = None,
) -> Response:
    """Give a phone what it takes along for a day."""
    if phone.revoked_at is not None:
        raise RefusedError("fieldbook.satchel_revoked")
    day = on or here.desk.today()
    found = satchel(here.desk, phone.inspector, day)
    lead = next((row for row in door.people.everyone() if row.role is Role.LEAD and not row.retired_at), None)
    told = f.SatchelShape(
        satchel="",
        made_at=here.desk.now(),
        on=day,
        stands_on=found.stands_on,
        who=phone.who,
        inspector=phone.inspector,
        role=next(
            (str(row.role) for row in door.people.everyone() if row.name == phone.who), str(Role.INSPECTOR)
        ),
        lead=f.LeadShape(name=lead.name, phone=_phone_of_lead(here)) if lead else None,
        inspectors=inspector_names(here.desk.snapshot()),
        words_locale=locale,
        **_parts(found, locale),
    )
    content = told.model_dump(mode="json", exclude={"made_at", "satchel"})
    name = sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()[:32]
    headers = {"ETag": f'"{name}"', "Cache-Control": "private, no-cache"}
    if request.headers.get("if-none-match", "").removeprefix("W/") == headers["ETag"]:
        return Response(status_code=304, headers=headers)
    body = told.model_copy(update={"satchel": name}).model_dump_json(by_alias=True)
    return Response(body, media_type="application/json", headers=headers)


@router.get("/changes", include_in_schema=False)
def listen(here: Here, request: Request) -> StreamingResponse:
    """Tell of every change of the record, as server-sent events."""
    stopping: Stopping = request.app.state.stopping

    async def told() -> AsyncIterator[str]:
        stopping.listen()
        async for event in changes(here.desk.store.version, stopping):
            yield event

    headers = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}
    return StreamingResponse(told(), media_type="text/event-stream", headers=headers)


def _phone_of_lead(here: Here) -> str | None:
    found = here.setting("lead_phone")
    return str(found) if found else None


def _parts(found: Satchel, locale: str) -> dict[str, Any]:
    def said(messages: tuple[Message, ...]) -> list[str]:
        return [render(row, locale) for row in messages]

    return {
        "stops": [shape(f.StopShape, row, locale) for row in found.stops],
        "candidates": [shape(f.CandidateShape, row, locale) for row in found.candidates],
        "apiaries": [
            f.SatchelApiaryShape(
                apiary=row.apiary.apiary,
                longitude=row.apiary.place.longitude,
                latitude=row.apiary.place.latitude,
                precision_m=row.apiary.place.precision_m,
                colonies=row.apiary.colonies,
                keeper=row.apiary.keeper,
                notes=row.apiary.notes,
                case_state=row.case_state,
                last_visited_on=row.last_visited_on,
                history=[shape(f.PastShape, past, locale) for past in row.history],
            )
            for row in found.apiaries
        ],
        "keepers": [shape(f.SatchelKeeperShape, row, locale) for row in found.keepers],
        "outbreaks": [shape(f.SatchelOutbreakShape, row, locale) for row in found.outbreaks],
        "lots": [shape(f.SatchelLotShape, row, locale) for row in found.lots],
        "rules": [*_rules(found.rules, locale), *_cautions(found.cautions, locale)],
        "limits": shape(f.LimitsShape, found.limits, locale),
    }


def _rules(rows: tuple[tuple[Disease, Rule], ...], locale: str) -> list[f.SatchelRuleShape]:
    return [
        f.SatchelRuleShape(
            key=f"{row.name}.{disease}",
            text=render(say("fieldbook.rule_said", label=row.label, value=value_said(row)), locale),
            source=row.citation,
        )
        for disease, row in rows
    ]


def _cautions(rows: tuple[Message, ...], locale: str) -> list[f.SatchelRuleShape]:
    return [
        f.SatchelRuleShape(
            key=f"caution.{row.key.rpartition('caution_')[2]}",
            text=render(row, locale),
            source=render(say("fieldbook.caution_source"), locale),
        )
        for row in rows
    ]
