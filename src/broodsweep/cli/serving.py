"""`serve` and `demo`: the desk in a browser, for one user or for a team."""

from __future__ import annotations

import socket
import threading
import webbrowser
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from broodsweep.cli.options import HomeOption, OnOption
from broodsweep.cli.speech import LOCALE, help_text, print_line
from broodsweep.errors import BroodsweepError, TroubleError

if TYPE_CHECKING:
    from broodsweep.cli.reach import Reach

GRACE_S = 3
"""Seconds that open answers (streams of changes among them) get when the desk is stopped."""

PortOption = Annotated[int, typer.Option("--port", help=help_text("cli.serve.port"))]
BrowserOption = Annotated[bool, typer.Option("--browser/--no-browser", help=help_text("cli.serve.browser"))]


def serve(
    home: HomeOption = None,
    on: OnOption = None,
    port: PortOption = 8741,
    browser: BrowserOption = True,
    at: Annotated[
        list[str] | None, typer.Option("--at", metavar="NAME", help=help_text("cli.serve.at"))
    ] = None,
    behind_proxy: Annotated[
        bool, typer.Option("--behind-proxy", help=help_text("cli.serve.behind_proxy"))
    ] = False,
    hotspot: Annotated[bool, typer.Option("--hotspot", help=help_text("cli.serve.hotspot"))] = False,
    certificate: Annotated[
        Path | None, typer.Option("--certificate", metavar="FILE", help=help_text("cli.serve.certificate"))
    ] = None,
    key: Annotated[
        Path | None, typer.Option("--key", metavar="FILE", help=help_text("cli.serve.key"))
    ] = None,
) -> None:
    """Open the desk: for one user on this machine, or for a team."""
    from broodsweep.bootstrap import default_home
    from broodsweep.cli.reach import alone, by_certificate, by_hotspot, by_proxy

    folder, names = home or default_home(), tuple(at or ())
    if behind_proxy + hotspot + (certificate is not None or key is not None) > 1:
        raise BroodsweepError("cli.serve.one_way")
    if behind_proxy:
        reach = by_proxy(names)
    elif hotspot:
        reach = by_hotspot(folder, names, port)
    elif certificate is not None or key is not None:
        reach = by_certificate(certificate, key, names)
    else:
        reach = alone(names)
    run(
        folder,
        on.date() if on else None,
        port,
        browser=browser and not reach.is_shared,
        demo=False,
        reach=reach,
    )


def demo(
    folder: Annotated[
        Path, typer.Option("--folder", metavar="DIR", help=help_text("cli.demo.folder"))
    ] = Path("var/demo"),
    seed: Annotated[int, typer.Option("--seed", help=help_text("cli.demo.seed"))] = 7,
    port: PortOption = 8741,
    browser: BrowserOption = True,
    serve_it: Annotated[bool, typer.Option("--serve/--no-serve", help=help_text("cli.demo.serve"))] = True,
) -> None:
    """Make the island Skarnsey, load it, and open the desk on the demo's day."""
    from broodsweep.cli.island import make_demo

    day = make_demo(folder, seed)
    if serve_it:
        run(folder / "home", day, port, browser=browser, demo=True)


def run(
    home: Path, on: date | None, port: int, *, browser: bool, demo: bool, reach: Reach | None = None
) -> None:
    """Serve the desk until interrupted: on the loopback address, or as far as ``reach`` says.

    Raises
    ------
    TroubleError
        If the port is taken.
    BroodsweepError
        If the desk is shared and nobody may sign in yet.
    """
    import uvicorn

    from broodsweep.access import open_access
    from broodsweep.bootstrap import clock, open_desk
    from broodsweep.cli.reach import alone, trust_page
    from broodsweep.web import create_app

    reach = reach or alone(())
    port = free_port(reach.bind, port)
    with open_desk(home=home, on=on) as desk, closing(open_access(home, now=clock)) as access:
        if reach.is_shared and not access.people.are_there():
            raise BroodsweepError("cli.serve.nobody")
        app = create_app(
            desk,
            home=home,
            locale=LOCALE,
            demo=demo,
            hosts=reach.hosts,
            access=access,
            is_shared=reach.is_shared,
        )
        addresses = reach.addresses(port)
        for address in addresses:
            print_line("cli.serve.open", address=address)
        if browser:
            threading.Timer(0.8, webbrowser.open, args=[addresses[0]]).start()
        with trust_page(reach, port):
            uvicorn.run(
                app,
                host=reach.bind,
                port=port,
                log_level="warning",
                ssl_certfile=reach.certificate,
                ssl_keyfile=reach.key,
                proxy_headers=reach.is_behind_proxy,
                forwarded_allow_ips="127.0.0.1" if reach.is_behind_proxy else None,
                server_header=False,
                timeout_graceful_shutdown=GRACE_S,
            )


def free_port(bind: str, port: int) -> int:
    """Return the port, or a free one for 0.

    Raises
    ------
    TroubleError
        If it is taken.
    """
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((bind, port))
        except OSError as error:
            raise TroubleError("cli.port_taken", port=str(port)) from error
        return int(probe.getsockname()[1])
