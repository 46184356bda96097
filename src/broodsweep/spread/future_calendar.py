"""What futures are made of: their arrays, the calendar of what is to come, and the list of visits to make."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numba import njit

from broodsweep.spread.streams import draw_unit

NEVER = 1_000_000
MOST_TRIES = 1000
CONTACT, SPARK, REPORT, CLEAR, REINSPECT, RESWEEP = range(6)
P_CONTACT, P_SIGNS, P_REPORT, P_VISIT, P_CLEAR, P_SPARK, P_ORDER, P_MOVE = range(8)
SLOTS = 8
ROUTINE, CHECK = 0, 1
BY_DISTANCE, BY_RULE, AT_RANDOM = range(3)
FIRST_PLACE = -1e12
BLOCKED_SHARE = 0.2


class Scene(NamedTuple):
    """The district as arrays; see `rehearsal.make_scene`."""

    pointers: Any
    target: Any
    distance_m: Any
    same_keeper: Any
    keep: Any
    other: Any
    totals: Any
    spark_keep: Any
    spark_other: Any
    susceptibility: Any
    infectiousness: Any
    colonies: Any
    flight: Any
    flight_until: Any
    opening_until: Any
    is_workday: Any
    move_pointers: Any
    move_from: Any
    move_to: Any
    move_weight: Any
    seen_day: Any
    found_day: Any
    reference: Any
    reporting: Any
    is_registered: Any
    cut_m: float


class Draws(NamedTuple):
    """Posterior draws: parameters and who was infected when."""

    background: Any
    distance_rate: Any
    reach_m: Any
    shape: Any
    keeper_rate: Any
    move_rate: Any
    early_share: Any
    sensitivity: Any
    growth: Any
    report_rate: Any
    signs_shape: Any
    signs_scale: Any
    pointers: Any
    apiary: Any
    infected_day: Any
    signs_day: Any
    kernel: int
    second_m: float


class Plan(NamedTuple):
    """A strategy as numbers; see `rehearsal.Strategy`."""

    radius_m: float
    order: int
    minutes_a_day: float
    rounds: int
    interval: int
    clear_after: int
    relapse: float
    destroys: int
    stops_moves: int
    share_opened: float
    minutes_a_visit: float
    minutes_a_colony: float
    minutes_a_clearance: float


class State(NamedTuple):
    """What one worker writes in while it runs; reused from future to future by epoch stamps."""

    ill: Any
    infected_day: Any
    signs_day: Any
    removed_day: Any
    found: Any
    queued: Any
    rank: Any
    errand: Any
    seen: Any
    visits: Any
    illnesses: Any
    standing: Any
    head: Any
    following: Any
    kind: Any
    first: Any
    second: Any
    unit: Any
    heap_rank: Any
    heap_apiary: Any
    counts: Any
    slots: Any
    sums: Any


EVENTS, HEAP, ACTIVE, INFECTED, CONFIRMED, DESTROYED, OPEN, PENDING, FULL = range(9)
MINUTES, BALANCE = range(2)


@njit(cache=True)
def push(state: State, day: int, kind: int, first: int, second: int, unit: float) -> None:
    """Note an event in the calendar; what lies beyond the horizon is dropped, a full calendar is flagged."""
    if day >= len(state.head):
        return
    number = state.counts[EVENTS]
    if number >= len(state.kind):
        state.counts[FULL] = 1
        return
    state.counts[EVENTS] = number + 1
    state.kind[number], state.first[number], state.second[number] = kind, first, second
    state.unit[number] = unit
    state.following[number] = state.head[day]
    state.head[day] = number


@njit(cache=True)
def enqueue(state: State, epoch: int, apiary: int, rank: float, errand: int) -> None:
    """Put an apiary on the list of visits, or move it forward."""
    if state.queued[apiary] == epoch and state.rank[apiary] <= rank:
        return
    size = state.counts[HEAP]
    if size >= len(state.heap_rank):
        state.counts[FULL] = 1
        return
    state.queued[apiary], state.rank[apiary] = epoch, rank
    state.errand[apiary] = errand
    place = size
    state.counts[HEAP] = size + 1
    while place:
        parent = (place - 1) // 2
        if not (rank < state.heap_rank[parent]):
            break
        state.heap_rank[place], state.heap_apiary[place] = state.heap_rank[parent], state.heap_apiary[parent]
        place = parent
    state.heap_rank[place], state.heap_apiary[place] = rank, apiary


@njit(cache=True)
def take_next(state: State, epoch: int) -> int:
    """Take the next apiary off the list of visits, -1 when it is empty; stale places are passed over."""
    while state.counts[HEAP] > 0:
        rank, apiary = state.heap_rank[0], state.heap_apiary[0]
        size = state.counts[HEAP] - 1
        state.counts[HEAP] = size
        last_rank, last = state.heap_rank[size], state.heap_apiary[size]
        place = 0
        while True:
            child = 2 * place + 1
            if child >= size:
                break
            if child + 1 < size and state.heap_rank[child + 1] < state.heap_rank[child]:
                child += 1
            if not (state.heap_rank[child] < last_rank):
                break
            state.heap_rank[place], state.heap_apiary[place] = (
                state.heap_rank[child],
                state.heap_apiary[child],
            )
            place = child
        if size:
            state.heap_rank[place], state.heap_apiary[place] = last_rank, last
        if state.queued[apiary] == epoch and state.rank[apiary] == rank:
            state.queued[apiary] = -1
            return int(apiary)
    return -1


@njit(cache=True)
def draw_gamma(states: np.ndarray, slot: int, shape: float, scale: float) -> float:
    """Return a gamma number, shape >= 1 (Marsaglia & Tsang 2000, ACM Trans Math Softw 26:363)."""
    base = shape - 1.0 / 3.0
    spread = 1.0 / math.sqrt(9.0 * base)
    while True:
        radius = math.sqrt(-2.0 * math.log(draw_unit(states, slot)))
        normal = radius * math.cos(2.0 * math.pi * draw_unit(states, slot))
        cube = (1.0 + spread * normal) ** 3
        unit = draw_unit(states, slot)
        if cube > 0.0 and math.log(unit) < 0.5 * normal * normal + base * (1.0 - cube + math.log(cube)):
            return float(base * cube * scale)


@njit(cache=True)
def day_reaching(until: np.ndarray, start: float) -> int:
    """Return the first day at whose end the cumulative sum exceeds ``start``."""
    low, high = 0, len(until) - 1
    while low < high:
        middle = (low + high) // 2
        if until[middle + 1] > start:
            high = middle
        else:
            low = middle + 1
    return low
