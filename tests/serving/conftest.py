"""The command `serve` as a team runs it, with people who sign in, reached over real TLS."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import httpx
import pytest

from broodsweep.access import open_access
from broodsweep.access.authority import Authority, authority_for
from broodsweep.desk.access import Role

NAME, WORDS = "desk.local", "seven small gates by water"
PATIENCE_S = 90


def need(*programs: str) -> None:
    """Skip, or fail where everything must be there, when a program is missing."""
    missing = [name for name in programs if not shutil.which(name, path=f"{os.environ['PATH']}:/usr/sbin")]
    if missing:
        said = f"{', '.join(missing)} not installed: python3 run.py system-slow"
        if os.environ.get("BROODSWEEP_REQUIRE_ALL") == "1":
            pytest.fail(said)
        pytest.skip(said)


def free_port() -> int:
    """Return a port that was free a moment ago."""
    with socket.create_server(("127.0.0.1", 0)) as there:
        return int(there.getsockname()[1])


@dataclass
class Team:
    """A home with one lead in it, and certificates for a name."""

    home: Path
    authority: Authority

    def serve(self, *options: str, port: int) -> subprocess.Popen[bytes]:
        """Start the desk as a process of its own."""
        command = [sys.executable, "-m", "broodsweep", "serve", "--home", str(self.home)]
        with (self.home / "serve.log").open("wb") as log:
            return subprocess.Popen(
                [*command, "--no-browser", "--port", str(port), *options], stdout=log, stderr=log
            )

    @contextmanager
    def reach(self, port: int) -> Iterator[httpx.Client]:
        """Ask the desk by its name at a port of this machine, trusting the authority only."""
        import ssl

        with httpx.Client(
            base_url=f"https://127.0.0.1:{port}",
            headers={"Host": f"{NAME}:{port}", "Origin": f"https://{NAME}:{port}"},
            verify=ssl.create_default_context(cafile=str(self.authority.certificate)),
            timeout=20,
        ) as client:
            send = client.send

            def by_name(request: httpx.Request, **more: object) -> httpx.Response:
                request.extensions["sni_hostname"] = NAME
                return send(request, **more)  # type: ignore[arg-type]

            client.send = by_name  # type: ignore[method-assign,assignment]
            yield client


@pytest.fixture
def team(tmp_path: Path) -> Team:
    access = open_access(tmp_path, now=lambda: datetime.now(UTC))
    access.people.set_password(
        "Una Selvik", WORDS, code=access.people.add("Una Selvik", Role.LEAD, by="test")
    )
    access.close()
    authority = authority_for(
        tmp_path / "certificates", [NAME, "127.0.0.1"], now=datetime.now(UTC), title="test"
    )
    return Team(home=tmp_path, authority=authority)


def patiently(ask: Callable[[], httpx.Response], *, log: Path) -> httpx.Response:
    """Ask until the answer is there."""
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            answered = ask()
            if answered.status_code < 500:
                return answered
        except httpx.TransportError:
            pass
        if time.monotonic() > until:
            raise AssertionError(log.read_text())
        time.sleep(0.3)
