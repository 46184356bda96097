"""The proxy configurations of docs/serving.md, as they stand there, in front of the real desk."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from .conftest import NAME, WORDS, Team, free_port, need, patiently

DOCS = (Path(__file__).parents[2] / "docs/serving.md").read_text()
pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("serving")]


def shown(language: str) -> str:
    """Return a configuration out of the document."""
    (found,) = re.findall(rf"```{language}\n(.*?)```", DOCS, re.DOTALL)
    return str(found)


@contextmanager
def nginx(team: Team, outside: int, inside: int) -> Iterator[None]:
    need("nginx")
    text = shown("nginx")
    for old, new in {
        "listen 443 ssl": f"listen 127.0.0.1:{outside} ssl",
        "desk.example.org": NAME,
        "/etc/ssl/desk.pem": str(team.authority.server_certificate),
        "/etc/ssl/desk.key": str(team.authority.server_key),
        "127.0.0.1:8741": f"127.0.0.1:{inside}",
    }.items():
        assert old in text, old
        text = text.replace(old, new)
    folder = team.home / "nginx"
    folder.mkdir()
    temporary = "".join(
        f"{kind}_temp_path {folder};\n" for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    conf = folder / "nginx.conf"
    conf.write_text(
        f"pid {folder}/pid;\nerror_log {folder}/error.log;\nevents {{}}\n"
        f"http {{\naccess_log off;\n{temporary}{text}\n}}\n"
    )
    running = subprocess.Popen(["/usr/sbin/nginx", "-c", str(conf), "-g", "daemon off;"])
    try:
        yield
    finally:
        running.terminate()
        running.wait(timeout=20)


@contextmanager
def caddy(team: Team, outside: int, inside: int) -> Iterator[None]:
    need("caddy")
    text = shown("caddy")
    for old, new in {
        "desk.example.org {": f"https://{NAME}:{outside} {{\n    bind 127.0.0.1\n    tls "
        f"{team.authority.server_certificate} {team.authority.server_key}",
        "127.0.0.1:8741": f"127.0.0.1:{inside}",
    }.items():
        assert old in text, old
        text = text.replace(old, new)
    conf = team.home / "Caddyfile"
    conf.write_text("{\n    admin off\n    auto_https disable_redirects\n}\n" + text)
    running = subprocess.Popen(
        ["caddy", "run", "--config", str(conf), "--adapter", "caddyfile"],
        env={"HOME": str(team.home), "PATH": "/usr/bin"},
        stderr=subprocess.DEVNULL,
    )
    try:
        yield
    finally:
        running.terminate()
        running.wait(timeout=20)


@pytest.mark.parametrize("proxy", [nginx, caddy], ids=["nginx", "caddy"])
def test_a_team_behind_the_proxy(team: Team, proxy: object) -> None:
    outside, inside = free_port(), free_port()
    desk = team.serve("--behind-proxy", "--at", NAME, port=inside)
    try:
        with proxy(team, outside, inside), team.reach(outside) as client:  # type: ignore[operator]
            told = patiently(lambda: client.get("/api/session"), log=team.home / "serve.log")
            assert told.json()["needs_sign_in"] is True
            assert client.get("/api/today").status_code == 401
            entered = client.post("/api/access/sign-in", json={"name": "Una Selvik", "password": WORDS})
            assert entered.status_code == 204
            assert entered.headers["set-cookie"].startswith("__Host-broodsweep="), "the desk knows of the TLS"
            session = client.get(
                "/api/session", headers={"Cookie": entered.headers["set-cookie"].split(";")[0]}
            )
            token = session.json()["signed_in"]["page_token"]
            cookie = {"Cookie": entered.headers["set-cookie"].split(";")[0], "X-Page-Token": token}
            assert client.put("/api/settings", json={"title": "Van"}, headers=cookie).status_code == 200
            foreign = {**cookie, "Origin": "https://elsewhere.example"}
            assert client.put("/api/settings", json={"title": "x"}, headers=foreign).status_code == 403
            assert client.get("/api/session", headers={"Host": "elsewhere.example"}).status_code in (
                421,
                404,
                200,
            )
            made = client.post("/api/access/phones", json={}, headers=cookie).json()
            assert made["address"].startswith(f"https://{NAME}:{outside}/field/#enrol=")
            with client.stream("GET", "/api/changes", headers=cookie) as changes:
                lines = changes.iter_lines()
                first = next(line for line in lines if line.startswith("data:"))
                client.put("/api/settings", json={"title": "Another"}, headers=cookie)
                second = next(line for line in lines if line.startswith("data:"))
            assert first != second, "a change passes the proxy while the stream is open"
    finally:
        desk.terminate()
        desk.wait(timeout=30)
