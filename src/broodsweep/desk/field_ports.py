"""What the desk needs of a store for the field book: lines that reached it, photos, effects that were refused."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any, Protocol

from broodsweep.words import Message


class LineState(StrEnum):
    """What the desk makes of a line; every line is kept, whatever this says."""

    KEPT = "kept"
    SET_ASIDE = "set_aside"
    """A person has to decide."""
    TAKEN_IN = "taken_in"
    """Set aside first; a person let it count."""
    LEFT = "left"
    """Set aside, and a person left it so."""


COUNTING = frozenset({LineState.KEPT, LineState.TAKEN_IN})


@dataclass(frozen=True, kw_only=True)
class KeptLine:
    """A line as it reached the desk.

    Parameters
    ----------
    key
        The line's name; of a line that must stand beside another of that name, or that has none, a name of ours.
    content
        The whole line as JSON in one spelling.
    delivered_by
        Phone that brought it.
    who
        Who carries that phone: the inspector's key, else the person's name.
    state, why
        What the desk makes of it, and why it was set aside.
    line, device, number, visit, apiary, kind
        What the line says of itself; None where it cannot be read.
    """

    key: str
    content: str
    delivered_by: str
    who: str
    arrived_at: datetime
    state: LineState
    why: Message | None = None
    line: str | None = None
    device: str | None = None
    number: int | None = None
    visit: str | None = None
    apiary: str | None = None
    kind: str | None = None


@dataclass(frozen=True, kw_only=True)
class KeptPhoto:
    """A photo that is whole at the desk; ``photo`` is the SHA-256 of its bytes, in hex."""

    photo: str
    bytes: int
    arrived_at: datetime
    delivered_by: str


@dataclass(frozen=True, kw_only=True)
class Refusal:
    """Something that should have followed from a visit and that the rules, or the register, refused."""

    refusal: str
    visit: str
    what: str
    """The effect's kind: ``visit``, ``move``, ``apiary``, or a step of a case."""
    happened_on: date | None
    why: Message


@dataclass(frozen=True, kw_only=True)
class Heard:
    """What the desk has heard of a phone: when last, how many of its lines it has, the highest number."""

    device: str
    last_at: datetime
    lines: int
    highest: int


class Photos(Protocol):
    """Where the bytes of photos are kept, by their SHA-256."""

    def received(self, photo: str) -> int:
        """Bytes that are here of a photo, whole or not."""
        ...

    def is_whole(self, photo: str) -> bool:
        """Say whether the whole photo is here, verified."""
        ...

    def put(self, photo: str, start: int, total: int, piece: bytes) -> int:
        """Keep a piece from byte ``start`` on; return how many bytes are here now.

        A piece that begins behind what is here is passed over; one that was here already changes nothing.
        When all are here and do not add up to the name, they go, and 0 is returned.

        Raises
        ------
        TroubleError
            If the disk is full or may not be written; what was here before is still here.
        """
        ...

    def read(self, photo: str) -> bytes | None:
        """Return the bytes of a whole photo; None when it is not here."""
        ...


def message_as_json(message: Message | None) -> dict[str, Any] | None:
    """Return a message as JSON can hold it; values within it must be such as JSON knows, days or messages."""
    if message is None:
        return None
    return {"key": message.key, "params": {name: _value(value) for name, value in message.params.items()}}


def message_from_json(told: Mapping[str, Any] | None) -> Message | None:
    """Return the message that `message_as_json` wrote."""
    if told is None:
        return None
    return Message(told["key"], {name: _value_from(value) for name, value in told["params"].items()})


def _value(value: Any) -> Any:
    if isinstance(value, Message):
        return {"said": message_as_json(value)}
    if isinstance(value, datetime):
        return {"at": value.isoformat()}
    if isinstance(value, date):
        return {"on": value.isoformat()}
    if isinstance(value, (list, tuple)):
        return [_value(row) for row in value]
    return value if value is None or isinstance(value, (bool, int, float)) else str(value)


def _value_from(value: Any) -> Any:
    if isinstance(value, list):
        return [_value_from(row) for row in value]
    if isinstance(value, dict):
        if "said" in value:
            return message_from_json(value["said"])
        return datetime.fromisoformat(value["at"]) if "at" in value else date.fromisoformat(value["on"])
    return value
