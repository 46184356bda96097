"""From draws to the answer: a line for every apiary, the unseen number, sources, parameters, cells."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from broodsweep.spread import constants
from broodsweep.spread.answer import (
    Answer,
    ApiaryFigure,
    CellFigure,
    Diagnostics,
    ParameterFigure,
    State,
    Unseen,
)
from broodsweep.spread.arrays import World
from broodsweep.spread.chain import Chain
from broodsweep.spread.data import Setup
from broodsweep.spread.draws import Draws, intervals, none_left, parameter_table, spread_over_parameters
from broodsweep.spread.priors import Prior
from broodsweep.spread.reasons import Reasons
from broodsweep.spread.routes import sources_of
from broodsweep.spread.start import new_state
from broodsweep.words import say

_LEAST, _LEAST_FREE = constants.LEAST_FIGURE.value, constants.LEAST_FREE.value


def answer_of(
    setup: Setup,
    w: World,
    chains: list[Chain],
    draws: Draws,
    priors: tuple[Prior, ...],
    diagnostics: Diagnostics,
) -> Answer:
    """Return the answer of a run."""
    spread = np.zeros(len(w.node))
    spread[draws.near] = spread_over_parameters(draws, priors)
    low, high = intervals(draws.chance, spread, draws.error)
    work = new_state(w, 0, 0)
    reasons = Reasons(setup, w, work, draws)
    lines = tuple(
        _line(setup, w, number, draws, low, high, reasons) for number in range(len(setup.ground.apiaries))
    )
    return Answer(
        disease=setup.disease,
        on=setup.on,
        apiaries=lines,
        unseen=unseen_of(setup, draws, none_left(chains)),
        sources=sources_of(setup, w, work, draws),
        parameters=tuple(
            ParameterFigure(
                name=row.name, unit=row.unit, low=float(q[0]), median=float(q[1]), high=float(q[2])
            )
            for row, q in parameter_table(draws, priors)
        ),
        diagnostics=diagnostics,
        cells=_cells(setup, draws),
        unregistered={
            "count": setup.unregistered.count,
            "low": setup.unregistered.low,
            "high": setup.unregistered.high,
            "by_sweeps": setup.unregistered.by_sweeps,
        },
        notes=setup.notes,
    )


def empty_answer(setup: Setup, priors: tuple[Prior, ...]) -> Answer:
    """Return the answer for an empty register: nobody can be infected, parameters as believed before."""
    return Answer(
        disease=setup.disease,
        on=setup.on,
        apiaries=(),
        unseen=Unseen(
            mean=0.0,
            low=0.0,
            high=0.0,
            registered_mean=0.0,
            unregistered_mean=0.0,
            none_probability=1.0,
            none_mcse=0.0,
        ),
        sources=(),
        parameters=tuple(
            ParameterFigure(
                name=row.name,
                unit=row.unit,
                low=row.quantile(0.025),
                median=row.quantile(0.5),
                high=row.quantile(0.975),
            )
            for row in priors
            if row.family != "fixed"
        ),
        diagnostics=Diagnostics(
            converged=True, rhat_max=1.0, ess_min=0.0, mcse_max=0.0, sweeps=0, chains=0, reasons=()
        ),
        cells=(),
        unregistered={"count": 0.0, "low": 0.0, "high": 0.0, "by_sweeps": False},
        notes=(*setup.notes, say("spread.note_empty_register")),
    )


def state_now(setup: Setup, w: World, number: int) -> tuple[State, date | None, date | None]:
    """Return how an apiary stands today, when it was found and when cleared."""
    row, node = setup.ground.apiaries[number], int(setup.now[number])
    found_on = removed_on = None
    for life in (setup.lives[k] for k in np.flatnonzero(setup.apiary_of == number)):
        if life is not None and life.finding is not None:
            found_on, removed_on = life.finding.found_on, life.cleared_on
    if node >= 0 and w.node["found_how"][node] > 0 and w.node["removed"][node] >= w.days:
        return "found", found_on, None
    if node < 0 or w.node["stop"][node] < w.days:
        return ("removed" if removed_on else "left"), found_on, removed_on
    if removed_on is not None:
        return "removed", found_on, removed_on
    return ("no_colonies" if row.colonies == 0 else "standing"), None, None


def _line(
    setup: Setup,
    w: World,
    number: int,
    draws: Draws,
    low: np.ndarray,
    high: np.ndarray,
    reasons: Reasons,
) -> ApiaryFigure:
    row, node = setup.ground.apiaries[number], int(setup.now[number])
    state, found_on, removed_on = state_now(setup, w, number)
    is_open = node >= 0 and w.node["found_how"][node] == 0 and state in ("standing", "removed")
    return ApiaryFigure(
        apiary=row.apiary,
        state=state,
        probability=_never_sure(draws.chance[node]) if is_open else None,
        low=_never_sure(low[node]) if is_open else None,
        high=_never_sure(high[node]) if is_open else None,
        mcse=float(draws.error[node]) if is_open else None,
        reasons=reasons.of(number, node) if node >= 0 and is_open else (),
        found_on=found_on,
        removed_on=removed_on,
    )


def _never_sure(chance: float) -> float:
    """Return a chance that is neither 0 nor 1: no record of visits proves an apiary infected or free."""
    return float(np.clip(chance, _LEAST, 1.0 - _LEAST_FREE))


def unseen_of(setup: Setup, draws: Draws, none: tuple[float, float]) -> Unseen:
    """Return the number of apiaries infected today and not found."""
    is_cell = setup.apiary_of < 0
    by_cell = float(draws.chance[is_cell].sum())
    registered = float(draws.chance[~is_cell].sum())
    low, high = np.quantile(draws.unseen, [0.05, 0.95])
    return Unseen(
        mean=registered + by_cell,
        low=float(low),
        high=float(high),
        registered_mean=registered,
        unregistered_mean=by_cell,
        none_probability=none[0],
        none_mcse=none[1],
    )


def _cells(setup: Setup, draws: Draws) -> tuple[CellFigure, ...]:
    rows = []
    for k, node in enumerate(np.flatnonzero(setup.apiary_of < 0)):
        longitude, latitude = setup.to_degrees(float(setup.cells.east_m[k]), float(setup.cells.north_m[k]))
        rows.append(
            CellFigure(
                longitude=longitude,
                latitude=latitude,
                side_m=setup.cells.side_m,
                expected_apiaries=float(setup.cells.expected[k]),
                probability=float(draws.chance[node]),
            )
        )
    return tuple(sorted(rows, key=lambda row: -row.probability))


def date_of(setup: Setup, day: int) -> date:
    """Return the date of a day of the horizon."""
    return setup.first + timedelta(days=day)
