"""How the room's inner loops are compiled: once, kept beside the source, without the interpreter's lock.

Numba keeps machine code by the age of the file a function stands in and does not notice that a function called from
there has changed. So all of it is forgotten when any of the sources together is newer.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar

from numba import njit

Function = TypeVar("Function", bound=Callable[..., Any])
_njit: Any = njit
"""Untyped: ``_nrt`` is not among the options that numba declares, though it has had it since reference counts."""


_TOGETHER = (
    "alias",
    "arrays",
    "branch",
    "cells",
    "change",
    "compiled",
    "constants",
    "descent",
    "exposure",
    "future_calendar",
    "futures",
    "kernels",
    "likelihood",
    "moves",
    "observation",
    "picking",
    "priors",
    "proposal",
    "random_numbers",
    "running",
    "streams",
    "tracing",
    "walks",
)
"""Modules whose compiled code calls each other, and those whose numbers are compiled in."""


def _forget_stale(folder: Path) -> None:
    newest = max((folder / f"{name}.py").stat().st_mtime for name in _TOGETHER)
    for kept in (kept for name in _TOGETHER for kept in (folder / "__pycache__").glob(f"{name}.*.nbi")):
        # Another process may be doing the same, or the folder may not be ours to write.
        with suppress(OSError):
            if kept.stat().st_mtime < newest:
                kept.unlink()


_forget_stale(Path(__file__).parent)


def is_compiled() -> bool:
    """Say whether machine code of the chain is kept: without it the first run compiles, which takes a minute."""
    return any((Path(__file__).parent / "__pycache__").glob("running.*.nbi"))


def compiled(function: Function) -> Function:
    """Compile a function that makes arrays."""
    made: Function = _njit(cache=True, nogil=True, error_model="numpy")(function)
    return made


def lean(function: Function) -> Function:
    """Compile a function that makes no arrays: its arguments are not counted, which costs more than the work."""
    made: Function = _njit(cache=True, nogil=True, error_model="numpy", _nrt=False)(function)
    return made
