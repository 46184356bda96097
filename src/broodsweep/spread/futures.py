"""One future at a time: contacts are thrown ahead when an apiary falls ill and looked up on their day.

The daily model of `docs/spread.md`: an apiary ill from day E infects from E + 1, at ``rho`` of its full rate until it
shows signs on day C. Contacts of a source are a Poisson number over its whole possible time, dated by the season and
aimed by an alias table; a contact counts on its day only if the target is still healthy and the source still there.
That is exact for the daily model and costs nothing for apiaries that nobody touches.

Days are counted from the day the futures start (0); earlier infections have negative days.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from broodsweep.spread.alias import pick
from broodsweep.spread.future_calendar import (
    ACTIVE,
    BALANCE,
    BLOCKED_SHARE,
    BY_DISTANCE,
    BY_RULE,
    CHECK,
    CLEAR,
    CONFIRMED,
    CONTACT,
    DESTROYED,
    FIRST_PLACE,
    FULL,
    HEAP,
    INFECTED,
    MINUTES,
    MOST_TRIES,
    NEVER,
    OPEN,
    P_CLEAR,
    P_CONTACT,
    P_MOVE,
    P_ORDER,
    P_REPORT,
    P_SIGNS,
    P_SPARK,
    P_VISIT,
    PENDING,
    REINSPECT,
    REPORT,
    RESWEEP,
    ROUTINE,
    SLOTS,
    SPARK,
    Draws,
    Plan,
    Scene,
    State,
    day_reaching,
    draw_gamma,
    enqueue,
    push,
    take_next,
)
from broodsweep.spread.kernels import fall
from broodsweep.spread.streams import draw_poisson, draw_unit, name_stream


@njit(cache=True)
def throw_contacts(
    scene: Scene, draws: Draws, state: State, draw: int, seed: int, future: int, apiary: int
) -> None:
    """Date and aim every contact that this source may have until the horizon."""
    last = len(scene.flight)
    begin = max(state.infected_day[apiary] + 1, 0)
    signs = min(max(state.signs_day[apiary], begin), last)
    if begin >= last or scene.totals[apiary] <= 0.0:
        return
    early = draws.early_share[draw] * (scene.flight_until[signs] - scene.flight_until[begin])
    late = scene.flight_until[last] - scene.flight_until[signs]
    slot = P_CONTACT
    state.slots[slot] = name_stream(seed, future, apiary, P_CONTACT + SLOTS * state.illnesses[apiary])
    mean = scene.infectiousness[apiary] * scene.totals[apiary] * (early + late)
    for _ in range(draw_poisson(state.slots, slot, mean)):
        place = draw_unit(state.slots, slot) * (early + late)
        if place < early:
            start = scene.flight_until[begin] + place / draws.early_share[draw]
        else:
            start = scene.flight_until[signs] + (place - early)
        entry = pick(
            scene.pointers[apiary],
            scene.pointers[apiary + 1],
            scene.keep,
            scene.other,
            draw_unit(state.slots, slot),
        )
        push(
            state,
            day_reaching(scene.flight_until, start),
            CONTACT,
            apiary,
            entry,
            draw_unit(state.slots, slot),
        )


@njit(cache=True)
def fall_ill(
    scene: Scene,
    draws: Draws,
    state: State,
    draw: int,
    seed: int,
    future: int,
    apiary: int,
    day: int,
    signs: int,
) -> None:
    """Make an apiary infected from a day on; ``signs`` is its day of signs, or -NEVER to draw it."""
    epoch = state.counts[-1]
    again = state.ill[apiary] == epoch
    state.illnesses[apiary] = state.illnesses[apiary] + 1 if again else 0
    state.ill[apiary] = epoch
    state.infected_day[apiary] = day
    state.removed_day[apiary] = NEVER
    state.found[apiary] = NEVER
    round_ = SLOTS * state.illnesses[apiary]
    if signs == -NEVER:
        state.slots[P_SIGNS] = name_stream(seed, future, apiary, P_SIGNS + round_)
        # Signs that are still to come come after today, whose visits the posterior has seen.
        for _ in range(MOST_TRIES):
            wait = draw_gamma(state.slots, P_SIGNS, draws.signs_shape[draw], draws.signs_scale[draw])
            signs = day + 1 + int(wait)
            if signs >= 0:
                break
        signs = max(signs, 0)
    state.signs_day[apiary] = signs
    state.counts[ACTIVE] += 1
    state.counts[INFECTED] += 1
    throw_contacts(scene, draws, state, draw, seed, future, apiary)
    last = len(scene.flight)
    rate = draws.report_rate[draw] * scene.reporting[apiary]
    if signs < last and rate > 0.0:
        state.slots[P_REPORT] = name_stream(seed, future, apiary, P_REPORT + round_)
        wait = -math.log(draw_unit(state.slots, P_REPORT)) / rate
        start = scene.opening_until[max(signs, 0)] + wait
        if start < scene.opening_until[last]:
            push(state, day_reaching(scene.opening_until, start), REPORT, apiary, 0, 0.0)


@njit(cache=True)
def confirm(
    scene: Scene, plan: Plan, state: State, seed: int, future: int, apiary: int, day: int, clears: bool
) -> None:
    """Note a case: it is cleared some days on, and everyone round it joins the sweep."""
    epoch = state.counts[-1]
    state.found[apiary] = day
    state.standing[apiary] = epoch
    state.counts[CONFIRMED] += 1
    if clears:
        state.counts[OPEN] += 1
        push(state, max(day, 0) + plan.clear_after, CLEAR, apiary, 0, 0.0)
    for entry in range(scene.pointers[apiary], scene.pointers[apiary + 1]):
        near = scene.target[entry]
        if not scene.is_registered[near]:
            continue
        if scene.distance_m[entry] > plan.radius_m and not scene.same_keeper[entry]:
            continue
        if plan.stops_moves:
            state.standing[near] = epoch
        if state.seen[near] == epoch or (state.ill[near] == epoch and state.found[near] != NEVER):
            continue
        if plan.order == BY_DISTANCE:
            rank = float(scene.distance_m[entry])
        elif plan.order == BY_RULE:
            size = min(2.0, max(0.5, math.sqrt(scene.colonies[near] / 5.0)))
            rank = -size * (math.exp(-scene.distance_m[entry] / 1200.0) + 0.4 * scene.same_keeper[entry])
        else:
            state.slots[P_ORDER] = name_stream(seed, future, near, P_ORDER)
            rank = draw_unit(state.slots, P_ORDER)
        enqueue(state, epoch, near, rank, ROUTINE)


@njit(cache=True)
def visit(
    scene: Scene,
    draws: Draws,
    plan: Plan,
    state: State,
    draw: int,
    seed: int,
    future: int,
    apiary: int,
    day: int,
) -> None:
    """Inspect an apiary: what shows signs may be found, what does not is not."""
    epoch = state.counts[-1]
    opened = math.ceil(plan.share_opened * scene.colonies[apiary])
    state.sums[MINUTES] += plan.minutes_a_visit + plan.minutes_a_colony * opened
    number = state.visits[apiary] if state.seen[apiary] == epoch else 0
    state.visits[apiary] = number + 1
    first = state.seen[apiary] != epoch
    state.seen[apiary] = epoch
    is_sick = (
        state.ill[apiary] == epoch and state.removed_day[apiary] > day and state.signs_day[apiary] <= day
    )
    if is_sick and state.found[apiary] == NEVER:
        shown = day - state.signs_day[apiary]
        colonies = 1.0 + (scene.colonies[apiary] - 1) * (1.0 - math.exp(-draws.growth[draw] * shown))
        missed = (1.0 - draws.sensitivity[draw] * plan.share_opened) ** max(colonies, 1.0)
        state.slots[P_VISIT] = name_stream(seed, future, apiary, P_VISIT + SLOTS * number)
        if draw_unit(state.slots, P_VISIT) >= missed:
            if state.errand[apiary] == CHECK:
                state.counts[OPEN] -= 1
            confirm(scene, plan, state, seed, future, apiary, day, True)
            return
    if state.errand[apiary] == CHECK:
        state.counts[OPEN] -= 1
    elif first and plan.rounds > 1:
        state.counts[PENDING] += 1
        push(state, day + plan.interval - 1, RESWEEP, apiary, 0, 0.0)


@njit(cache=True)
def clear(
    scene: Scene,
    draws: Draws,
    plan: Plan,
    state: State,
    draw: int,
    seed: int,
    future: int,
    apiary: int,
    day: int,
) -> None:
    """Destroy or treat the sick colonies of a case; now and then infection stays behind."""
    shown = max(day - state.signs_day[apiary], 0)
    state.slots[P_CLEAR] = name_stream(seed, future, apiary, P_CLEAR + SLOTS * state.illnesses[apiary])
    sick = 1
    grown = 1.0 - math.exp(-draws.growth[draw] * shown)
    for _ in range(int(scene.colonies[apiary]) - 1):
        if draw_unit(state.slots, P_CLEAR) < grown:
            sick += 1
    state.counts[DESTROYED] += sick * plan.destroys
    state.sums[MINUTES] += plan.minutes_a_clearance
    state.removed_day[apiary] = day
    state.counts[ACTIVE] -= 1
    if draw_unit(state.slots, P_CLEAR) < plan.relapse:
        fall_ill(scene, draws, state, draw, seed, future, apiary, day, -NEVER)
        state.counts[INFECTED] -= 1
    push(state, day + plan.interval - 1, REINSPECT, apiary, 0, 0.0)


@njit(cache=True)
def is_healthy(state: State, apiary: int) -> bool:
    """Say whether an apiary was never infected in this future (a cleared one is not infected anew by contact)."""
    return bool(state.ill[apiary] != state.counts[-1])


@njit(cache=True)
def meet(
    scene: Scene, draws: Draws, state: State, draw: int, seed: int, future: int, number: int, day: int
) -> None:
    """Let a contact count, if its source is still there and its target still healthy."""
    source, entry = state.first[number], state.second[number]
    near = scene.target[entry]
    if not is_healthy(state, near) or state.removed_day[source] <= day:
        return
    epoch = state.counts[-1]
    keeper = draws.keeper_rate[draw] * scene.same_keeper[entry]
    if state.standing[source] == epoch or state.standing[near] == epoch:
        keeper *= BLOCKED_SHARE
    flight = 0.0
    if scene.distance_m[entry] <= scene.cut_m:
        flight = draws.distance_rate[draw] * fall(
            draws.kernel, scene.distance_m[entry], draws.reach_m[draw], draws.shape[draw], draws.second_m
        )
    if state.unit[number] * scene.reference[entry] < flight + keeper:
        fall_ill(scene, draws, state, draw, seed, future, near, day, -NEVER)


@njit(cache=True)
def carry_moves(
    scene: Scene, draws: Draws, state: State, draw: int, seed: int, future: int, day: int
) -> None:
    """Let the day's moves carry infection, except to or from an apiary at a standstill."""
    epoch = state.counts[-1]
    for move in range(scene.move_pointers[day], scene.move_pointers[day + 1]):
        source, near = scene.move_from[move], scene.move_to[move]
        if (
            state.ill[source] != epoch
            or state.removed_day[source] <= day
            or state.infected_day[source] >= day
        ):
            continue
        if not is_healthy(state, near) or state.standing[source] == epoch or state.standing[near] == epoch:
            continue
        strength = 1.0 if state.signs_day[source] <= day else draws.early_share[draw]
        rate = draws.move_rate[draw] * scene.move_weight[move] * scene.susceptibility[near] * strength
        state.slots[P_MOVE] = name_stream(seed, future, move, P_MOVE)
        if draw_unit(state.slots, P_MOVE) < -math.expm1(-rate):
            fall_ill(scene, draws, state, draw, seed, future, near, day, -NEVER)


@njit(cache=True)
def begin(
    scene: Scene, draws: Draws, plan: Plan, state: State, draw: int, seed: int, future: int, background: float
) -> None:
    """Set the stage of one future: who is infected, what was seen and found before, and the background."""
    epoch = state.counts[-1]
    state.head[:] = -1
    state.counts[:-1] = 0
    state.sums[:] = 0.0
    for number in range(draws.pointers[draw], draws.pointers[draw + 1]):
        fall_ill(
            scene,
            draws,
            state,
            draw,
            seed,
            future,
            draws.apiary[number],
            draws.infected_day[number],
            draws.signs_day[number],
        )
    for apiary in range(len(scene.seen_day)):
        if scene.seen_day[apiary] != -NEVER:
            state.seen[apiary] = epoch
            state.visits[apiary] = 0
            if plan.rounds > 1:
                state.counts[PENDING] += 1
                push(state, max(scene.seen_day[apiary] + plan.interval - 1, 0), RESWEEP, apiary, 0, 0.0)
    for apiary in range(len(scene.found_day)):
        if scene.found_day[apiary] != -NEVER:
            still = bool(state.ill[apiary] == epoch and state.removed_day[apiary] > 0)
            confirm(scene, plan, state, seed, future, apiary, scene.found_day[apiary], still)
            if not still:
                state.counts[OPEN] += 1
                cleared = scene.found_day[apiary] + plan.clear_after
                push(state, max(cleared + plan.interval - 1, 0), REINSPECT, apiary, 0, 0.0)
    last = len(scene.flight)
    state.slots[P_SPARK] = name_stream(seed, future, 0, P_SPARK)
    for _ in range(draw_poisson(state.slots, P_SPARK, background * scene.flight_until[last])):
        start = draw_unit(state.slots, P_SPARK) * scene.flight_until[last]
        apiary = pick(
            0, len(scene.spark_keep), scene.spark_keep, scene.spark_other, draw_unit(state.slots, P_SPARK)
        )
        push(state, day_reaching(scene.flight_until, start), SPARK, apiary, 0, 0.0)


@njit(cache=True)
def live_day(
    scene: Scene, draws: Draws, plan: Plan, state: State, draw: int, seed: int, future: int, day: int
) -> None:
    """Live one day: visits first, then what the calendar holds, then the moves.

    What asks for a visit stands in the calendar one day ahead, so that the visit can be made on its day.
    """
    epoch = state.counts[-1]
    if scene.is_workday[day]:
        # A visit is finished when the day is over: what it took too much is taken off the next day.
        left = min(state.sums[BALANCE], 0.0) + plan.minutes_a_day
        while left > 0.0:
            apiary = take_next(state, epoch)
            if apiary < 0:
                break
            before = state.sums[MINUTES]
            visit(scene, draws, plan, state, draw, seed, future, apiary, day)
            left -= state.sums[MINUTES] - before
        state.sums[BALANCE] = left
    number = state.head[day]
    while number >= 0:
        kind, apiary = state.kind[number], state.first[number]
        if kind == CONTACT:
            meet(scene, draws, state, draw, seed, future, number, day)
        elif kind == SPARK:
            if is_healthy(state, apiary):
                fall_ill(scene, draws, state, draw, seed, future, apiary, day, -NEVER)
        elif kind == REPORT:
            if (
                state.found[apiary] == NEVER
                and state.removed_day[apiary] > day
                and state.signs_day[apiary] <= day
            ):
                confirm(scene, plan, state, seed, future, apiary, day, True)
        elif kind == CLEAR:
            clear(scene, draws, plan, state, draw, seed, future, apiary, day)
        elif kind == REINSPECT:
            enqueue(state, epoch, apiary, FIRST_PLACE + day, CHECK)
        else:
            state.counts[PENDING] -= 1
            enqueue(state, epoch, apiary, float(day), ROUTINE)
        number = state.following[number]
    carry_moves(scene, draws, state, draw, seed, future, day)


@njit(cache=True, nogil=True)
def run_futures(
    scene: Scene,
    draws: Draws,
    plan: Plan,
    state: State,
    seed: int,
    first: int,
    last: int,
    spark_total: float,
    outcomes: np.ndarray,
    active_by_day: np.ndarray,
    over_by_day: np.ndarray,
) -> int:
    """Run futures ``first`` to ``last - 1``; return how many overflowed their calendar (must be 0).

    Parameters
    ----------
    outcomes
        Filled, shape (last - first, 6): infected from the start on, confirmed, colonies destroyed, minutes worked,
        day of release (NEVER when not reached), infected apiaries at the horizon.
    active_by_day, over_by_day
        Added to, shape (days,): infected apiaries on each day; futures with none on that day.
    """
    overflow = 0
    days = len(scene.flight)
    for future in range(first, last):
        draw = future % len(draws.background)
        state.counts[-1] += 1
        begin(scene, draws, plan, state, draw, seed, future, draws.background[draw] * spark_total)
        released = NEVER
        for day in range(days):
            live_day(scene, draws, plan, state, draw, seed, future, day)
            active_by_day[day] += state.counts[ACTIVE]
            if state.counts[ACTIVE] == 0:
                over_by_day[day] += 1
            idle = state.counts[OPEN] == 0 and state.counts[PENDING] == 0 and state.counts[HEAP] == 0
            if idle and state.counts[CONFIRMED] > 0:
                if released == NEVER:
                    released = day
            else:
                released = NEVER
        row = future - first
        outcomes[row, 0] = state.counts[INFECTED]
        outcomes[row, 1] = state.counts[CONFIRMED]
        outcomes[row, 2] = state.counts[DESTROYED]
        outcomes[row, 3] = state.sums[MINUTES]
        outcomes[row, 4] = released
        outcomes[row, 5] = state.counts[ACTIVE]
        overflow += state.counts[FULL]
    return overflow
