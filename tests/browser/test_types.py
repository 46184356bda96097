"""The pages are typed throughout: svelte-check finds nothing. Skipped where Node or its packages are not at hand."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

FIELD = Path(__file__).parents[2] / "field"
CHECK = FIELD / "node_modules/svelte-check/bin/svelte-check"


@pytest.mark.skipif(
    not shutil.which("node") or not CHECK.exists(), reason="Node and field/node_modules are needed"
)
def test_svelte_check_finds_nothing() -> None:
    command = [
        "node",
        str(CHECK),
        "--tsconfig",
        "./tsconfig.json",
        "--fail-on-warnings",
        "--output",
        "machine",
    ]
    done = subprocess.run(command, cwd=FIELD, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stdout


def test_the_lock_of_the_packages_names_no_address() -> None:
    assert "://" not in (FIELD / "package-lock.json").read_text()
    assert "omit-lockfile-registry-resolved=true" in (FIELD / ".npmrc").read_text()
