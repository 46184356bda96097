"""Rows as the tables hold them: dataclass to a tuple in the order of the columns, and back."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, time
from hashlib import sha256
from typing import Any

from broodsweep.constants import Clearance, Disease, Goods
from broodsweep.geo import Place
from broodsweep.register import Apiary, Inspector, Keeper, Lot, Move, Removal, Row, Visit
from broodsweep.store.canonical import canonical
from broodsweep.store.schema import SHAPES

Record = tuple[Any, ...]
"""A row in the order of its table's columns: None, int, float or str; JSON is text here."""

Extra = tuple[tuple[str, str], ...]


def image(table: str, record: Record) -> str:
    """Return the row as canonical JSON for the journal: an object without its empty columns."""
    shape = SHAPES[table]

    def shown(name: str, value: Any) -> Any:
        if name in shape.digested:
            return sha256(value.encode("utf-8")).hexdigest()
        return json.loads(value) if name in shape.json else value

    return canonical(
        {
            name: shown(name, value)
            for name, value in zip(shape.columns, record, strict=True)
            if value is not None
        }
    )


def _real(value: float | None) -> float | None:
    # + 0.0 turns -0.0 into 0.0, which SQLite would do on disk, so that the journal says what the table says
    return None if value is None else float(value) + 0.0


def _whole(value: int | None) -> int | None:
    return None if value is None else int(value)


def _day(value: date | None) -> str | None:
    return None if value is None else value.isoformat()


def _day_from(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def _extra(value: Extra) -> str | None:
    return canonical(value) if value else None


def _extra_from(text: str | None) -> Extra:
    return () if text is None else tuple((name, value) for name, value in json.loads(text))


def _place(place: Place) -> Record:
    return (
        _real(place.longitude),
        _real(place.latitude),
        _real(place.precision_m),
        place.notation,
        place.text,
        _real(place.easting),
        _real(place.northing),
        int(place.epsg),
        _real(place.datum_accuracy_m),
        place.datum_shift,
    )


def _place_from(values: Record) -> Place:
    return Place(
        longitude=values[0],
        latitude=values[1],
        precision_m=values[2],
        notation=values[3],
        text=values[4],
        easting=values[5],
        northing=values[6],
        epsg=values[7],
        datum_accuracy_m=values[8],
        datum_shift=values[9],
    )


def _from_keeper(row: Keeper) -> Record:
    return (
        row.keeper,
        row.name,
        row.phone,
        row.email,
        row.address,
        _day(row.registered_on),
        _extra(row.extra),
    )


def _to_keeper(r: Record) -> Keeper:
    return Keeper(
        keeper=r[0],
        name=r[1],
        phone=r[2],
        email=r[3],
        address=r[4],
        registered_on=_day_from(r[5]),
        extra=_extra_from(r[6]),
    )


def _from_apiary(row: Apiary) -> Record:
    return (
        row.apiary,
        *_place(row.place),
        int(row.colonies),
        row.keeper,
        _day(row.kept_since),
        _day(row.left_on),
        row.notes,
        _extra(row.extra),
    )


def _to_apiary(r: Record) -> Apiary:
    return Apiary(
        apiary=r[0],
        place=_place_from(r[1:11]),
        colonies=r[11],
        keeper=r[12],
        kept_since=_day_from(r[13]),
        left_on=_day_from(r[14]),
        notes=r[15],
        extra=_extra_from(r[16]),
    )


def _from_move(row: Move) -> Record:
    return (
        row.move,
        _day(row.moved_on),
        row.goods.value,
        row.from_apiary,
        row.to_apiary,
        _real(row.quantity),
        _extra(row.extra),
    )


def _to_move(r: Record) -> Move:
    return Move(
        moved_on=date.fromisoformat(r[1]),
        goods=Goods(r[2]),
        from_apiary=r[3],
        to_apiary=r[4],
        quantity=r[5],
        extra=_extra_from(r[6]),
    )


def _from_visit(row: Visit) -> Record:
    return (
        row.visit,
        row.apiary,
        _day(row.visited_on),
        int(row.colonies_inspected),
        int(row.colonies_confirmed),
        _whole(row.colonies_present),
        _whole(row.colonies_suspect),
        row.inspector,
        row.purpose,
        None if row.disease is None else row.disease.value,
        _extra(row.extra),
    )


def _to_visit(r: Record) -> Visit:
    return Visit(
        visit=r[0],
        apiary=r[1],
        visited_on=date.fromisoformat(r[2]),
        colonies_inspected=r[3],
        colonies_confirmed=r[4],
        colonies_present=r[5],
        colonies_suspect=r[6],
        inspector=r[7],
        purpose=r[8],
        disease=None if r[9] is None else Disease(r[9]),
        extra=_extra_from(r[10]),
    )


def _from_removal(row: Removal) -> Record:
    return (
        row.removal,
        row.apiary,
        _day(row.removed_on),
        row.disease.value,
        int(row.colonies),
        row.how.value,
        _extra(row.extra),
    )


def _to_removal(r: Record) -> Removal:
    return Removal(
        apiary=r[1],
        removed_on=date.fromisoformat(r[2]),
        disease=Disease(r[3]),
        colonies=r[4],
        how=Clearance(r[5]),
        extra=_extra_from(r[6]),
    )


def _from_inspector(row: Inspector) -> Record:
    return (
        row.inspector,
        *_place(row.home),
        row.name,
        ",".join(str(day) for day in sorted(row.works)),
        row.day_start.isoformat(),
        row.day_end.isoformat(),
        _extra(row.extra),
    )


def _to_inspector(r: Record) -> Inspector:
    return Inspector(
        inspector=r[0],
        home=_place_from(r[1:11]),
        name=r[11],
        works=frozenset(int(day) for day in r[12].split(",") if day),
        day_start=time.fromisoformat(r[13]),
        day_end=time.fromisoformat(r[14]),
        extra=_extra_from(r[15]),
    )


def _from_lot(row: Lot) -> Record:
    return (row.lot, row.kit, _day(row.expires_on), _whole(row.count), _extra(row.extra))


def _to_lot(r: Record) -> Lot:
    return Lot(lot=r[0], kit=r[1], expires_on=date.fromisoformat(r[2]), count=r[3], extra=_extra_from(r[4]))


@dataclass(frozen=True)
class Codec:
    """How rows of one register table become records and back."""

    row: type[Row]
    encode: Callable[[Any], Record]
    decode: Callable[[Record], Any]


CODECS: Mapping[str, Codec] = {
    "keepers": Codec(Keeper, _from_keeper, _to_keeper),
    "apiaries": Codec(Apiary, _from_apiary, _to_apiary),
    "moves": Codec(Move, _from_move, _to_move),
    "visits": Codec(Visit, _from_visit, _to_visit),
    "removals": Codec(Removal, _from_removal, _to_removal),
    "inspectors": Codec(Inspector, _from_inspector, _to_inspector),
    "lots": Codec(Lot, _from_lot, _to_lot),
}
"""The register tables: what each holds, in the order of `register.TABLES`."""
