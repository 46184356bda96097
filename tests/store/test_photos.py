"""Photos on disk: whole and verified or not there; backed up, restored and looked after with the record."""

from __future__ import annotations

from hashlib import sha256

import pytest

from broodsweep.desk.field_ports import KeptPhoto
from broodsweep.errors import TroubleError
from broodsweep.store import backup, open_store, restore, verify, verify_file
from broodsweep.store.manifest import read_manifest
from broodsweep.store.photos import MemoryPhotos, PhotoFiles

from .conftest import AUTHOR, START

DATA = b"\xff\xd8\xff" + bytes(range(256)) * 8
NAME = sha256(DATA).hexdigest()


@pytest.fixture(params=["files", "memory"])
def photos(request, tmp_path):
    return PhotoFiles(tmp_path / "photos") if request.param == "files" else MemoryPhotos()


def test_pieces_add_up_and_may_come_again(photos):
    assert photos.put(NAME, 0, len(DATA), DATA[:500]) == 500
    assert photos.put(NAME, 0, len(DATA), DATA[:500]) == 500
    assert photos.put(NAME, 900, len(DATA), DATA[900:]) == 500, "a gap is passed over"
    assert photos.put(NAME, 300, len(DATA), DATA[300:1000]) == 1000
    assert (photos.is_whole(NAME), photos.read(NAME)) == (False, None)
    assert photos.put(NAME, 1000, len(DATA), DATA[1000:]) == len(DATA)
    assert (photos.is_whole(NAME), photos.read(NAME)) == (True, DATA)
    assert photos.put(NAME, 0, 5, b"other") == len(DATA)


def test_bytes_that_do_not_add_up_are_thrown_away(photos):
    assert photos.put(NAME, 0, 5, b"wrong") == 0
    assert photos.received(NAME) == 0
    assert photos.put(NAME, 0, len(DATA), DATA) == len(DATA)


def test_what_was_cut_off_goes_on_after_a_restart(tmp_path):
    PhotoFiles(tmp_path / "photos").put(NAME, 0, len(DATA), DATA[:700])
    again = PhotoFiles(tmp_path / "photos")
    assert again.received(NAME) == 700
    assert again.put(NAME, 700, len(DATA), DATA[700:]) == len(DATA)


def test_a_disk_that_fails_half_way_keeps_what_was_there(tmp_path, monkeypatch):
    files = PhotoFiles(tmp_path / "photos")
    files.put(NAME, 0, len(DATA), DATA[:700])

    def fail(_handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("broodsweep.store.photos.os.fsync", fail)
    with pytest.raises(TroubleError):
        files.put(NAME, 700, len(DATA), DATA[700:1200])
    assert files.received(NAME) == 700
    monkeypatch.undo()
    assert files.put(NAME, 700, len(DATA), DATA[700:]) == len(DATA)


@pytest.fixture
def with_photo(store):
    store.photos.put(NAME, 0, len(DATA), DATA)
    row = KeptPhoto(photo=NAME, bytes=len(DATA), arrived_at=START, delivered_by="phone-1")
    with store.work(AUTHOR, "take_photo") as work:
        work.keep_photo(row)
    assert store.kept_photos([NAME]) == (row,)
    return store


def test_doctor_misses_a_photo(with_photo):
    assert verify(with_photo).check("photos").is_sound
    with_photo.photos.path_of(NAME).write_bytes(DATA[:-1] + b"x")
    assert not verify(with_photo).is_sound
    with_photo.photos.path_of(NAME).unlink()
    assert not verify(with_photo).check("photos").is_sound


def test_a_backup_takes_its_photos_along_and_brings_them_back(with_photo, tmp_path, path, now):
    copies = tmp_path / "copies"
    copies.mkdir()
    manifest = backup(with_photo, copies / "copy.sqlite")
    assert (manifest.photos, manifest.photos_missing) == (1, 0)
    assert read_manifest(copies / "copy.sqlite") == manifest
    assert verify_file(copies / "copy.sqlite", now=now).check("photos").is_sound
    with_photo.photos.path_of(NAME).unlink()
    with_photo.close()
    restore(copies / "copy.sqlite", path, now=now)
    with open_store(path, now=now) as again:
        assert again.photos.read(NAME) == DATA
        assert verify(again).is_sound


def test_a_backup_says_which_photos_it_lacks(with_photo, tmp_path, now):
    with_photo.photos.path_of(NAME).unlink()
    copy = tmp_path / "copy.sqlite"
    assert backup(with_photo, copy).photos_missing == 1
    check = verify_file(copy, now=now).check("photos")
    assert check.is_warning or not check.is_sound
