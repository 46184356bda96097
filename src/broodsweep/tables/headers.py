"""Matches the columns of a file with ours: whatever case and blanks, by a mapping given once, or by likeness."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches

from broodsweep.register import PLACE_COLUMN, TABLES, column_names
from broodsweep.tables.complaints import BadFileError, UnknownColumn
from broodsweep.words import say

ColumnMapping = Mapping[str, Mapping[str, str]]
"""Table → their column → ours: plain text throughout, so that it can be kept as JSON. Ours blank: left out."""

REASONS, WHERE = "refused_because", "refused_from"
"""Columns that `write_refused` adds; left out when a mended file is read again."""

_ALIKE = 0.75
_KEYS = {table.name: table.key for table in TABLES if table.name not in ("moves", "removals")}
_SYNONYMS: dict[str, str] = {
    **dict.fromkeys(("lat", "y", "lat_deg", "wgs84_lat"), "latitude"),
    **dict.fromkeys(("lon", "long", "lng", "x", "lon_deg", "wgs84_lon"), "longitude"),
    **dict.fromkeys(
        ("grid_ref", "grid_reference", "gridref", "location", "position", "coordinates"), "place"
    ),
    **dict.fromkeys(("hives", "number_of_hives", "number_of_colonies", "n_colonies", "stocks"), "colonies"),
    **dict.fromkeys(("beekeeper", "owner", "keeper_id", "keeper_no", "keeper_number"), "keeper"),
    **dict.fromkeys(("site", "site_no", "site_id", "apiary_id", "apiary_no", "apiary_number"), "apiary"),
    **dict.fromkeys(("from", "source", "origin"), "from_apiary"),
    **dict.fromkeys(("to", "target", "destination"), "to_apiary"),
    **dict.fromkeys(("amount", "number"), "quantity"),
    **dict.fromkeys(("tel", "telephone", "mobile", "phone_number"), "phone"),
    **dict.fromkeys(("mail", "e_mail", "email_address"), "email"),
    **dict.fromkeys(("remarks", "comments", "comment", "note"), "notes"),
    **dict.fromkeys(("full_name", "surname"), "name"),
    **dict.fromkeys(("precision", "accuracy", "accuracy_m"), "precision_m"),
    **dict.fromkeys(("since", "start_date"), "kept_since"),
    **dict.fromkeys(("left", "end_date"), "left_on"),
    **dict.fromkeys(("present",), "colonies_present"),
    **dict.fromkeys(("inspected",), "colonies_inspected"),
    **dict.fromkeys(("suspect", "suspected"), "colonies_suspect"),
    **dict.fromkeys(("confirmed",), "colonies_confirmed"),
    **dict.fromkeys(("method",), "how"),
    **dict.fromkeys(("expiry", "expires", "use_by"), "expires_on"),
}
_DATES = {"visits": "visited_on", "moves": "moved_on", "removals": "removed_on", "keepers": "registered_on"}


def normalised(header: str) -> str:
    """Return a header in small letters with single underscores for everything between words."""
    return re.sub(r"[\W_]+", "_", header.strip("\ufeff\u200b ").casefold()).strip("_")


@dataclass(frozen=True, kw_only=True)
class MatchedColumns:
    """The columns of a file: ours by position (None when not ours), the extra ones, and what is unknown."""

    ours: tuple[str | None, ...]
    extra: Mapping[int, str] = field(default_factory=dict)
    unknown: tuple[UnknownColumn, ...] = ()

    @property
    def given(self) -> frozenset[str]:
        """Names of ours and headers of the extra columns that the file has."""
        return frozenset(name for name in self.ours if name) | frozenset(self.extra.values())


def match_columns(
    table: str, header: Sequence[str], mapping: ColumnMapping | None, file: str
) -> MatchedColumns:
    """Return which column of the file is which of ours.

    Raises
    ------
    BadFileError
        If two columns of the file are the same one.
    """
    names = set(column_names(table))
    mapped = {normalised(theirs): ours for theirs, ours in (mapping or {}).get(table, {}).items()}
    ours: list[str | None] = []
    extra: dict[int, str] = {}
    seen: dict[str, int] = {}
    for index, theirs in enumerate(header):
        key = normalised(theirs)
        name: str | None = mapped.get(key, key)
        if name in names:
            ours.append(name)
        else:
            ours.append(None)
            if name in (REASONS, WHERE) or (key in mapped and not name):
                continue
            name = extra[index] = theirs or f"column {index + 1}"
        if name in seen:
            params = {"first": str(seen[name] + 1), "second": str(index + 1)}
            raise BadFileError(
                say("tables.column_twice", **params), say("tables.column_twice_way_out"), column=theirs
            )
        seen[str(name)] = index
    found = frozenset(name for name in ours if name)
    unknown = tuple(
        UnknownColumn(table=table, file=file, column=title, suggestion=_nearest(table, title, found))
        for title in extra.values()
        if title != "" and header[_position(extra, title)]
    )
    return MatchedColumns(ours=tuple(ours), extra=extra, unknown=unknown)


def _position(extra: Mapping[int, str], title: str) -> int:
    return next(index for index, known in extra.items() if known == title)


def count_known(table: str, header: Sequence[str], mapping: ColumnMapping | None) -> int:
    """Return how many of the headers are known columns of the table."""
    known = set(column_names(table)) | {normalised(name) for name in (mapping or {}).get(table, {})}
    return sum(normalised(theirs) in known for theirs in header)


def suggest_mapping(table: str, header: Sequence[str]) -> dict[str, str]:
    """Return their column → ours for the columns that are not ours but look like it, each of ours once.

    Exact names are not in the answer, for they need no mapping. The answer is offered to the user; nothing
    is mapped without a yes.

    Raises
    ------
    ValueError
        If there is no such table.
    """
    taken = {normalised(theirs) for theirs in header} & set(column_names(table))
    found: dict[str, str] = {}
    for theirs in header:
        if normalised(theirs) in column_names(table):
            continue
        ours = _nearest(table, theirs, frozenset(taken))
        if ours:
            found[theirs] = ours
            taken.add(ours)
    return found


def _nearest(table: str, theirs: str, taken: frozenset[str]) -> str | None:
    key = normalised(theirs)
    free = [name for name in column_names(table) if name not in taken]
    meant = _SYNONYMS.get(key)
    if meant == "place":
        meant = PLACE_COLUMN.get(table)
    if key in ("id", "no", "number", "ref", "reference", f"{table[:-1]}_id", f"{table[:-1]}_no"):
        meant = _KEYS.get(table, meant)
    if key in ("date", "day", "on", "when"):
        meant = _DATES.get(table)
    if meant in free:
        return meant
    near = get_close_matches(key, free, n=1, cutoff=_ALIKE) if key else []
    return near[0] if near else None
