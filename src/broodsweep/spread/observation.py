"""What one apiary's own record says of its day of infection and of signs: incubation, visits, reports."""

# Structured arrays and compiled calls have no element types that mypy can see.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math

import numpy as np

from broodsweep.spread.arrays import World
from broodsweep.spread.compiled import lean
from broodsweep.spread.constants import HYPERGEOMETRIC_ABOVE
from broodsweep.spread.priors import Slot
from broodsweep.units import FloatArray

_SENSITIVITY, _REPORT = int(Slot.SENSITIVITY), int(Slot.REPORT)
_BY_REPORT, _SUSPECT = 2, 1
_WITHOUT_REPLACEMENT = HYPERGEOMETRIC_ABOVE.value
_SMALL = 1e-3
_TINY = 1e-300


@lean
def log_chance(rate: float) -> float:
    """Return log(1 - exp(-rate)), the log chance of at least one event."""
    if rate <= 0.0:
        return -np.inf
    if rate < _SMALL:
        return float(np.log(rate) - 0.5 * rate + rate * rate / 24.0)
    return float(np.log(-np.expm1(-rate)))


@lean
def _missed_whole(diseased: int, present: int, opened: int, sensitivity: float) -> float:
    """Return the chance to see none of a whole number of diseased colonies, opened without replacement."""
    total = 0.0
    for y in range(max(0, opened - (present - diseased)), min(diseased, opened) + 1):
        log_ways = (
            math.lgamma(diseased + 1)
            - math.lgamma(y + 1)
            - math.lgamma(diseased - y + 1)
            + math.lgamma(present - diseased + 1)
            - math.lgamma(opened - y + 1)
            - math.lgamma(present - diseased - opened + y + 1)
            - math.lgamma(present + 1)
            + math.lgamma(opened + 1)
            + math.lgamma(present - opened + 1)
        )
        total += math.exp(log_ways) * (1.0 - sensitivity) ** y
    return total


@lean
def missed(diseased: float, present: float, opened: float, sensitivity: float) -> float:
    """Return the chance that an inspection sees no diseased colony.

    Binomial form (1 - Se f)^diseased; where Se f > 0.9 the exact hypergeometric sum, geometric between whole
    numbers of diseased colonies.

    References
    ----------
    MacDiarmid 1988, Prev Vet Med 5:283, for the binomial form; it is exact for one diseased colony.
    """
    share = min(1.0, opened / present)
    if sensitivity * share <= _WITHOUT_REPLACEMENT:
        return float((1.0 - sensitivity * share) ** diseased)
    n, m, low = int(present), int(min(opened, present)), int(diseased)
    if low >= n:
        return _missed_whole(n, n, m, sensitivity)
    a = _missed_whole(low, n, m, sensitivity)
    b = _missed_whole(low + 1, n, m, sensitivity)
    part = diseased - low
    return float(max(a, _TINY) ** (1.0 - part) * max(b, _TINY) ** part)


@lean
def overlooked(
    growth: float, mending: float, sensitivity: float, age: float, present: float, opened: float
) -> float:
    """Return the chance that a visit sees nothing at an apiary with signs for ``age`` days."""
    diseased = 1.0 + (present - 1.0) * (1.0 - np.exp(-growth * age))
    none = missed(diseased, present, opened, sensitivity)
    if mending > 0.0:
        none = 1.0 - np.exp(-age / mending) * (1.0 - none)
    return float(min(1.0, none))


@lean
def log_incubation(w: World, j: int, infected: int, signs: int) -> float:
    """Return the log chance of the day of signs given the day of infection; ``days`` is not by today."""
    if infected < w.node[j].start:
        if signs >= w.days:
            return w.curve[3, w.days - w.node[j].start]
        return w.curve[2, signs - w.node[j].start]
    if signs >= w.days:
        return w.curve[1, w.days - infected]
    return w.curve[0, signs - infected]


@lean
def log_clean_record(w: World, j: int) -> float:
    """Return the log chance of the visits' record when the apiary was never infected."""
    value = 0.0
    for v in range(w.node[j].visit_first, w.node[j].visit_last):
        if w.visit[v].kind == _SUSPECT:
            value += np.log(w.suspicion)
    return value


@lean
def log_visits(w: World, j: int, signs: int, sensitivity: float) -> float:
    """Return the log chance of the visits before the finding, and of the finding when a visit made it."""
    value = 0.0
    for v in range(w.node[j].visit_first, w.node[j].visit_last):
        if w.visit[v].day < signs:
            if w.visit[v].kind == _SUSPECT:
                value += np.log(w.suspicion)
            continue
        none = overlooked(
            w.growth, w.mending, sensitivity, w.visit[v].day - signs, w.visit[v].present, w.visit[v].opened
        )
        if w.visit[v].kind == _SUSPECT:
            value += np.log(1.0 - none + none * w.suspicion)
        else:
            value += np.log(max(none, _TINY))
    if w.node[j].found_how == 1:
        none = overlooked(
            w.growth,
            w.mending,
            sensitivity,
            w.node[j].found_day - signs,
            w.node[j].found_present,
            w.node[j].found_opened,
        )
        value += np.log(max(1.0 - none, _TINY))
    return value


@lean
def unreported(w: World, j: int, signs: int) -> float:
    """Return the in-season days with signs in which the keeper did not report, times the keeper's reporting."""
    end = w.node[j].found_day if w.node[j].found_how > 0 else w.node[j].stop
    if signs >= end:
        return 0.0
    return float(w.node[j].reporting * (w.season[2, end] - w.season[2, signs]))


@lean
def log_reports(w: World, j: int, signs: int, report: float) -> float:
    """Return the log chance of no report until the finding, and of the report when it made the finding."""
    value = -report * unreported(w, j, signs)
    if w.node[j].found_how == _BY_REPORT:
        value += log_chance(report * w.node[j].reporting * w.season[1, w.node[j].found_day])
    return value


@lean
def is_allowed(w: World, j: int, infected: int, signs: int) -> bool:
    """Say whether an infected apiary may have these days at all."""
    if infected < w.node[j].start - 1 or infected >= w.node[j].stop or signs > w.days:
        return False
    if infected < w.node[j].start:
        if w.node[j].atom_weight + w.node[j].atom_hazard <= 0.0 or signs < w.node[j].start:
            return False
    elif signs < infected:
        return False
    return not (w.node[j].found_how > 0 and (signs > w.node[j].found_day or infected > w.node[j].found_day))


@lean
def log_record(w: World, theta: FloatArray, heat: float, j: int, infected: int, signs: int) -> float:
    """Return the log weight of an infected apiary's own record, evidence times ``heat``."""
    evidence = log_visits(w, j, signs, theta[_SENSITIVITY]) + log_reports(w, j, signs, theta[_REPORT])
    return log_incubation(w, j, infected, signs) + heat * evidence
