"""Tells pages that the record has changed: server-sent events that end by themselves when the desk stops."""

from __future__ import annotations

import asyncio
import json
import signal
import threading
from collections.abc import AsyncIterator, Callable
from types import FrameType
from typing import Any

from starlette.concurrency import run_in_threadpool

from broodsweep.errors import TroubleError

LOOK_EVERY_S = 0.3
"""How often the record is looked at: a change is seen well within a second (project choice)."""
QUIET_S = 15.0
"""How long nothing is said before a word that the line still stands; proxies close silent ones (project choice)."""
LONGEST_S = 3600.0
"""How long one answer lasts; the browser asks again by itself (project choice)."""


class Stopping:
    """Knows when the program was asked to stop, so that no page that listens holds it up.

    The server waits for open answers before it stops; it handles the signal itself, and this looks over its shoulder.
    """

    def __init__(self) -> None:
        self._asked = threading.Event()

    def __bool__(self) -> bool:
        return self._asked.is_set()

    def ask(self) -> None:
        """Let every listener end."""
        self._asked.set()

    def listen(self) -> None:
        """Look over the shoulder of whoever handles the signals to stop; only in the main thread."""
        if threading.current_thread() is not threading.main_thread():
            return
        for number in (signal.SIGINT, signal.SIGTERM):
            before = signal.getsignal(number)
            if callable(before) and getattr(before, "broodsweep", None) is not self:
                signal.signal(number, self._after(before))

    def _after(
        self, before: Callable[[int, FrameType | None], Any]
    ) -> Callable[[int, FrameType | None], Any]:
        def handle(number: int, frame: FrameType | None) -> None:
            self.ask()
            before(number, frame)

        handle.broodsweep = self  # type: ignore[attr-defined]
        return handle


async def changes(version: Callable[[], int], stopping: Stopping) -> AsyncIterator[str]:
    """Give an event for the record as it is now and for every change, until the desk stops."""
    told, quiet, lasted = -1, 0.0, 0.0
    while not stopping and lasted < LONGEST_S:
        try:
            now = await run_in_threadpool(version)
        except TroubleError:  # the file is busy: the next look will tell
            now = told
        if now != told:
            told, quiet = now, 0.0
            yield f"retry: 2000\nid: {now}\ndata: {json.dumps({'version': now})}\n\n"
        elif quiet >= QUIET_S:
            quiet = 0.0
            yield ": still here\n\n"
        await asyncio.sleep(LOOK_EVERY_S)
        quiet += LOOK_EVERY_S
        lasted += LOOK_EVERY_S
