"""The run: from the tables to who else may be infected, with everything kept that later questions need."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date

import numpy as np

from broodsweep.constants import Disease
from broodsweep.register import Ground
from broodsweep.spread.answer import Answer, Diagnostics
from broodsweep.spread.arrays import World
from broodsweep.spread.chain import Chain, run_one, split_nodes, start_all
from broodsweep.spread.data import Setup, setup_of
from broodsweep.spread.draws import Check, Draws, check, collect
from broodsweep.spread.priors import Prior, priors_of
from broodsweep.spread.scene import world_of
from broodsweep.spread.settings import Settings
from broodsweep.units import IntArray
from broodsweep.words import say

Progress = Callable[[float], None]
_WARM_SHARE = 0.2


@dataclass(frozen=True, kw_only=True)
class Hidden:
    """A finished run: the answer, and the draws from which visits are weighed and answers re-weighted."""

    answer: Answer
    setup: Setup
    world: World
    draws: Draws
    priors: tuple[Prior, ...]

    def as_record(self) -> dict[str, object]:
        """Return the answer as plain values for JSON."""
        return self.answer.as_record()


def hidden(
    ground: Ground,
    disease: Disease,
    on: date,
    *,
    seed: int,
    settings: Settings | None = None,
    progress: Progress | None = None,
) -> Hidden:
    """Return who may be infected on a day and not yet found, from where, and how sure that is.

    Parameters
    ----------
    ground
        The tables; what lies behind ``on`` is not looked at.
    disease, on
        What is asked.
    seed
        The same seed gives the same answer, however many threads there are.
    settings
        How the run is made.
    progress
        Called with the share done; raising from it stops the run.
    """
    settings = settings or Settings()
    setup = setup_of(ground, disease, on, settings)
    priors = settings.priors or priors_of(disease)
    return run(setup, world_of(setup.scene), priors, seed, settings, progress)


def run(
    setup: Setup,
    w: World,
    priors: tuple[Prior, ...],
    seed: int,
    settings: Settings,
    progress: Progress | None = None,
) -> Hidden:
    """Run the chains of a world until they agree or the limit is reached, and answer."""
    from broodsweep.spread.figures import answer_of, empty_answer

    if len(w.node) == 0:
        return Hidden(
            answer=empty_answer(setup, priors), setup=setup, world=w, draws=Draws.of_nothing(), priors=priors
        )
    chains, near, far, state = sample(w, priors, seed, settings, progress)
    draws = collect(chains, near, far, settings.draws)
    answer = answer_of(setup, w, chains, draws, priors, _diagnostics(chains, state, settings))
    if progress:
        progress(1.0)
    return Hidden(answer=answer, setup=setup, world=w, draws=draws, priors=priors)


def sample(
    w: World,
    priors: tuple[Prior, ...],
    seed: int,
    settings: Settings,
    progress: Progress | None = None,
) -> tuple[list[Chain], IntArray, IntArray, Check]:
    """Warm up and run the chains batch by batch; stop when they agree and every error is small enough."""
    tell = progress or (lambda _: None)
    tell(0.0)
    with ThreadPoolExecutor(max_workers=min(settings.threads, settings.chains)) as pool:
        chains = start_all(w, priors, seed, settings, pool)
        near, far = split_nodes(chains)
        tell(_WARM_SHARE)
        for batch in range(settings.most_batches):
            made = list(pool.map(lambda chain: run_one(chain, settings, near, far), chains))
            for chain, one in zip(chains, made, strict=True):
                chain.batches.append(one)
            tell(_WARM_SHARE + (1 - _WARM_SHARE) * (batch + 1) / settings.most_batches * 0.95)
            if batch + 1 < min(settings.least_batches, settings.most_batches):
                continue
            state = check(chains, priors)
            if state.mcse_max < settings.mcse_limit and state.rhat_max < settings.rhat_limit:
                break
            if settings.should_stop is not None and settings.should_stop():
                break
    return chains, near, far, state


def _diagnostics(chains: list[Chain], state: Check, settings: Settings) -> Diagnostics:
    reasons = []
    if not state.rhat_max < settings.rhat_limit:
        reasons.append(say("spread.not_agreed", rhat=round(state.rhat_max, 3), limit=settings.rhat_limit))
    if not state.mcse_max < settings.mcse_limit:
        reasons.append(
            say("spread.not_exact", mcse_probability=state.mcse_max, limit_probability=settings.mcse_limit)
        )
    return Diagnostics(
        converged=not reasons,
        rhat_max=float(np.round(state.rhat_max, 6)),
        ess_min=state.ess_min,
        mcse_max=state.mcse_max,
        sweeps=sum(chain.done for chain in chains),
        chains=len(chains),
        reasons=tuple(reasons),
    )
