"""Read a data set of an R package without R: the serialisation format of `save()` (version 2 or 3, XDR), compressed.

Vectors, lists, factors (as whole numbers) and attributes are given; functions and environments are passed over. The format is described in "R Internals", section 1.8 (from memory; the data read agree with R's own reading).
"""

from __future__ import annotations

import bz2
import gzip
import lzma
import os
import struct
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest

LIBRARIES = (
    Path(__file__).parents[2] / ".tools/debian/usr/lib/R/site-library",
    Path("/usr/lib/R/site-library"),
    Path("/usr/local/lib/R/site-library"),
)
"""Where Debian's packages lie: unpacked beside the project by `run.py data`, or installed."""
NAME, PAIRS, CLOSURE, ENVIRONMENT, CALL, STRING, LOGICALS, WHOLES = 1, 2, 3, 4, 6, 9, 10, 13
REALS, STRINGS, LIST, NAMESPACE, AGAIN = 14, 16, 19, 249, 255
NOTHING = (254, 253, 252, 251, 247, 242, 241)
"""The empty list, and environments and marks that hold no data."""


def data_file(package: str, name: str) -> Path:
    """Return the file of a Debian package's data set; skip the test, or fail it where everything is required."""
    for library in LIBRARIES:
        path = library / package / "data" / name
        if path.exists():
            return path
    lacking = (
        f"Debian's package r-cran-{package} is not here: its {name} is the data of this check. "
        f"`apt-get install r-cran-{package}` brings it."
    )
    if os.environ.get("BROODSWEEP_REQUIRE_ALL") == "1":
        pytest.fail(lacking)
    pytest.skip(lacking)


@dataclass
class Vector:
    """An R vector or list with its attributes."""

    values: Any
    attributes: dict[str, Any] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Any:
        return self.values[list(self.attributes["names"].values).index(name)]


def load(path: Path) -> dict[str, Any]:
    """Return what an .RData or .rda file holds, by name."""
    raw = path.read_bytes()
    for start, opened in (
        (b"\x1f\x8b", gzip.decompress),
        (b"BZh", bz2.decompress),
        (b"\xfd7zXZ", lzma.decompress),
    ):
        if raw.startswith(start):
            raw = opened(raw)
    if raw[:5] not in (b"RDX2\n", b"RDX3\n") or raw[5:7] != b"X\n":
        raise ValueError(f"Expected data saved by R in XDR form, got {raw[:7]!r}.")
    reader = _Reader(raw, 7)
    reader.header()
    return dict(reader.item())


class _Reader:
    def __init__(self, raw: bytes, at: int) -> None:
        self.raw, self.at = raw, at
        self.known: list[Any] = []
        """Names and environments in the order they came: later ones are given by their number."""

    def header(self) -> None:
        version = self.whole()
        self.at += 8
        if version >= 3:
            size = self.whole()
            self.at += size

    def whole(self) -> int:
        (value,) = struct.unpack_from(">i", self.raw, self.at)
        self.at += 4
        return int(value)

    def array(self, kind: str, size: int) -> np.ndarray:
        values = np.frombuffer(self.raw, kind, size, self.at)
        self.at += values.nbytes
        return values.astype(kind[1:])

    def item(self) -> Any:
        flags = self.whole()
        kind, has_more = flags & 255, bool(flags & 512)
        if kind in NOTHING:
            return None
        if kind == AGAIN:
            return self.known[(flags >> 8 or self.whole()) - 1]
        if kind == NAME:
            self.known.append(self.item())
            return self.known[-1]
        if kind in (PAIRS, CALL, CLOSURE):
            return self.pairs(flags)
        if kind in (ENVIRONMENT, NAMESPACE):
            return self.environment(kind)
        size = self.whole()
        if kind == STRING:
            self.at += max(size, 0)
            return self.raw[self.at - size : self.at].decode("utf-8", "replace") if size >= 0 else None
        return self.vector(kind, size, has_more)

    def vector(self, kind: int, size: int, has_more: bool) -> Vector:
        if kind in (LOGICALS, WHOLES):
            values: Any = self.array(">i4", size)
        elif kind == REALS:
            values = self.array(">f8", size)
        elif kind in (STRINGS, LIST):
            values = [self.item() for _ in range(size)]
        else:
            raise ValueError(f"Expected data of R, got its type {kind}.")
        return Vector(values, (self.item() or {}) if has_more else {})

    def pairs(self, flags: int) -> dict[str, Any]:
        """Return a list of pairs by name; calls and functions, of which nothing is used, come the same way."""
        found: dict[str, Any] = {}
        while True:
            kind = flags & 255
            if kind not in (PAIRS, CALL, CLOSURE):
                self.at -= 4
                self.item()
                return found
            if flags & 512:
                self.item()
            name = self.item() if flags & 1024 or kind == CLOSURE else None
            value = self.item()
            found[name if isinstance(name, str) else f"#{len(found)}"] = value
            flags = self.whole()

    def environment(self, kind: int) -> str:
        place = len(self.known)
        self.known.append("environment")
        self.whole()
        if kind == NAMESPACE:
            for _ in range(self.whole()):
                self.item()
        else:
            for _ in range(4):
                self.item()
        return str(self.known[place])
