"""Photos as files named by the SHA-256 of their bytes: whole under their name, or not there."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import file_digest, sha256
from pathlib import Path
from threading import Lock

from broodsweep.errors import TroubleError
from broodsweep.store.constants import PHOTO_SPACE_WANTED
from broodsweep.store.file import sync_folder
from broodsweep.store.trouble import in_words

_FANNED = 2  # letters of the name that make the folder


def photo_folder(store: Path) -> Path:
    """Where the photos of a store are."""
    return store.parent / "photos"


class PhotoFiles:
    """Fulfils `ports.Photos` in a folder beside the store.

    A photo grows in ``.coming/`` and gets its name, in a folder of its first two letters, once every byte is
    on disk and they add up to the name. What was cut off goes on where it stopped, also after a crash.

    Parameters
    ----------
    folder
        The folder; made when the first piece comes.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._turn = Lock()

    def path_of(self, photo: str) -> Path:
        """Where the whole photo is, or would be."""
        return self.folder / photo[:_FANNED] / photo

    def received(self, photo: str) -> int:
        """Bytes that are here of a photo, whole or not."""
        for path in (self.path_of(photo), self._draft(photo)):
            if path.is_file():
                return path.stat().st_size
        return 0

    def is_whole(self, photo: str) -> bool:
        """Say whether the whole photo is here, verified."""
        return self.path_of(photo).is_file()

    def read(self, photo: str) -> bytes | None:
        """Return the bytes of a whole photo; None when it is not here."""
        path = self.path_of(photo)
        with in_words(path):
            return path.read_bytes() if path.is_file() else None

    def put(self, photo: str, start: int, total: int, piece: bytes) -> int:
        """Keep a piece from byte ``start`` on; return how many bytes are here now.

        Raises
        ------
        TroubleError
            If the disk is full or may not be written; what was here before is still here.
        """
        with in_words(self.folder), self._my_turn(photo):
            if self.is_whole(photo):
                return self.received(photo)
            self._require_space(len(piece))
            draft = self._draft(photo)
            have = draft.stat().st_size if draft.is_file() else 0
            if have > total:  # another length was told before: one of the two was wrong
                draft.unlink()
                have = 0
            if start <= have < start + len(piece):
                self._append(draft, have, piece[have - start : max(0, total - start)])
                have = draft.stat().st_size
            return self._finish(photo, draft) if have == total else have

    def _append(self, draft: Path, have: int, piece: bytes) -> None:
        is_new = not draft.is_file()
        with draft.open("ab") as file:
            try:
                file.write(piece)
                file.flush()
                os.fsync(file.fileno())
            except OSError:
                file.truncate(have)  # half a piece would be counted as received
                raise
        if is_new:
            sync_folder(draft.parent)

    def _finish(self, photo: str, draft: Path) -> int:
        with draft.open("rb") as file:
            is_it = file_digest(file, "sha256").hexdigest() == photo
        if not is_it:
            draft.unlink()
            return 0
        path = self.path_of(photo)
        path.parent.mkdir(parents=True, exist_ok=True)
        draft.replace(path)
        sync_folder(path.parent)
        sync_folder(self.folder)
        return path.stat().st_size

    def _draft(self, photo: str) -> Path:
        return self.folder / ".coming" / photo

    def _require_space(self, wanted: int) -> None:
        (self.folder / ".coming").mkdir(parents=True, exist_ok=True)
        if shutil.disk_usage(self.folder).free < PHOTO_SPACE_WANTED.value + wanted:
            raise TroubleError("store.no_room_for_photos", path=str(self.folder))

    @contextmanager
    def _my_turn(self, photo: str) -> Iterator[None]:
        # one writer among the threads of this desk; desks on one folder meet at the verified rename
        with self._turn:
            yield


class MemoryPhotos:
    """Fulfils `ports.Photos` in memory."""

    def __init__(self) -> None:
        self._coming: dict[str, bytes] = {}
        self._whole: dict[str, bytes] = {}

    def received(self, photo: str) -> int:
        """Bytes that are here of a photo, whole or not."""
        return len(self._whole.get(photo, self._coming.get(photo, b"")))

    def is_whole(self, photo: str) -> bool:
        """Say whether the whole photo is here, verified."""
        return photo in self._whole

    def read(self, photo: str) -> bytes | None:
        """Return the bytes of a whole photo; None when it is not here."""
        return self._whole.get(photo)

    def put(self, photo: str, start: int, total: int, piece: bytes) -> int:
        """Keep a piece from byte ``start`` on; return how many bytes are here now."""
        if photo in self._whole:
            return len(self._whole[photo])
        have = self._coming.get(photo, b"")
        have = b"" if len(have) > total else have
        if start <= len(have) < start + len(piece):
            have = (have + piece[len(have) - start :])[:total]
        self._coming[photo] = have
        if len(have) == total:
            del self._coming[photo]
            if sha256(have).hexdigest() != photo:
                return 0
            self._whole[photo] = have
        return len(have)
