"""`serve` and `demo`: the desk in a browser."""

from __future__ import annotations

import socket
import threading
import webbrowser
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from broodsweep.cli.options import HomeOption, OnOption
from broodsweep.cli.speech import LOCALE, help_text, print_line
from broodsweep.errors import TroubleError

PortOption = Annotated[int, typer.Option("--port", help=help_text("cli.serve.port"))]
BrowserOption = Annotated[bool, typer.Option("--browser/--no-browser", help=help_text("cli.serve.browser"))]


def serve(
    home: HomeOption = None, on: OnOption = None, port: PortOption = 8741, browser: BrowserOption = True
) -> None:
    """Open the desk for one user on this machine."""
    from broodsweep.bootstrap import default_home

    run(home or default_home(), on.date() if on else None, port, browser=browser, demo=False)


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


def run(home: Path, on: date | None, port: int, *, browser: bool, demo: bool) -> None:
    """Serve the desk on the loopback address until interrupted.

    Raises
    ------
    TroubleError
        If the port is taken.
    """
    import uvicorn

    from broodsweep.bootstrap import open_desk
    from broodsweep.web import create_app

    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except OSError as error:
            raise TroubleError("cli.port_taken", port=str(port)) from error
        port = probe.getsockname()[1]
    with open_desk(home=home, on=on) as desk:
        app = create_app(desk, home=home, locale=LOCALE, demo=demo)
        address = f"http://127.0.0.1:{port}/"
        print_line("cli.serve.open", address=address)
        if browser:
            threading.Timer(0.8, webbrowser.open, args=[address]).start()
        uvicorn.run(app, host="127.0.0.1", port=port, log_level="warning")
