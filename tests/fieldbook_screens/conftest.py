"""The parts of the phone's screens bundled for Node, and a way to ask them."""

from __future__ import annotations

import json
import os
import subprocess
from pathlib import Path
from typing import Any

import pytest

from tests.fieldbook_core.conftest import FIELD, Ask, node, wanting

HERE = Path(__file__).parent
BUNDLE = HERE.parent / "fieldbook_core/bundle_core.mjs"


@pytest.fixture(scope="session")
def parts(tmp_path_factory: pytest.TempPathFactory) -> Ask:
    """Give a function that asks the screens' parts something: a command and its arguments."""
    lacking = wanting()
    if lacking:
        if os.environ.get("BROODSWEEP_REQUIRE_ALL") == "1":
            pytest.fail(lacking)
        pytest.skip(lacking)
    out = tmp_path_factory.mktemp("parts") / "checks.mjs"
    command = [str(node()), str(BUNDLE), str(FIELD), str(HERE / "checks.ts"), str(out)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr

    def ask(command: str, **arguments: Any) -> Any:
        question = json.dumps({"command": command, "ask": arguments})
        done = subprocess.run(
            [str(node()), str(out)], input=question, capture_output=True, text=True, timeout=60, check=False
        )
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    return ask
