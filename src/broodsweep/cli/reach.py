"""How far a served desk reaches: this machine alone, behind a proxy, by a certificate, on a hotspot."""

from __future__ import annotations

import contextlib
import socket
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path
from typing import TYPE_CHECKING

from broodsweep.cli.speech import LOCALE, print_line
from broodsweep.errors import BroodsweepError

if TYPE_CHECKING:
    from broodsweep.access.authority import Authority

EVERYWHERE, HERE = "0.0.0.0", "127.0.0.1"
NOWHERE = ("192.0.2.1", 9)
"""An address for documentation (RFC 5737): a datagram socket is pointed at it and sends nothing."""


@dataclass(frozen=True, kw_only=True)
class Reach:
    """Where the desk answers, and by which names."""

    bind: str = HERE
    hosts: tuple[str, ...] = ()
    is_shared: bool = False
    is_behind_proxy: bool = False
    certificate: Path | None = None
    key: Path | None = None
    authority: Authority | None = None

    def addresses(self, port: int) -> list[str]:
        """Return the addresses at which a browser finds the desk."""
        if self.is_behind_proxy:
            return [f"https://{host}/" for host in self.hosts]
        scheme = "https" if self.certificate else "http"
        return [f"{scheme}://{host}:{port}/" for host in (self.hosts if self.is_shared else (HERE,))]


def alone(names: tuple[str, ...]) -> Reach:
    """For one user on this machine.

    Raises
    ------
    BroodsweepError
        If names are given: on the loopback address nobody would ask by them.
    """
    if names:
        raise BroodsweepError("cli.serve.at_needs_way")
    return Reach()


def by_proxy(names: tuple[str, ...]) -> Reach:
    """For a team, behind a proxy on this machine that speaks TLS.

    Raises
    ------
    BroodsweepError
        If no name is given.
    """
    if not names:
        raise BroodsweepError("cli.serve.needs_name")
    return Reach(hosts=names, is_shared=True, is_behind_proxy=True)


def by_certificate(certificate: Path | None, key: Path | None, names: tuple[str, ...]) -> Reach:
    """For a team, with certificate files of a public or a house's own authority.

    Raises
    ------
    BroodsweepError
        If a file is missing or no name is given.
    """
    for path in (certificate, key):
        if path is None or not path.is_file():
            raise BroodsweepError("cli.serve.needs_both", path=str(path or "–"))
    if not names:
        raise BroodsweepError("cli.serve.needs_name")
    return Reach(bind=EVERYWHERE, hosts=names, is_shared=True, certificate=certificate, key=key)


def by_hotspot(home: Path, names: tuple[str, ...], port: int) -> Reach:
    """For phones on this laptop's hotspot, with an authority of the desk's own.

    Raises
    ------
    BroodsweepError
        If the machine has no private address, or a name is public.
    """
    from broodsweep.access.authority import authority_for
    from broodsweep.bootstrap import clock
    from broodsweep.words import text

    hosts = tuple(dict.fromkeys((*names, *own_addresses())))
    if not hosts:
        raise BroodsweepError("cli.serve.no_private_address")
    title = text("access.authority_title", locale=LOCALE, host=socket.gethostname())
    authority = authority_for(home / "authority", (*hosts, HERE, "localhost"), now=clock(), title=title)
    return Reach(
        bind=EVERYWHERE,
        hosts=hosts,
        is_shared=True,
        certificate=authority.server_certificate,
        key=authority.server_key,
        authority=authority,
    )


def own_addresses() -> list[str]:
    """Return this machine's private addresses, the one that packets leave by first; nothing is sent."""
    from broodsweep.access.authority import is_within

    found: list[str] = []
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(NOWHERE)
        found.append(probe.getsockname()[0])
    with contextlib.suppress(OSError):
        found += [str(row[4][0]) for row in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return [host for host in dict.fromkeys(found) if is_within(host) and not ip_address(host).is_loopback]


@contextlib.contextmanager
def trust_page(reach: Reach, port: int) -> Iterator[None]:
    """Serve the page on which a phone gets the authority's certificate, beside the desk, while the block runs."""
    if reach.authority is None:
        yield
        return
    import uvicorn

    from broodsweep.web.trusting import trust_app

    app = trust_app(reach.authority, desk=reach.addresses(port)[0], locale=LOCALE)
    server = uvicorn.Server(
        uvicorn.Config(app, host=reach.bind, port=port + 1, log_level="warning", server_header=False)
    )
    server.install_signal_handlers = lambda: None  # type: ignore[attr-defined]
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    for host in reach.hosts:
        print_line("cli.serve.trust", address=f"http://{host}:{port + 1}/")
    print_line("cli.serve.fingerprint", fingerprint=reach.authority.fingerprint)
    try:
        yield
    finally:
        server.should_exit = True
        thread.join(timeout=5)
