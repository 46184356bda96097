"""Latitude and longitude as people write them: decimal or sexagesimal, signs or hemisphere letters, any order.

Without letters or words the order is latitude first (ISO 6709), with a note that says so, unless the first
number cannot be a latitude. Degrees name the middle of their square, as people round them; its side is one
unit of the last decimal (of the finer of the two: spreadsheets drop zeros at the end).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from broodsweep.geo.constants import FINEST_PRECISION, SECOND_OF_ARC_PER_DEGREE
from broodsweep.geo.place import Place, PlaceError
from broodsweep.geo.squares import degrees_per_metre
from broodsweep.words import Message, say

Order = Literal["latitude_first", "longitude_first"]
Axis = Literal["latitude", "longitude"]

EXAMPLE = "52.6576, 1.7179"
SEXAGESIMAL_EXAMPLE = "52°39′27″N 1°43′05″E"
_LIMIT_DEGREE: dict[Axis, float] = {"latitude": 90.0, "longitude": 180.0}
_AXIS_OF: dict[str, Axis] = {"N": "latitude", "S": "latitude", "E": "longitude", "W": "longitude"}
_MINUTES = 60
_TOKEN = re.compile(
    r"""(?P<label>lat(?:itude)?|lon(?:g(?:itude)?)?|lng)\b\s*[:=.]?
      | (?P<number>\d+(?:\.\d*)?|\.\d+)
      | (?P<unit>°|deg(?:rees?)?\b|d(?![a-z])|min(?:utes?)?\b|m(?![a-z])|sec(?:onds?)?\b|''|'|")
      | (?P<letter>[nsew](?![a-z]))
      | (?P<word>north|south|east|west)\b
      | (?P<sign>[+-])
      | (?P<comma>[,;/|])
      | (?P<space>\s+)
      | (?P<strange>.)""",
    re.VERBOSE | re.IGNORECASE,
)
_EXPONENT = re.compile(r"\d[eE][+-]?\d")
_COMMA_IN_DOUBT = re.compile(r"-?\d+,\d+")
_POSITION = {"°": 0, "d": 0, "m": 1, "'": 1, "s": 2, '"': 2, "''": 2}
_PARTS = ("geo.part_degrees", "geo.part_minutes", "geo.part_seconds")
_MOST_PARTS = len(_PARTS)


@dataclass
class _Angle:
    """One coordinate while it is read."""

    negative: bool = False
    signed: bool = False
    letter: str = ""
    axis: Axis | None = None
    numbers: list[str] = field(default_factory=list)
    marked: int = 0  # how many of the numbers carry their mark

    def degrees(self) -> float:
        size = 0.0
        for number in reversed(self.numbers):
            size = size / _MINUTES + float(number)
        return -size if self.negative else size

    def unit_degree(self) -> float:
        """Size of one unit of the last decimal. [degree]"""
        decimals = len(self.numbers[-1].partition(".")[2])
        return float(1.0 / (10**decimals * _MINUTES ** (len(self.numbers) - 1)))


class _Reader:
    """Takes tokens one by one and sorts them into coordinates."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.done: list[_Angle] = []
        self.angle = _Angle()

    def close(self) -> None:
        if self.angle.numbers:
            self.done.append(self.angle)
            self.angle = _Angle()

    def fail(self, key: str, **params: object) -> PlaceError:
        return PlaceError(key, text=self.text, example=f"{EXAMPLE} / {SEXAGESIMAL_EXAMPLE}", **params)

    def label(self, word: str) -> None:
        self.close()
        self.angle.axis = "latitude" if word.lower().startswith("lat") else "longitude"

    def sign(self, sign: str) -> None:
        self.close()
        self.angle.negative, self.angle.signed = sign == "-", True

    def number(self, number: str, *, mark: str) -> None:
        numbers = self.angle.numbers
        is_degrees = _POSITION.get(mark[:1].lower()) == 0
        # A fraction can only be the last part, and a degree mark the first: what follows is the other coordinate.
        if numbers and (is_degrees or ("." in numbers[-1] and not mark)):
            self.close()
        self.angle.numbers.append(number)

    def mark(self, mark: str) -> None:
        position = _POSITION[mark if mark in _POSITION else mark[0].lower()]
        if not self.angle.numbers or position != len(self.angle.numbers) - 1:
            raise self.fail("geo.parts_out_of_order", part=mark)
        self.angle.marked += 1

    def letter(self, letter: str) -> None:
        if self.angle.numbers and self.angle.letter:
            self.close()
        if self.angle.letter:
            raise self.fail("geo.letter_without_number", letter=self.angle.letter)
        if not self.angle.numbers and self.done and not self.done[-1].letter:
            # "52.6, N" with the comma before the letter, or a second letter: not a way to write it
            raise self.fail("geo.letter_without_number", letter=letter)
        self.angle.letter = letter
        self.angle.axis = _AXIS_OF[letter]
        if self.angle.numbers:
            if self.angle.signed:
                raise self.fail("geo.sign_and_letter", letter=letter)
            self.angle.negative = letter in "SW"
            self.close()
        else:
            self.angle.negative = letter in "SW"

    def finish(self) -> list[_Angle]:
        if not self.angle.numbers and self.angle.letter:
            raise self.fail("geo.letter_without_number", letter=self.angle.letter)
        self.close()
        if len(self.done) == 1 and not self.done[0].letter and not self.done[0].marked:
            only = self.done[0]
            half, odd = divmod(len(only.numbers), 2)
            if half and not odd:
                second = _Angle(numbers=only.numbers[half:])
                only.numbers = only.numbers[:half]
                self.done.append(second)
        return self.done


def parse_angles(text: str, clean: str, order: Order | None) -> Place:
    """Return the place of a latitude and a longitude.

    "52,65" is refused: it may be one number with a decimal comma. So is 0, 0, which tables hold where nothing
    is known.

    Raises
    ------
    PlaceError
        Naming the part that is wrong.
    """
    if _EXPONENT.search(clean) and len(re.findall(r"[A-Za-z]", clean)) == 1:
        raise PlaceError("geo.not_a_place", text=text)
    if _COMMA_IN_DOUBT.fullmatch(clean):
        raise PlaceError("geo.comma_in_doubt", text=text, example=EXAMPLE)
    reader = _read(text, _with_decimal_points(clean))
    angles = reader.finish()
    if not angles:
        raise PlaceError("geo.not_a_place", text=text)
    if len(angles) == 1:
        raise reader.fail("geo.one_coordinate", part=" ".join(angles[0].numbers))
    if len(angles) > 2:  # noqa: PLR2004
        raise reader.fail("geo.too_many_numbers", count=sum(len(angle.numbers) for angle in angles))
    for angle in angles:
        _check_parts(reader, angle)
    latitude, longitude, notes = _sort(reader, angles, order)
    if not latitude.degrees() and not longitude.degrees():
        raise PlaceError("geo.zero_zero", text=text, example=EXAMPLE)
    unit = min(angle.unit_degree() for angle in angles)
    along, _across = degrees_per_metre(np.radians(latitude.degrees()))
    return Place(
        longitude=longitude.degrees(),
        latitude=latitude.degrees(),
        precision_m=max(unit / float(along), FINEST_PRECISION.value),
        notation="latitude_longitude" if all(len(a.numbers) == 1 for a in angles) else "sexagesimal",
        text=text,
        notes=notes,
    )


def _read(text: str, clean: str) -> _Reader:
    reader = _Reader(text)
    tokens = [match for match in _TOKEN.finditer(clean) if match.lastgroup != "space"]
    for position, token in enumerate(tokens):
        kind, part = token.lastgroup, token.group()
        following = tokens[position + 1] if position + 1 < len(tokens) else None
        if kind == "label":
            reader.label(part)
        elif kind == "number":
            is_marked = following is not None and following.lastgroup == "unit"
            reader.number(part, mark=following.group() if following and is_marked else "")
        elif kind == "unit" or (part == "s" and len(reader.angle.numbers) > 2 and reader.angle.marked > 1):  # noqa: PLR2004
            reader.mark(part)
        elif kind in ("letter", "word"):
            reader.letter(part[0].upper())
        elif kind == "sign":
            reader.sign(part)
        elif kind == "comma":
            reader.close()
        else:
            raise PlaceError("geo.not_a_place", text=text)
    return reader


def _with_decimal_points(clean: str) -> str:
    """Turn decimal commas into points where nothing else can be meant."""
    inner = [match.start() for match in re.finditer(r"(?<=\d),(?=\d)", clean)]
    if "." in clean or not inner:
        return clean
    if len(inner) == 1:
        before, after = clean[: inner[0]], clean[inner[0] + 1 :]
        parts = [len(re.findall(r"\d+", side)) for side in (before, after)]
        return clean if parts[0] == parts[1] else f"{before}.{after}"
    if len(inner) == 2:  # noqa: PLR2004
        return re.sub(r"(?<=\d),(?=\d)", ".", clean)
    if re.fullmatch(r"-?\d{1,2},\d+,-?\d{1,3},\d+", clean.strip()):
        return re.sub(r"(\d),(\d+),(-?\d+),(\d)", r"\1.\2;\3.\4", clean, count=1)
    return clean


def _check_parts(reader: _Reader, angle: _Angle) -> None:
    if len(angle.numbers) > _MOST_PARTS:
        raise reader.fail("geo.too_many_numbers", count=len(angle.numbers))
    for name, number in zip(_PARTS, angle.numbers, strict=False):
        if "." in number and number is not angle.numbers[-1]:
            raise reader.fail("geo.fraction_inside", part=number, name=say(name))
        if name != _PARTS[0] and float(number) >= _MINUTES:
            raise reader.fail("geo.sixty_or_more", part=number, name=say(name))


def _sort(
    reader: _Reader, angles: list[_Angle], order: Order | None
) -> tuple[_Angle, _Angle, tuple[Message, ...]]:
    """Say which is the latitude and which the longitude."""
    first, second = angles
    notes: tuple[Message, ...] = ()
    if first.axis and first.axis == second.axis:
        raise reader.fail("geo.same_axis_twice", axis=say(f"geo.axis_{first.axis}"))
    is_latitude_first = first.axis == "latitude" or second.axis == "longitude"
    if not first.axis and not second.axis:
        limit = _LIMIT_DEGREE["latitude"]
        if min(abs(first.degrees()), abs(second.degrees())) > _LIMIT_DEGREE["longitude"]:
            raise reader.fail("geo.which_grid")
        if order is None:
            is_latitude_first = abs(first.degrees()) <= limit
            if is_latitude_first and abs(second.degrees()) <= limit:
                notes = (say("geo.note_latitude_first", text=reader.text),)
        else:
            is_latitude_first = order == "latitude_first"
    latitude, longitude = (first, second) if is_latitude_first else (second, first)
    _require_range(reader, latitude, "latitude")
    _require_range(reader, longitude, "longitude")
    return latitude, longitude, notes


def _require_range(reader: _Reader, angle: _Angle, axis: Axis) -> None:
    if abs(angle.degrees()) > _LIMIT_DEGREE[axis]:
        raise reader.fail(f"geo.{axis}_out_of_range", part=" ".join(angle.numbers))


def decimals_for(precision_m: float, latitude: float, units_per_degree: int = 1) -> int:
    """Return the decimals with which one unit is not wider than a precision, 0 to 9."""
    along, _across = degrees_per_metre(np.radians(latitude))
    unit_m = 1.0 / (float(along) * units_per_degree)
    decimals = int(np.ceil(np.log10(unit_m / precision_m) - 1e-6))
    return min(max(decimals, 0), 9)


def write_decimal(place: Place, figures: int | None) -> str:
    """Return "latitude, longitude" with so many decimals, rounded: degrees name a middle, not a corner."""
    decimals = decimals_for(place.precision_m, place.latitude) if figures is None else figures
    return f"{place.latitude:.{decimals}f}, {place.longitude:.{decimals}f}"


def write_sexagesimal(place: Place, figures: int | None) -> str:
    """Return degrees, minutes and seconds with hemisphere letters; ``figures`` decimals of the second."""
    decimals = (
        decimals_for(place.precision_m, place.latitude, SECOND_OF_ARC_PER_DEGREE)
        if figures is None
        else figures
    )
    parts = ((place.latitude, "NS"), (place.longitude, "EW"))
    return " ".join(_dms(value, decimals) + letters[value < 0] for value, letters in parts)


def _dms(value: float, decimals: int) -> str:
    scale = 10**decimals
    units = round(abs(value) * SECOND_OF_ARC_PER_DEGREE * scale)
    minutes, rest = divmod(units, _MINUTES * scale)
    degrees, minutes = divmod(minutes, _MINUTES)
    width = decimals + 3 if decimals else 2
    return f"{degrees}°{minutes:02d}′{rest / scale:0{width}.{decimals}f}″"
