"""What phones ask: lines and photos handed in, the satchel for the day, word of changes."""

from __future__ import annotations

from collections.abc import AsyncIterator
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import StreamingResponse
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import Response

from broodsweep.desk.field_photos import LARGEST_PHOTO, LARGEST_PIECE, photo_state, take_piece
from broodsweep.desk.fieldbook import take_lines
from broodsweep.desk.round_follow import follow_field
from broodsweep.desk.round_worker import Limits
from broodsweep.errors import RefusedError, TroubleError
from broodsweep.web.access import Door, Phone
from broodsweep.web.changes import Stopping, changes
from broodsweep.web.context import ERRORS, Here, Locale
from broodsweep.web.refusals import shaped
from broodsweep.web.routes.rounds import Planner
from broodsweep.web.satchels import told_satchel
from broodsweep.web.shapes import fieldbook as f
from broodsweep.web.shapes.base import shape

router = APIRouter(prefix="/api", responses=ERRORS, tags=["field book"])

PIECE: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    }
}
NO_ROOM = 507
SUSPECT = "suspect"
"""What a line must hold for the rounds to be looked at."""
PhotoName = Annotated[str, Path(pattern="^[0-9a-f]{64}$")]


@router.post("/fieldbook/lines")
def hand_in_lines(
    asked: f.LinesAsked, here: Here, phone: Phone, locale: Locale, planner: Planner
) -> f.LinesAnswerShape:
    """Take in lines of a phone; handing the same line in again changes nothing.

    A suspicion at a stop of the day's round plans the rest of the round anew behind it.
    """
    taken = take_lines(here.desk, phone, asked.lines)
    if any(SUSPECT in str(line) for line in asked.lines) and phone.revoked_at is None:
        follow_field(here.desk, planner, here.author(None), here.desk.today(), Limits())
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
    told = told_satchel(here, door, phone, on or here.desk.today(), locale)
    headers = {"ETag": f'"{told.satchel}"', "Cache-Control": "private, no-cache"}
    if request.headers.get("if-none-match", "").removeprefix("W/") == headers["ETag"]:
        return Response(status_code=304, headers=headers)
    return Response(told.model_dump_json(by_alias=True), media_type="application/json", headers=headers)


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
