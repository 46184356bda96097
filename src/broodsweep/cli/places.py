"""`locate` and `ring`: where is it, and who lies round it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from math import inf
from typing import Annotated, Any

import typer

from broodsweep.cli.options import GroundOption, HomeOption, JsonOption, OnOption
from broodsweep.cli.speech import help_text, print_json, print_line, print_message, print_table
from broodsweep.errors import BroodsweepError, NotFoundError
from broodsweep.geo import Place, PlaceError
from broodsweep.words import say

UNITS_M = {"km": 1000.0, "m": 1.0, "": 1.0}


def locate(
    place: Annotated[str, typer.Argument(metavar="PLACE", help=help_text("cli.locate.place"))],
    as_json: JsonOption = False,
) -> None:
    """Say where a place is and how precisely it is known."""
    from broodsweep.geo import as_record, parse_place

    found = parse_place(place)
    record = as_record(found)
    if as_json:
        print_json({**record, "notes": found.notes})
        return
    print_table(("cli.column.what", "cli.column.value"), _told(record))
    for note in found.notes:
        print_message(note)


def _told(record: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return what is worth reading of a place: degrees to a centimetre, metres, and how sure they are."""
    rows = [
        ("cli.locate.longitude", f"{record['longitude']:.7f}"),
        ("cli.locate.latitude", f"{record['latitude']:.7f}"),
        ("cli.locate.precision", _distance(record["precision_m"])),
        ("cli.locate.notation", help_text(f"geo.notation_{record['notation']}")),
    ]
    if record["easting"] is not None:
        rows += [
            ("cli.locate.easting", f"{record['easting']:.1f}"),
            ("cli.locate.northing", f"{record['northing']:.1f}"),
            ("cli.locate.grid", f"EPSG:{record['epsg']}"),
            ("cli.locate.grid_accuracy", _distance(record["grid_accuracy_m"])),
        ]
    if record["datum_shift"]:
        rows.append(("cli.locate.datum", record["datum_shift"]))
    return [(help_text(key), value) for key, value in rows]


def _distance(distance_m: float) -> str:
    """Write a distance in the language of the commands."""
    return help_text("cli.distance", d_m=distance_m)


def parse_radii(text: str) -> tuple[float, ...]:
    """Parse radii like ``3km,5km`` or ``500 m`` into metres, smallest first.

    Raises
    ------
    BroodsweepError
        If a radius is not a positive number with km, m or no unit.
    """
    radii = []
    for part in text.split(","):
        match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(km|m|)\s*", part, re.IGNORECASE)
        if not match or not float(match[1]) > 0:
            raise BroodsweepError("cli.bad_radius", value=part.strip())
        radii.append(float(match[1]) * UNITS_M[match[2].lower()])
    return tuple(sorted(set(radii)))


def _centre(at: str) -> Place:
    from broodsweep.geo import parse_place

    try:
        return parse_place(at)
    except PlaceError as error:
        if error.message.key == "geo.not_a_place":
            raise NotFoundError("cli.ring.neither", at=at) from error
        raise


def ring(
    at: Annotated[str, typer.Option("--at", metavar="PLACE", help=help_text("cli.ring.at"))],
    radii: Annotated[
        str, typer.Option("--radii", metavar="LIST", help=help_text("cli.ring.radii"))
    ] = "3km,5km",
    near_only: Annotated[bool, typer.Option("--near-only", help=help_text("cli.ring.near_only"))] = False,
    ground: GroundOption = None,
    home: HomeOption = None,
    on: OnOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say for every apiary whether it lies in each ring, out of it, or cannot be told."""
    from broodsweep.bootstrap import open_desk
    from broodsweep.geo import ring as ring_round

    radii_m = parse_radii(radii)
    with open_desk(ground=ground, home=home, on=on.date() if on else None, write=False) as desk:
        kept = desk.snapshot()
        centre = kept.apiaries[at].place if at in kept.apiaries else _centre(at)
        answer = ring_round(centre, kept.places, radii_m, within_m=None if near_only else inf)
        names = [row.apiary for row in kept.ground.apiaries]
    order = sorted(answer.index, key=lambda number: float(answer.nearest_m[number]))
    rows: list[dict[str, Any]] = [
        {
            "apiary": names[number],
            "nearest_m": round(float(answer.nearest_m[number]), 3),
            "farthest_m": round(float(answer.farthest_m[number]), 3),
            "answers": [str(given) for given in answer.answer(number)],
        }
        for number in order
    ]
    if as_json:
        print_json({"at": at, "radii_m": radii_m, "apiaries": rows})
        return
    near = [row for row in rows if row["nearest_m"] <= radii_m[-1]]
    if not near:
        print_line("cli.ring.none_near" if names else "cli.ring.none", at=at, radius_m=radii_m[-1])
        return
    print_table(
        ("cli.column.apiary", "cli.column.nearest_m", "cli.column.farthest_m", "cli.column.answers"),
        [
            (
                row["apiary"],
                f"{row['nearest_m']:.0f}",
                f"{row['farthest_m']:.0f}",
                " · ".join(help_text(f"ring.{given}") for given in row["answers"]),
            )
            for row in near
        ],
        title=help_text(
            "cli.ring.title", at=at, radii=[say("cli.distance", d_m=radius) for radius in radii_m]
        ),
    )
