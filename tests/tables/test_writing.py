"""Writing: whole or not at all, with a clear word when the disk is full or the folder may not be written to."""

from __future__ import annotations

import os
import resource
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from broodsweep import tables
from broodsweep.errors import TroubleError
from broodsweep.geo import parse_place
from broodsweep.register import Apiary, Ground, Keeper
from broodsweep.tables.formulas import guarded, unguarded
from broodsweep.words import say

GROUND = Ground(
    keepers=(Keeper(keeper="K1", name="=cmd|' /C calc'!A0", phone="+44 1632 960001"),),
    apiaries=tuple(
        Apiary(apiary=f"A{n}", keeper="K1", place=parse_place("SK 123 456"), colonies=n, notes="x" * 40)
        for n in range(3000)
    ),
)
WRITERS: dict[str, tuple[str, Callable[[Ground, Path], object]]] = {
    "csv": ("apiaries.csv", lambda ground, path: tables.write_tables(ground, path.parent)),
    "xlsx": ("ground.xlsx", tables.write_xlsx),
    "gpkg": ("ground.gpkg", tables.write_geopackage),
    "geojson": ("apiaries.geojson", tables.write_geojson),
}


def attempt(kind: str, path: Path) -> str:
    try:
        WRITERS[kind][1](GROUND, path)
    except TroubleError as error:
        return f"{error.message.key}|{error}"
    return "written"


def in_child(prepare: Callable[[], None], kind: str, path: Path) -> str:
    """Run an attempt in a child of this process, so that its limits and rights are its own."""
    read_end, write_end = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read_end)
        try:
            prepare()
            answer = attempt(kind, path)
        except BaseException as error:  # noqa: BLE001
            answer = f"{type(error).__name__}: {error}"
        os.write(write_end, answer.encode())
        os._exit(0)
    os.close(write_end)
    with os.fdopen(read_end) as pipe:
        answer = pipe.read()
    os.waitpid(child, 0)
    return answer


def small_files() -> None:
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))


@pytest.mark.parametrize("kind", WRITERS)
def test_a_full_disk_leaves_the_old_file_and_nothing_else(tmp_path: Path, kind: str) -> None:
    path = tmp_path / WRITERS[kind][0]
    path.write_text("the old file")
    answer = in_child(small_files, kind, path)
    assert answer.startswith(("tables.disk_full", "tables.cannot_write")), answer
    assert str(path.parent) in answer
    assert path.read_text() == "the old file"
    assert [item.name for item in tmp_path.iterdir()] == [path.name]


@pytest.mark.parametrize("kind", WRITERS)
def test_a_folder_without_the_right_to_write_is_named(tmp_path: Path, kind: str) -> None:
    def nobody() -> None:
        if os.getuid() == 0:
            os.setgid(65534)
            os.setuid(65534)

    tmp_path.chmod(0o555)
    for folder in [tmp_path, *tmp_path.parents][:3]:
        folder.chmod(folder.stat().st_mode | 0o055)
    answer = in_child(nobody, kind, tmp_path / WRITERS[kind][0])
    tmp_path.chmod(0o755)
    assert answer.startswith("tables.no_right"), answer
    assert str(tmp_path) in answer


@pytest.mark.skipif(os.getuid() != 0, reason="needs the right to mount")
def test_a_full_file_system_is_called_a_full_disk(tmp_path: Path) -> None:
    mount = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(tmp_path)], capture_output=True, check=False
    )
    if mount.returncode:
        pytest.skip("cannot mount here")
    try:
        answers = {kind: attempt(kind, tmp_path / WRITERS[kind][0]) for kind in WRITERS}
        left = list(tmp_path.iterdir())
    finally:
        subprocess.run(["umount", str(tmp_path)], check=True)
    assert all(answer.startswith("tables.disk_full") for answer in answers.values()), answers
    assert not left


@pytest.mark.parametrize(
    "text",
    ["=1", "+1", "-1", "@x", "\tx", "\rx", "\nx", " =1", "'=1", "''+1", "＝1", "'", "''", "x=1", "it's", ""],
)
def test_a_guard_makes_text_harmless_and_comes_off_again(text: str) -> None:
    safe = guarded(text)
    assert not safe.strip().startswith(("=", "+", "-", "@", "＝")) or float(
        safe
    )  # a number calculates nothing
    assert not safe.startswith(("\t", "\r", "\n"))
    assert unguarded(safe) == text


def test_no_cell_of_an_export_is_a_formula_and_numbers_stay_numbers(tmp_path: Path) -> None:
    rows = [
        {"who": "=1+1", "score": -0.5, "why": say("common.days", count=3), "list": ["@a", "b"], "ok": True}
    ]
    tables.write_rows_csv(rows, tmp_path / "rows.csv")
    assert (tmp_path / "rows.csv").read_bytes() == (
        b"who,score,why,list,ok\r\n'=1+1,-0.5,3 days,'@a; b,yes\r\n"
    )
    tables.write_rows_xlsx(rows, tmp_path / "rows.xlsx")
    tables.write_xlsx(GROUND, tmp_path / "ground.xlsx")
    for name in ("rows.xlsx", "ground.xlsx"):
        book = openpyxl.load_workbook(tmp_path / name)
        assert not [
            cell for page in book for line in page.iter_rows() for cell in line if cell.data_type == "f"
        ]
    assert openpyxl.load_workbook(tmp_path / "rows.xlsx").active["B2"].value == -0.5


def test_an_interrupted_write_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_text("old")
    with pytest.raises(KeyboardInterrupt), tables.replacing(path) as draft:
        draft.write_text("half")
        raise KeyboardInterrupt
    assert path.read_text() == "old"
    assert sys.platform != "linux" or [item.name for item in tmp_path.iterdir()] == ["x.csv"]
