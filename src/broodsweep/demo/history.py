"""Three seasons on Skarnsey: the closed outbreak of EFB and the one of AFB that is going on.

The random numbers are drawn again, with the next attempt as part of the seed, until an outbreak turns out
that has something to show (`_is_worth_showing`). Nothing is moved by hand: every date is the simulator's.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from broodsweep.constants import Clearance, Disease
from broodsweep.demo.infection import BACKGROUND, NEVER, Epidemic, infect
from broodsweep.demo.inspections import Officer, Seen, day_number, plan_routine
from broodsweep.demo.population import LAST_DAY, Population
from broodsweep.demo.response import Campaign, Setting, live_a_day
from broodsweep.demo.trade import Carried

_EFB_CLOSED_BY = day_number(date(2025, 9, 30))
_INDEX_BETWEEN = (day_number(date(2026, 5, 27)), day_number(date(2026, 6, 14)))
_ATTEMPTS, _ENDINGS = 20_000, 100


@dataclass(frozen=True, kw_only=True)
class History:
    """What happened: both outbreaks with their truth, and every visit."""

    efb: Campaign
    afb: Campaign
    visits: tuple[Seen, ...]
    moves: tuple[Carried, ...]


def make_history(
    seed: int, people: Population, officers: tuple[Officer, ...], moves: tuple[Carried, ...]
) -> History:
    """Live through the three seasons.

    Raises
    ------
    ValueError
        If no attempt made outbreaks that are worth showing; another seed will.
    """
    routine = plan_routine(np.random.default_rng([seed, 20]), people, officers, moves)
    efb = _live_efb(seed, Setting.of(people, officers, moves, routine, visits_per_day=4))
    found_day = efb.found[0].suspected_day
    last_day = max(case.reinspected_day or 0 for case in efb.found)
    others = tuple(visit for visit in efb.visits if visit.day >= found_day)
    kept = tuple(visit for visit in routine if not found_day <= visit.day <= last_day)
    known = tuple(sorted((*kept, *others), key=lambda visit: visit.day))
    afb = _live_afb(seed, Setting.of(people, officers, moves, known, visits_per_day=3))
    index = afb.found[0].suspected_day
    swept = {(visit.day, visit.apiary) for visit in afb.visits}
    visits = [v for v in (*kept, *others) if v.day < index and (v.day, v.apiary) not in swept]
    held = tuple(move for move in moves if not _is_held(move, efb) and not _is_held(move, afb))
    everything = sorted((*visits, *afb.visits), key=lambda visit: (visit.day, visit.officer, visit.apiary))
    return History(efb=efb, afb=afb, visits=tuple(everything), moves=held)


def _is_held(move: Carried, campaign: Campaign) -> bool:
    """Say whether a standstill kept the move from happening."""
    return any(
        case.apiary in (move.start, move.stop)
        and case.suspected_day <= move.day <= (case.reinspected_day or NEVER)
        for case in campaign.found
    )


def _start(
    rng: np.random.Generator, setting: Setting, disease: Disease, first: date, last: date
) -> tuple[Campaign, int]:
    """Bring the disease to one apiary from outside."""
    people = setting.people
    day = int(rng.integers(day_number(first), day_number(last)))
    campaign = Campaign(state=Epidemic.none_yet(disease, people.count))
    there = np.flatnonzero(people.is_there(day) & (people.left_day > LAST_DAY))
    infect(rng, campaign.state, int(rng.choice(there)), day, BACKGROUND, "background")
    return campaign, day


def _live_efb(seed: int, setting: Setting) -> Campaign:
    for attempt in range(_ATTEMPTS):
        rng = np.random.default_rng([seed, 30, attempt])
        campaign, first = _start(rng, setting, Disease.EFB, date(2025, 3, 15), date(2025, 4, 25))
        for day in range(first + 1, day_number(date(2025, 10, 20))):
            live_a_day(rng, setting, campaign, day)
            if not campaign.state.is_active(day).any() and not campaign.found:
                break
        if _is_closed(campaign):
            return campaign
    raise ValueError(f"Expected a seed that makes an outbreak of EFB, got {seed}.")


def _is_closed(campaign: Campaign) -> bool:
    """Say whether a handful of cases was found, cleared and seen clean, and nothing was left over."""
    state, cases = campaign.state, campaign.found
    ended = ((state.infected_day == NEVER) | (state.ended_day < _EFB_CLOSED_BY)).all()
    clean = all(case.reinspected_day is not None and case.reinspected_day < _EFB_CLOSED_BY for case in cases)
    treated = sum(case.how is Clearance.SHOOK_SWARM for case in cases)
    return bool(
        3 <= len(cases) <= 7
        and ended
        and clean
        and treated >= 2
        and cases[0].suspected_day < day_number(date(2025, 6, 15))
    )


def _live_afb(seed: int, setting: Setting) -> Campaign:
    for attempt in range(_ATTEMPTS):
        rng = np.random.default_rng([seed, 55, attempt])
        campaign, first = _start(rng, setting, Disease.AFB, date(2025, 5, 20), date(2025, 9, 20))
        day = first
        while not campaign.called and not campaign.found and day < _INDEX_BETWEEN[1]:
            day += 1
            live_a_day(rng, setting, campaign, day)
        if not _can_become(setting, campaign, day):
            continue
        for ending in range(_ENDINGS):
            last, later = np.random.default_rng([seed, 55, attempt, ending]), campaign.copy()
            for following in range(day + 1, LAST_DAY):
                live_a_day(last, setting, later, following)
            if _is_worth_showing(setting, later):
                return later
    raise ValueError(f"Expected a seed that makes an outbreak of AFB, got {seed}.")


def _can_become(setting: Setting, campaign: Campaign, day: int) -> bool:
    """Say whether the first call came in early summer, with infection by each route about."""
    infected = campaign.state.infected_day != NEVER
    routes = set(campaign.state.route[infected].tolist())
    called = bool(campaign.called) and bool(setting.people.is_registered[list(campaign.called)].all())
    return (
        called
        and _INDEX_BETWEEN[0] <= day < _INDEX_BETWEEN[1]
        and 6 <= int(infected.sum()) <= 16
        and "near" in routes
        and ("move" in routes or "same_keeper" in routes)
    )


def _is_worth_showing(setting: Setting, campaign: Campaign) -> bool:
    """Say whether the morning of the demo day finds cases in every state, and infection still hidden."""
    people, state, cases = setting.people, campaign.state, campaign.found
    confirmed = [case for case in cases if case.confirmed_day < LAST_DAY]
    fresh = [case for case in confirmed if case.cleared_day >= LAST_DAY]
    hidden = (state.infected_day < LAST_DAY) & (state.found_day == NEVER)
    return bool(
        4 <= len(confirmed) <= 6
        and 1 <= len(cases) - len(confirmed) <= 2
        and len(campaign.doubts) <= 2
        and all(doubt.answered_day < LAST_DAY for doubt in campaign.doubts)
        and 1 <= len(fresh) <= 2
        and any(case.confirmed_day == LAST_DAY - 2 for case in fresh)
        and 4 <= hidden.sum() <= 14
        and (hidden & ~people.is_registered).any()
        and (hidden & people.is_registered).sum() >= 3
        and people.is_registered[[case.apiary for case in cases]].all()
        and _is_joined_on_paper(setting, state)
    )


def _is_joined_on_paper(setting: Setting, state: Epidemic) -> bool:
    """Say whether the tables hold one infection that came by a recorded move and one within a keeper's apiaries."""
    known = setting.people.is_registered
    routes = set()
    for apiary in np.flatnonzero(state.infected_day < LAST_DAY).tolist():
        source = int(state.source[apiary])
        if source == BACKGROUND or not (known[apiary] and known[source]):
            continue
        route = str(state.route[apiary])
        if route != "move" or (int(state.infected_day[apiary]), source) in setting.joined.get(apiary, ()):
            routes.add(route)
    return {"near", "move", "same_keeper"} <= routes
