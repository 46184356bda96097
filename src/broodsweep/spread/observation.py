"""What one apiary's own record says of its day of infection and of signs: incubation, visits, reports."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from broodsweep.spread.arrays import World
from broodsweep.spread.constants import HYPERGEOMETRIC_ABOVE
from broodsweep.spread.priors import Slot
from broodsweep.units import FloatArray

_SENSITIVITY, _REPORT = int(Slot.SENSITIVITY), int(Slot.REPORT)
_BY_REPORT, _SUSPECT = 2, 1
_WITHOUT_REPLACEMENT = HYPERGEOMETRIC_ABOVE.value
_SMALL = 1e-3
_TINY = 1e-300


@njit(cache=True, nogil=True)
def log_chance(rate: float) -> float:
    """Return log(1 - exp(-rate)), the log chance of at least one event."""
    if rate <= 0.0:
        return -np.inf
    if rate < _SMALL:
        return float(np.log(rate) - 0.5 * rate + rate * rate / 24.0)
    return float(np.log(-np.expm1(-rate)))


@njit(cache=True, nogil=True)
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


@njit(cache=True, nogil=True)
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


@njit(cache=True, nogil=True)
def overlooked(w: World, sensitivity: float, age: float, present: float, opened: float) -> float:
    """Return the chance that a visit sees nothing at an apiary with signs for ``age`` days."""
    diseased = 1.0 + (present - 1.0) * (1.0 - np.exp(-w.growth * age))
    none = missed(diseased, present, opened, sensitivity)
    if w.mending > 0.0:
        none = 1.0 - np.exp(-age / w.mending) * (1.0 - none)
    return float(min(1.0, none))


@njit(cache=True, nogil=True)
def log_incubation(w: World, j: int, infected: int, signs: int) -> float:
    """Return the log chance of the day of signs given the day of infection; ``days`` is not by today."""
    if infected < w.start[j]:
        if signs >= w.days:
            return w.log_unsigned_start[w.days - w.start[j]]
        return w.log_signs_start[signs - w.start[j]]
    if signs >= w.days:
        return w.log_unsigned[w.days - infected]
    return w.log_signs[signs - infected]


@njit(cache=True, nogil=True)
def log_clean_record(w: World, j: int) -> float:
    """Return the log chance of the visits' record when the apiary was never infected."""
    value = 0.0
    for v in range(w.visit_start[j], w.visit_start[j + 1]):
        if w.visit_kind[v] == _SUSPECT:
            value += np.log(w.suspicion)
    return value


@njit(cache=True, nogil=True)
def log_visits(w: World, j: int, signs: int, sensitivity: float) -> float:
    """Return the log chance of the visits before the finding, and of the finding when a visit made it."""
    value = 0.0
    for v in range(w.visit_start[j], w.visit_start[j + 1]):
        if w.visit_day[v] < signs:
            if w.visit_kind[v] == _SUSPECT:
                value += np.log(w.suspicion)
            continue
        none = overlooked(w, sensitivity, w.visit_day[v] - signs, w.visit_present[v], w.visit_opened[v])
        if w.visit_kind[v] == _SUSPECT:
            value += np.log(1.0 - none + none * w.suspicion)
        else:
            value += np.log(max(none, _TINY))
    if w.found_how[j] == 1:
        none = overlooked(w, sensitivity, w.found_day[j] - signs, w.found_present[j], w.found_opened[j])
        value += np.log(max(1.0 - none, _TINY))
    return value


@njit(cache=True, nogil=True)
def unreported(w: World, j: int, signs: int) -> float:
    """Return the in-season days with signs in which the keeper did not report, times the keeper's reporting."""
    end = w.found_day[j] if w.found_how[j] > 0 else w.stop[j]
    if signs >= end:
        return 0.0
    return float(w.reporting[j] * (w.seen[end] - w.seen[signs]))


@njit(cache=True, nogil=True)
def log_reports(w: World, j: int, signs: int, report: float) -> float:
    """Return the log chance of no report until the finding, and of the report when it made the finding."""
    value = -report * unreported(w, j, signs)
    if w.found_how[j] == _BY_REPORT:
        value += log_chance(report * w.reporting[j] * w.looked[w.found_day[j]])
    return value


@njit(cache=True, nogil=True)
def is_allowed(w: World, j: int, infected: int, signs: int) -> bool:
    """Say whether an infected apiary may have these days at all."""
    if infected < w.start[j] - 1 or infected >= w.stop[j] or signs > w.days:
        return False
    if infected < w.start[j]:
        if w.atom_weight[j] + w.atom_hazard[j] <= 0.0 or signs < w.start[j]:
            return False
    elif signs < infected:
        return False
    return not (w.found_how[j] > 0 and (signs > w.found_day[j] or infected > w.found_day[j]))


@njit(cache=True, nogil=True)
def log_record(w: World, theta: FloatArray, heat: float, j: int, infected: int, signs: int) -> float:
    """Return the log weight of an infected apiary's own record, evidence times ``heat``."""
    evidence = log_visits(w, j, signs, theta[_SENSITIVITY]) + log_reports(w, j, signs, theta[_REPORT])
    return log_incubation(w, j, infected, signs) + heat * evidence
