"""Runs the command in this process, as a user would from a shell."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from broodsweep.cli import main

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
GROUND = Path(__file__).parent / "ground"


@dataclass(frozen=True)
class Done:
    """What a command answered."""

    code: int
    out: str
    err: str

    @property
    def answer(self) -> Any:
        """The answer as JSON."""
        return json.loads(self.out)


@pytest.fixture
def run(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Callable[..., Done]:
    """Run a command; its home is a fresh folder, its clock stands in November 2026."""
    monkeypatch.setenv("BROODSWEEP_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.setattr("broodsweep.bootstrap.clock", lambda: NOW)

    def call(*words: object) -> Done:
        capsys.readouterr()
        try:
            main([str(word) for word in words])
            code = 0
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else int(end.code is not None)
        shown = capsys.readouterr()
        return Done(code, shown.out, shown.err)

    return call


@pytest.fixture
def ground(tmp_path: Path) -> Path:
    """A folder of tables that may be changed."""
    folder = tmp_path / "ground"
    shutil.copytree(GROUND, folder)
    return folder
