"""A line of the field book: read strictly, written in one spelling, never changed."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from broodsweep.errors import RefusedError
from broodsweep.fieldbook.constants import LONGEST_LINE, LONGEST_NAME
from broodsweep.fieldbook.forms import AMENDABLE, BODIES, FOUND_FORM, UUID_FORM, WITHOUT_VISIT, is_instant

_SHOWN = 60  # letters of a wrong value that a refusal repeats
UNREAD = "unread"
"""Kind that stands for a line which cannot be read here: it counts for the signature's number only."""


class LineError(RefusedError):
    """A line has not the form of its kind; the desk keeps it and lets a person decide."""


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line; what it means is worked out by `fold`.

    Parameters
    ----------
    line
        Name (UUID) made on the phone.
    device
        Name of the phone.
    number
        1, 2, 3 … on this phone.
    visit
        Name of the visit; None for what belongs to none.
    apiary
        Key in the register, or of an apiary found on the way.
    kind
        One of `forms.BODIES`.
    written_at
        What the phone's clock said, RFC 3339.
    body
        As the kind asks.
    """

    line: str
    device: str
    number: int
    visit: str | None
    apiary: str | None
    kind: str
    written_at: str
    body: Mapping[str, Any]

    @property
    def order(self) -> tuple[int, str]:
        """Place among the lines of a visit."""
        return (self.number, self.line)


def read_line(value: object) -> Line:
    """Return the line that parsed JSON holds.

    Raises
    ------
    LineError
        If it lacks a field, a field holds what it may not, or its kind is not known here.
    """
    if not isinstance(value, dict):
        raise LineError("fieldbook.not_a_line")
    line = _envelope(value)
    if line.kind not in BODIES:
        raise LineError("fieldbook.unknown_kind", kind=line.kind)
    if line.visit is None and line.kind not in WITHOUT_VISIT:
        raise LineError("fieldbook.no_visit", kind=line.kind)
    if line.kind == "visit_begun" and line.apiary is None:
        raise LineError("fieldbook.no_apiary", kind=line.kind)
    if line.kind == "apiary_found" and not (line.apiary and FOUND_FORM.fullmatch(line.apiary)):
        raise LineError("fieldbook.bad_found_key", apiary=str(line.apiary))
    _check_body(line.kind, line.body)
    if line.kind == "visit_amended":
        kind = line.body["kind"]
        if kind not in AMENDABLE:
            raise LineError("fieldbook.not_amendable", kind=kind)
        _check_body(kind, line.body["body"])
    if len(content_of(value)) > LONGEST_LINE.value:
        raise LineError("fieldbook.line_too_long", bytes=int(LONGEST_LINE.value))
    return line


def envelope_of(value: object) -> Line | None:
    """Return what of an unreadable line can be counted: its name, phone, number and visit; None without these."""
    try:
        if not isinstance(value, dict):
            return None
        line = _envelope(value)
    except LineError:
        return None
    return Line(**{**line.__dict__, "kind": UNREAD, "body": {}})


def _envelope(value: Mapping[str, Any]) -> Line:
    names = ("line", "device", "number", "visit", "apiary", "kind", "written_at", "body")
    for name in names:
        if name not in value:
            raise LineError("fieldbook.missing_field", field=name)
    _require(_is_uuid(value["line"]), "line", value["line"])
    _require(_is_name(value["device"]), "device", value["device"])
    _require(type(value["number"]) is int and value["number"] > 0, "number", value["number"])
    _require(value["visit"] is None or _is_uuid(value["visit"]), "visit", value["visit"])
    _require(value["apiary"] is None or _is_name(value["apiary"]), "apiary", value["apiary"])
    _require(_is_name(value["kind"]), "kind", value["kind"])
    _require(is_instant(value["written_at"]), "written_at", value["written_at"])
    _require(isinstance(value["body"], dict), "body", value["body"])
    return Line(**{name: value[name] for name in names})


def _check_body(kind: str, body: Mapping[str, Any]) -> None:
    for name, field in BODIES[kind].items():
        if name not in body:
            raise LineError("fieldbook.missing_field", field=f"{kind}.{name}")
        if not field.holds(body[name]):
            raise LineError(
                "fieldbook.bad_field", field=f"{kind}.{name}", wanted=field.wanted, got=_shown(body[name])
            )


def _require(is_sound: bool, field: str, got: object) -> None:
    if not is_sound:
        raise LineError("fieldbook.bad_envelope", field=field, got=_shown(got))


def _shown(value: object) -> str:
    shown = json.dumps(value, ensure_ascii=False, default=str)
    return shown if len(shown) <= _SHOWN else f"{shown[: _SHOWN - 1]}…"


def _is_uuid(value: object) -> bool:
    return isinstance(value, str) and UUID_FORM.fullmatch(value) is not None


def _is_name(value: object) -> bool:
    return isinstance(value, str) and 0 < len(value) <= LONGEST_NAME.value and value.isprintable()


def content_of(value: object) -> str:
    """Return a line's JSON in one spelling: sorted names, no spaces.

    Raises
    ------
    LineError
        If it holds a number or a letter that JSON in UTF-8 cannot carry.
    """
    try:
        text = json.dumps(value, ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"))
        text.encode("utf-8")
    except (ValueError, TypeError) as err:
        raise LineError("fieldbook.not_a_line") from err
    return text


def as_mapping(line: Line) -> dict[str, Any]:
    """Return the line as it travels."""
    return dict(line.__dict__)


def digest_of(names: Iterable[str]) -> str:
    """Return what a signature says of the lines before it: SHA-256 in hex of their names, joined by a line feed."""
    return sha256("\n".join(names).encode("utf-8")).hexdigest()
