"""What the inspectors do once foulbrood is found: sample, confirm, clear, trace, and sweep the rings."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from broodsweep.constants import Clearance, Disease
from broodsweep.demo import constants as chosen
from broodsweep.demo.infection import NEVER, Contacts, Epidemic, spread_for_a_day
from broodsweep.demo.inspections import Officer, Seen, distance_m, look, next_working_day, on_duty
from broodsweep.demo.population import Population, day_of
from broodsweep.demo.trade import OUTSIDE, Carried
from broodsweep.units import FloatArray

RINGS_M = (3_000.0, 5_000.0)
TRACING_DAYS = 365
REINSPECT_AFTER_DAYS = 42
_SAMPLE_DAYS, _CLEAR_DAYS = (3, 7), (3, 6)
_AWARE = 3.0
"""How much oftener a keeper telephones once the outbreak is known."""


_FALSE_ALARMS_PER_DAY, _LOOKS_ALIKE = 0.06, 0.5
"""Keepers who call for nothing once they have heard of it, and how often what they saw deceives the eye too."""


@dataclass(frozen=True, kw_only=True)
class Found:
    """A case of the truth: when suspected, confirmed, cleared and seen clean again (days)."""

    apiary: int
    officer: int
    suspected_day: int
    confirmed_day: int
    cleared_day: int
    colonies: int
    how: Clearance
    by: str
    reinspected_day: int | None = None


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """A false alarm: suspected by eye at a visit, not confirmed by the laboratory (days)."""

    apiary: int
    officer: int
    suspected_day: int
    answered_day: int


@dataclass(kw_only=True)
class Campaign:
    """An outbreak as it is fought: changed in place as days go by."""

    state: Epidemic
    found: list[Found] = field(default_factory=list)
    doubts: list[Doubt] = field(default_factory=list)
    visits: list[Seen] = field(default_factory=list)
    seen: set[int] = field(default_factory=set)
    called: dict[int, int] = field(default_factory=dict)

    def copy(self) -> Campaign:
        """Return an independent copy."""
        return Campaign(
            state=self.state.copy(),
            found=list(self.found),
            doubts=list(self.doubts),
            visits=list(self.visits),
            seen=set(self.seen),
            called=dict(self.called),
        )

    @property
    def banned(self) -> set[int]:
        """The apiaries under a standstill."""
        return {case.apiary for case in self.found}


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What does not change while an outbreak goes on.

    ``joined`` gives for an apiary the days of recorded moves and the apiary at their other end; ``drive_m`` has shape
    (n_officers, n), ``apart_m`` (n, n) [m]; ``routine`` holds the visits planned by day.
    """

    people: Population
    contacts: Contacts
    officers: tuple[Officer, ...]
    joined: dict[int, tuple[tuple[int, int], ...]]
    drive_m: FloatArray
    apart_m: FloatArray
    routine: dict[int, tuple[Seen, ...]]
    visits_per_day: int

    @classmethod
    def of(
        cls,
        people: Population,
        officers: tuple[Officer, ...],
        moves: tuple[Carried, ...],
        routine: tuple[Seen, ...],
        visits_per_day: int,
    ) -> Setting:
        """Put together what the days of an outbreak look things up in."""
        joined: dict[int, list[tuple[int, int]]] = {}
        for move in moves:
            if move.is_recorded and OUTSIDE not in (move.start, move.stop):
                joined.setdefault(move.start, []).append((move.day, move.stop))
                joined.setdefault(move.stop, []).append((move.day, move.start))
        by_day: dict[int, list[Seen]] = {}
        for visit in routine:
            by_day.setdefault(visit.day, []).append(visit)
        return cls(
            people=people,
            contacts=Contacts.of(people, moves),
            officers=officers,
            joined={apiary: tuple(found) for apiary, found in joined.items()},
            drive_m=np.stack([distance_m(people, officer.home_m) for officer in officers]),
            apart_m=np.stack([distance_m(people, spot) for spot in people.at_m]),
            routine={day: tuple(found) for day, found in by_day.items()},
            visits_per_day=visits_per_day,
        )


def live_a_day(rng: np.random.Generator, setting: Setting, campaign: Campaign, day: int) -> None:
    """Let one day pass: spread, telephone calls, visits, clearances."""
    people, state = setting.people, campaign.state
    spread_for_a_day(rng, people, setting.contacts, state, day, campaign.banned)
    for case in campaign.found:
        if case.cleared_day == day:
            state.ended_day[case.apiary] = day
    if not 4 <= day_of(day).month <= 9:
        return
    _telephone(rng, people, campaign, day)
    if not campaign.found and not campaign.called:
        for visit in setting.routine.get(day, ()):
            _visit(rng, campaign, visit)
        return
    duty = on_duty(rng, setting.officers, day)
    _answer_calls(rng, setting, campaign, duty, day)
    _sweep(rng, setting, campaign, duty, day)


def _telephone(rng: np.random.Generator, people: Population, campaign: Campaign, day: int) -> None:
    """Keepers who see signs call; who never registered seldom does."""
    state = campaign.state
    if campaign.found and rng.random() < _FALSE_ALARMS_PER_DAY:
        apiary = int(rng.integers(people.count))
        if people.is_registered[apiary] and people.is_there(day)[apiary] and apiary not in campaign.banned:
            campaign.called.setdefault(apiary, day)
    signs = np.flatnonzero(state.is_active(day) & (state.signs_day <= day) & (state.found_day == NEVER))
    if len(signs) == 0:
        return
    chance = np.where(
        people.is_registered[signs], chosen.REPORT_PER_DAY.value, chosen.UNREGISTERED_REPORT_PER_DAY.value
    ) * (_AWARE if campaign.found else 1.0)
    for apiary in signs[rng.random(len(signs)) < chance].tolist():
        campaign.called.setdefault(apiary, day)


def _answer_calls(
    rng: np.random.Generator, setting: Setting, campaign: Campaign, duty: list[int], day: int
) -> None:
    """Go to see what was reported the day before: every colony is opened."""
    for apiary, called in list(campaign.called.items()):
        if called >= day or not duty:
            continue
        del campaign.called[apiary]
        if campaign.state.found_day[apiary] != NEVER:
            continue
        officer = min(duty, key=lambda n: float(setting.drive_m[n, apiary]))
        duty.remove(officer)
        present = int(setting.people.colonies[apiary])
        visit = Seen(
            day=day, apiary=apiary, officer=officer, purpose="report", present=present, opened=present
        )
        if not _visit(rng, campaign, visit, least=1) and rng.random() < _LOOKS_ALIKE:
            campaign.visits[-1] = replace(visit, suspect=1, disease=campaign.state.disease)
            answered = next_working_day(day + int(rng.integers(*_SAMPLE_DAYS)))
            campaign.doubts.append(
                Doubt(apiary=apiary, officer=officer, suspected_day=day, answered_day=answered)
            )


def _visit(rng: np.random.Generator, campaign: Campaign, visit: Seen, least: int = 0) -> bool:
    """Make the visit; say whether it was a finding."""
    state = campaign.state
    signs = state.colonies_with_signs(visit.apiary, visit.day, visit.present) > 0
    suspect = max(look(rng, state, visit), least if signs else 0)
    if visit.purpose != "routine":  # what was seen before the outbreak was known is seen again
        campaign.seen.add(visit.apiary)
    if suspect == 0:
        campaign.visits.append(visit)
        return False
    campaign.visits.append(replace(visit, suspect=suspect, disease=state.disease))
    confirmed = next_working_day(visit.day + int(rng.integers(*_SAMPLE_DAYS)))
    cleared = next_working_day(confirmed + int(rng.integers(*_CLEAR_DAYS)))
    is_afb = state.disease is Disease.AFB
    how = Clearance.DESTROYED if is_afb or rng.random() < 0.15 else Clearance.SHOOK_SWARM
    campaign.found.append(
        Found(
            apiary=visit.apiary,
            officer=visit.officer,
            suspected_day=visit.day,
            confirmed_day=confirmed,
            cleared_day=cleared,
            colonies=suspect,
            how=how,
            by=visit.purpose,
        )
    )
    state.found_day[visit.apiary] = visit.day
    return True


def _sweep(rng: np.random.Generator, setting: Setting, campaign: Campaign, duty: list[int], day: int) -> None:
    """Visit the most worth-while apiaries of the rings; after a finding an inspector goes home to clean."""
    _reinspect(rng, setting, campaign, duty, day)
    worth = _worth(setting, campaign, day)
    left = min(setting.visits_per_day, 2 * len(duty))
    made = dict.fromkeys(duty, 0)
    for apiary in np.argsort(-worth, kind="stable").tolist():
        if left == 0 or worth[apiary] <= 0 or not made:
            return
        officer = min(made, key=lambda n: (made[n], float(setting.drive_m[n, apiary])))
        present = int(setting.people.colonies[apiary])
        opened = present if present <= 10 else max(10, int(np.ceil(0.6 * present)))
        purpose = "tracing" if worth[apiary] >= 3 else "sweep"
        visit = Seen(day=day, apiary=apiary, officer=officer, purpose=purpose, present=present, opened=opened)
        made[officer] += 1
        if _visit(rng, campaign, visit) or made[officer] == 2:
            del made[officer]
        left -= 1


def _worth(setting: Setting, campaign: Campaign, day: int) -> FloatArray:
    """Score the registered apiaries not yet seen: moves, same keeper, then the rings from inside out."""
    people = setting.people
    worth = np.zeros(people.count)
    for case in campaign.found:
        if case.confirmed_day > day:
            continue
        away_m = setting.apart_m[case.apiary]
        worth += np.where(
            away_m <= RINGS_M[0], 1.5 - away_m / 3_000.0, np.where(away_m <= RINGS_M[1], 0.2, 0.0)
        )
        worth += 2.0 * (people.owner == people.owner[case.apiary])
        for moved, other in setting.joined.get(case.apiary, ()):
            if case.suspected_day - TRACING_DAYS <= moved <= day:
                worth[other] += 3.0
    skip = ~people.is_registered | ~people.is_there(day)
    skip[list(campaign.seen)] = True
    return np.where(skip, 0.0, worth)


def _reinspect(
    rng: np.random.Generator, setting: Setting, campaign: Campaign, duty: list[int], day: int
) -> None:
    """Look again at a cleared apiary six weeks after, and find it clean."""
    for number, case in enumerate(campaign.found):
        if case.reinspected_day is None and day >= case.cleared_day + REINSPECT_AFTER_DAYS and duty:
            officer = case.officer if case.officer in duty else duty[0]
            duty.remove(officer)
            gone = case.colonies if case.how is Clearance.DESTROYED else 0
            present = max(int(setting.people.colonies[case.apiary]) - gone, 0)
            if present > 0:
                campaign.visits.append(
                    Seen(
                        day=day, apiary=case.apiary, officer=officer, purpose="reinspection", present=present,
                        opened=present,
                    )
                )  # fmt: skip
            campaign.found[number] = replace(case, reinspected_day=day)
