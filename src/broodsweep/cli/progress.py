"""Progress of long work on the terminal; nothing when the answer goes to a program."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def showing(label: str, *, quiet: bool = False) -> Iterator[Callable[[float], None]]:
    """Give a callback that takes the share done, 0 to 1, and draw it while the block runs."""
    if quiet or not sys.stderr.isatty():
        yield lambda share: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(label, total=1.0)
        yield lambda share: bar.update(task, completed=share)
