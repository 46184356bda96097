"""Takes in photos in pieces: whole and verified, or not there yet."""

from __future__ import annotations

from dataclasses import dataclass

from broodsweep.desk.access import Device
from broodsweep.desk.context import Desk
from broodsweep.desk.field_ports import KeptPhoto
from broodsweep.desk.ports import Author
from broodsweep.errors import NotFoundError
from broodsweep.sources import Sourced

LARGEST_PHOTO = Sourced(
    value=25_000_000,
    unit="byte",
    source="project choice",
    locator="a picture of 48 megapixels as JPEG of the best quality is about 20 MB; phones keep far smaller ones",
    standing="project choice",
)
LARGEST_PIECE = Sourced(
    value=512 * 1024,
    unit="byte",
    source="project choice",
    locator="some seconds on a slow connection: little to send again when it breaks off",
    standing="project choice",
)
_KINDS = ((b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"))


@dataclass(frozen=True, kw_only=True)
class Received:
    """How much of a photo is here. [byte]"""

    received: int
    is_whole: bool


def photo_state(desk: Desk, device: Device, photo: str) -> Received:
    """Return how much of a photo is here; one that a crash left whole and unnoted is noted."""
    return _noted(desk, device, photo)


def take_piece(desk: Desk, device: Device, photo: str, *, start: int, total: int, piece: bytes) -> Received:
    """Keep a piece of a photo and return how much is here now; pieces may come again, and go on after a crash.

    Raises
    ------
    TroubleError
        If the disk is full or may not be written; what was here before is still here.
    """
    desk.store.photos.put(photo, start, total, piece)
    return _noted(desk, device, photo)


def photo_bytes(desk: Desk, photo: str) -> tuple[bytes, str]:
    """Return the bytes of a whole photo and what kind of picture they are by their own first bytes.

    Raises
    ------
    NotFoundError
        If it is not here, not whole, or no picture.
    """
    data = desk.store.photos.read(photo)
    kind = None if data is None else kind_of(data)
    if data is None or kind is None:
        raise NotFoundError("fieldbook.no_photo")
    return data, kind


def kind_of(data: bytes) -> str | None:
    """Return the media type of a picture that the desk shows; None for anything else."""
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "image/webp"
    return next((kind for start, kind in _KINDS if data.startswith(start)), None)


def _noted(desk: Desk, device: Device, photo: str) -> Received:
    is_whole, received = desk.store.photos.is_whole(photo), desk.store.photos.received(photo)
    if is_whole and not desk.store.kept_photos([photo]):
        author = Author(who=device.who, device=device.device)
        row = KeptPhoto(photo=photo, bytes=received, arrived_at=desk.now(), delivered_by=device.device)
        with desk.store.work(author, "take_photo") as work:
            work.keep_photo(row)
    return Received(received=received, is_whole=is_whole)
