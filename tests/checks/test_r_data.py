"""The reader of R's data files, on bytes written here by hand after the format's description."""

from __future__ import annotations

import bz2
import gzip
import lzma
import struct

import numpy as np
import pytest
from tests.checks import r_data


def whole(*values: int) -> bytes:
    return struct.pack(f">{len(values)}i", *values)


def text(value: str) -> bytes:
    return whole(9 | 64 << 12, len(value)) + value.encode()


NAMES = whole(1) + text("names") + whole(16, 2) + text("day") + text("kind") + whole(254)
"""The attribute `names` of a list of two, and the end of its attributes."""
TABLE = (
    whole(2 | 1024, 1) + text("farms")
    + whole(19 | 512, 2) + whole(14, 3) + struct.pack(">3d", 1.5, -2.0, 1e300) + whole(13, 2, 7, -3)
    + whole(2 | 1024) + NAMES + whole(254)
)  # fmt: skip


def saved(version: int) -> bytes:
    head = b"RDX%d\nX\n" % version + whole(version, 262146, 197888)
    return head + (whole(5) + b"UTF-8" if version == 3 else b"") + TABLE


@pytest.mark.parametrize("version", [2, 3])
@pytest.mark.parametrize("packed", [bytes, gzip.compress, bz2.compress, lzma.compress])
def test_a_table_is_read_whatever_it_is_packed_with(tmp_path, version, packed):
    path = tmp_path / "farms.rda"
    path.write_bytes(packed(saved(version)))
    table = r_data.load(path)["farms"]
    assert np.array_equal(table["day"].values, [1.5, -2.0, 1e300])
    assert list(table["kind"].values) == [7, -3]


def test_what_is_not_saved_data_is_refused(tmp_path):
    path = tmp_path / "other.rda"
    path.write_bytes(b"PK\x03\x04 nothing of R")
    with pytest.raises(ValueError, match="Expected data saved by R"):
        r_data.load(path)


def test_a_package_that_is_not_here_skips_or_fails_where_everything_is_required(monkeypatch, tmp_path):
    monkeypatch.setattr(r_data, "LIBRARIES", (tmp_path,))
    monkeypatch.delenv("BROODSWEEP_REQUIRE_ALL", raising=False)
    with pytest.raises(pytest.skip.Exception, match="r-cran-sparr is not here"):
        r_data.data_file("sparr", "fmd.rda")
    monkeypatch.setenv("BROODSWEEP_REQUIRE_ALL", "1")
    with pytest.raises(pytest.fail.Exception, match="apt-get install r-cran-sparr"):
        r_data.data_file("sparr", "fmd.rda")
