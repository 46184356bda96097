"""The phone's core bundled for Node, and a way to ask it."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent
FIELD = HERE.parents[1] / "field"
Ask = Callable[..., Any]


def wanting() -> str | None:
    """Say what is not there that these tests need."""
    if not node():
        return "No Node on the PATH (or named by BROODSWEEP_NODE): the phone's core was not run."
    if not (FIELD / "node_modules/rolldown").is_dir():
        return "The packages of field/ are not installed: python3 run.py setup"
    return None


def node() -> str | None:
    """Find Node."""
    return os.environ.get("BROODSWEEP_NODE") or shutil.which("node")


@pytest.fixture(scope="session")
def core(tmp_path_factory: pytest.TempPathFactory) -> Ask:
    """Give a function that asks the phone's core something: a command and its arguments."""
    lacking = wanting()
    if lacking:
        if os.environ.get("BROODSWEEP_REQUIRE_ALL") == "1":
            pytest.fail(lacking)
        pytest.skip(lacking)
    out = tmp_path_factory.mktemp("core") / "checks.mjs"
    command = [node(), str(HERE / "bundle_core.mjs"), str(FIELD), str(HERE / "checks.ts"), str(out)]
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr

    def ask(command: str, **arguments: Any) -> Any:
        question = json.dumps({"command": command, "ask": arguments})
        done = subprocess.run(
            [str(node()), str(out)], input=question, capture_output=True, text=True, timeout=300, check=False
        )
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    return ask
