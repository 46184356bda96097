"""Who else may be infected and not yet seen, from where, how sure? Knows no law.

Importing this room is light; the compiled chain is loaded when a run starts.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING

from broodsweep.constants import Disease
from broodsweep.register import Ground
from broodsweep.spread.priors import Prior, learn, pin, priors_of
from broodsweep.spread.settings import Coverage, Kernel, Settings

if TYPE_CHECKING:
    from broodsweep.spread.engine import Hidden


def hidden(
    ground: Ground,
    disease: Disease,
    on: date,
    *,
    seed: int,
    settings: Settings | None = None,
    progress: Callable[[float], None] | None = None,
) -> Hidden:
    """Return who may be infected on a day and not yet found; see `broodsweep.spread.engine.hidden`."""
    from broodsweep.spread.engine import hidden as run

    return run(ground, disease, on, seed=seed, settings=settings, progress=progress)


__all__ = ["Coverage", "Kernel", "Prior", "Settings", "hidden", "learn", "pin", "priors_of"]
