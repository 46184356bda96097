"""Apiaries: the list, the map's points, one apiary's sheet, visits, likely duplicates, places and rings."""

from __future__ import annotations

import re
from typing import Annotated, Literal
from uuid import uuid4

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from broodsweep.desk import apiaries, duplicates
from broodsweep.desk.ports import Author
from broodsweep.desk.snapshot import Snapshot
from broodsweep.errors import BroodsweepError
from broodsweep.fieldbook.effects import FOUND_BY
from broodsweep.geo import as_record, locate, parse_place, ring
from broodsweep.register import Apiary, DuplicatePair, Keeper, Visit
from broodsweep.web.context import ERRORS, Context, Here, Locale
from broodsweep.web.shapes.base import shape
from broodsweep.web.shapes.ground import (
    ApiaryAsked,
    ApiaryPageShape,
    ApiarySheetShape,
    DismissAsked,
    DuplicateShape,
    DuplicateSideShape,
    LocateShape,
    MergeAsked,
    PlaceShape,
    PointsShape,
    RingApiaryShape,
    RingShape,
    VisitAsked,
    VisitShape,
)
from broodsweep.words import render

router = APIRouter(prefix="/api", responses=ERRORS, tags=["ground"])
Sort = Literal["apiary", "keeper", "colonies", "last_visit"]
LONGEST_PAGE = 500
FARTHEST_M = 1_000_000.0
DEGREE_DECIMALS = 6  # 0.1 m, far below any place's precision


@router.get("/apiaries")
def list_apiaries(
    here: Here,
    locale: Locale,
    search: Annotated[str, Query(max_length=200)] = "",
    sort: Sort = "apiary",
    offset: Annotated[int, Query(ge=0, le=10_000_000)] = 0,
    limit: Annotated[int, Query(ge=1, le=LONGEST_PAGE)] = 50,
) -> ApiaryPageShape:
    """Give one page of the apiaries whose name, keeper, place or notes hold every word of the search."""
    page = apiaries.list_apiaries(here.desk, search=search, sort=sort, offset=offset, limit=limit)
    return shape(ApiaryPageShape, page, locale)


@router.get("/points", response_model=PointsShape)
def points(here: Here, request: Request) -> Response:
    """Give every apiary as a point for the map, in columns; asked again, only when the record has changed."""
    version = here.desk.snapshot().version
    tag = f'"{version}"'
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers={"ETag": tag})
    kept = here.kept.get("points")
    if kept is None or kept[0] != version:
        kept = (version, _points(here, version).model_dump_json().encode())
        here.kept["points"] = kept
    headers = {"ETag": tag, "Cache-Control": "private, no-cache"}
    return Response(kept[1], media_type="application/json", headers=headers)


def _points(here: Context, version: int) -> PointsShape:
    found = apiaries.map_points(here.desk)
    return PointsShape(
        version=version,
        apiary=[row.apiary for row in found],
        longitude=[round(row.longitude, DEGREE_DECIMALS) for row in found],
        latitude=[round(row.latitude, DEGREE_DECIMALS) for row in found],
        precision_m=[row.precision_m for row in found],
        colonies=[row.colonies for row in found],
        mark=[row.mark for row in found],
        last_visited_on=[row.last_visited_on for row in found],
    )


@router.get("/apiaries/{apiary:path}")
def apiary_sheet(apiary: str, here: Here, locale: Locale) -> ApiarySheetShape:
    """Give everything known of one apiary."""
    return shape(ApiarySheetShape, apiaries.apiary_sheet(here.desk, apiary), locale)


@router.post("/apiaries", status_code=201)
def enter_apiary(asked: ApiaryAsked, here: Here, locale: Locale) -> ApiarySheetShape:
    """Enter an apiary found on the way, and its keeper when new."""
    author = here.author(asked.who)
    row = Apiary(
        apiary=asked.apiary,
        place=parse_place(asked.place),
        colonies=asked.colonies,
        keeper=asked.keeper or None,
        kept_since=asked.kept_since,
        notes=asked.notes or None,
        extra=((FOUND_BY, author.who),),
    )
    is_new = bool(row.keeper) and row.keeper not in here.desk.snapshot().keepers
    keeper = (
        Keeper(keeper=row.keeper, name=asked.keeper_name or None, phone=asked.keeper_phone or None)
        if is_new and row.keeper
        else None
    )
    apiaries.add_apiary(here.desk, author, row, keeper)
    return shape(ApiarySheetShape, apiaries.apiary_sheet(here.desk, row.apiary), locale)


@router.post("/visits", status_code=201)
def record_visit(asked: VisitAsked, here: Here, locale: Locale) -> VisitShape:
    """Write down a visit."""
    fields = asked.model_dump(exclude={"who", "visit"})
    visit = Visit(visit=asked.visit or f"V-{asked.visited_on:%Y%m%d}-{uuid4().hex[:8]}", **fields)
    author: Author = here.author(asked.who or asked.inspector)
    return shape(VisitShape, apiaries.record_visit(here.desk, author, visit), locale)


@router.get("/duplicates")
def list_duplicates(here: Here, locale: Locale) -> list[DuplicateShape]:
    """Give the pairs of rows that may be the same apiary or keeper, likeliest first."""
    kept = here.desk.snapshot()
    return [_duplicate(kept, pair, locale) for pair in duplicates.list_duplicates(here.desk)]


def _duplicate(kept: Snapshot, pair: DuplicatePair, locale: str) -> DuplicateShape:
    return DuplicateShape(
        kind=pair.kind,
        score=pair.score,
        reasons=[render(reason, locale) for reason in pair.reasons],
        first=_side(kept, pair.kind, pair.first, locale),
        second=_side(kept, pair.kind, pair.second, locale),
    )


def _side(kept: Snapshot, kind: str, key: str, locale: str) -> DuplicateSideShape:
    if kind == "apiary":
        row = kept.apiary(key)
        return DuplicateSideShape(
            key=key,
            name=kept.keeper_name(row) or row.keeper,
            place=shape(PlaceShape, row.place, locale),
            colonies=row.colonies,
            apiaries=None,
        )
    keeper = kept.keepers.get(key)
    count = len(kept.by_keeper.get(key, ()))
    return DuplicateSideShape(
        key=key, name=keeper.name if keeper else None, place=None, colonies=None, apiaries=count
    )


@router.post("/duplicates/merge", status_code=204)
def merge(asked: MergeAsked, here: Here) -> None:
    """Merge two rows on the user's word; all that named the dropped one then names the kept one."""
    duplicates.merge(here.desk, here.author(asked.who), asked.kind, asked.keep, asked.drop)


@router.post("/duplicates/dismiss", status_code=204)
def dismiss(asked: DismissAsked, here: Here) -> None:
    """Note that two rows are not the same."""
    duplicates.dismiss(here.desk, here.author(asked.who), asked.kind, asked.first, asked.second)


@router.get("/locate")
def locate_place(place: Annotated[str, Query(min_length=1, max_length=200)]) -> LocateShape:
    """Read a place in any notation."""
    return LocateShape.model_validate(as_record(locate(place)))


@router.get("/ring")
def ring_round(
    here: Here,
    place: Annotated[str, Query(min_length=1, max_length=200)],
    radii: Annotated[str, Query(max_length=100, description="Radii like 3km,5km or 3000.")] = "3km,5km",
) -> RingShape:
    """Say how every apiary lies to a centre that may be within the widest radius: in, out or cannot tell."""
    radii_m = read_radii(radii)
    kept = here.desk.snapshot()
    answer = ring(parse_place(place), kept.places, radii_m)
    near = (answer.nearest_m <= radii_m[-1]).nonzero()[0]
    order = sorted(near, key=lambda number: float(answer.nearest_m[number]))
    return RingShape(
        radii_m=list(radii_m),
        apiaries=[
            RingApiaryShape(
                apiary=kept.ground.apiaries[number].apiary,
                nearest_m=float(answer.nearest_m[number]),
                farthest_m=float(answer.farthest_m[number]),
                answers=[str(said) for said in answer.answers[number]],
            )
            for number in order
        ],
    )


_RADIUS = re.compile(r"(\d+(?:\.\d+)?)\s*(km|m)?", re.IGNORECASE)


def read_radii(said: str) -> tuple[float, ...]:
    """Return radii in metres, smallest first, from a text like ``3km,5km``.

    Raises
    ------
    BroodsweepError
        If a part is no distance, or none is above 0 and below 1,000 km.
    """
    found = set()
    for part in said.split(","):
        match = _RADIUS.fullmatch(part.strip())
        radius_m = float(match[1]) * (1000.0 if (match[2] or "").lower() == "km" else 1.0) if match else 0.0
        if not 0 < radius_m <= FARTHEST_M:
            raise BroodsweepError("web.bad_radius", got=part.strip() or "–")
        found.add(radius_m)
    return tuple(sorted(found))
