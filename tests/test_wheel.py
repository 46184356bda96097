"""A wheel built here carries the pages and the rulebooks, needs no Node, and runs in an empty environment."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def call(*command: object, **more: object) -> str:
    environment = {
        key: value for key, value in os.environ.items() if key not in {"PYTHONPATH", "VIRTUAL_ENV"}
    }
    done = subprocess.run(
        [str(part) for part in command], capture_output=True, text=True, check=False, env=environment, **more
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def find_uv() -> str:
    return shutil.which("uv") or str(ROOT / ".tools/bin/uv")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    call(find_uv(), "build", "--quiet", "--wheel", "--out-dir", folder, ROOT)
    return next(folder.glob("*.whl"))


@pytest.mark.xdist_group("wheel")
def test_the_wheel_carries_what_it_needs(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    assert "broodsweep/web/static/index.html" in names
    assert any(name.startswith("broodsweep/web/static/assets/") and name.endswith(".js") for name in names)
    assert "broodsweep/rulebook/books/common-practice.toml" in names
    assert "broodsweep/words/en/common.po" in names
    assert not [name for name in names if "node_modules" in name or name.endswith((".ts", ".svelte"))]


@pytest.mark.xdist_group("wheel")
def test_the_wheel_runs_in_an_empty_environment(wheel: Path, tmp_path: Path) -> None:
    python = tmp_path / "venv/bin/python"
    call(find_uv(), "venv", "--quiet", "--python", sys.executable, tmp_path / "venv")
    call(
        find_uv(),
        "pip",
        "install",
        "--quiet",
        "--python",
        python,
        "--require-hashes",
        "-r",
        ROOT / "requirements.lock",
    )
    call(find_uv(), "pip", "install", "--quiet", "--python", python, "--no-deps", wheel)
    command = tmp_path / "venv/bin/broodsweep"
    place = json.loads(call(command, "locate", "OV 123 456", "--json", cwd=tmp_path))
    assert place["precision_m"] == 100
    call(command, "demo", "--folder", tmp_path / "demo", "--no-serve", cwd=tmp_path)
    shown = call(
        command, "due", "--home", tmp_path / "demo/home", "--on", "2026-07-08", "--json", cwd=tmp_path
    )
    assert json.loads(shown)["due"]
    page = call(
        python,
        "-c",
        "from pathlib import Path; import broodsweep.web as web;"
        "print((Path(web.__file__).parent / 'static/index.html').read_text())",
        cwd=tmp_path,
    )
    assert "<html" in page
