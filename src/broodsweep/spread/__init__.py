"""Who else may be infected and not yet seen, from where, how sure? Knows no law.

Importing this room is light; the compiled chain is loaded when a run starts.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from importlib import import_module
from typing import TYPE_CHECKING, Any

from broodsweep.constants import Disease
from broodsweep.register import Ground
from broodsweep.spread.priors import Prior, learn, pin, priors_of
from broodsweep.spread.settings import Coverage, Kernel, Settings

if TYPE_CHECKING:
    from broodsweep.spread.engine import Hidden
    from broodsweep.spread.first_picture import first_look
    from broodsweep.spread.reweighing import Reweighted, reweight
    from broodsweep.spread.worthiness import Worth, best_visits, worth, worth_of_set

_LATER = {
    "Hidden": "engine",
    "Reweighted": "reweighing",
    "Worth": "worthiness",
    "best_visits": "worthiness",
    "first_look": "first_picture",
    "reweight": "reweighing",
    "worth": "worthiness",
    "worth_of_set": "worthiness",
}
"""Names that load the compiled code when they are first asked for."""


def __getattr__(name: str) -> Any:
    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(import_module(f"{__name__}.{_LATER[name]}"), name)
    # The module of the same name would else stand in the way of the function.
    globals()[name] = found
    return found


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


__all__ = [
    "Coverage",
    "Hidden",
    "Kernel",
    "Prior",
    "Reweighted",
    "Settings",
    "Worth",
    "best_visits",
    "first_look",
    "hidden",
    "learn",
    "pin",
    "priors_of",
    "reweight",
    "worth",
    "worth_of_set",
]
