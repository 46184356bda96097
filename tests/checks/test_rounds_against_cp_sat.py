"""Small tasks against an exact solver: OR-Tools CP-SAT, one circuit an inspector's day with optional stops.

The model below is written anew from the rules of `shared` planning (windows, hygiene, washes, deadlines, appointments,
earlier is better) and shares no code with ours but the task itself. Optimum proved by CP-SAT (status OPTIMAL);
costs are compared in its integers, 1/10000 of an infected apiary-day, each arc rounded: hence the tolerance.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from ortools.sat.python import cp_model

from broodsweep.rounds.bound import lower_bound
from broodsweep.rounds.model import Candidate, Hygiene, InspectorDay, Prices, Status, Task, Window
from broodsweep.rounds.planner import make_plan
from broodsweep.rounds.solve import Effort
from broodsweep.rounds.travel import travel_by_distance

MONDAY = date(2026, 6, 1)
SCALE = 10_000


def small_task(seed: int, *, wash: int | None = 45) -> Task:
    rng = np.random.default_rng(seed)
    names = [f"A{n}" for n in range(9)]
    points = {
        name: (float(x), float(y))
        for name, (x, y) in zip([*names, "home I1", "home I2"], rng.uniform(0, 0.3, (11, 2)), strict=True)
    }
    rows = []
    for n, name in enumerate(names):
        more: dict[str, object] = {}
        if n == 0:
            more = {"status": Status.INFECTED}
        elif n == 1:
            more = {"status": Status.SUSPECT}
        elif n == 2:
            more = {"deadline_on": MONDAY}
        elif n == 3:
            more = {"appointment_on": MONDAY + timedelta(days=1), "window": Window(720, 840)}
        elif n == 4:
            more = {"window": Window(600, 760)}
        elif n == 5:
            more = {"inspectors": frozenset({"I2"})}
        rows.append(
            Candidate(
                apiary=name,
                worth=float(rng.uniform(0.005, 0.3)),
                service_minutes=int(rng.integers(40, 110)),
                **more,
            )
        )  # type: ignore[arg-type]
    days = tuple(
        InspectorDay(
            inspector=name,
            on=MONDAY + timedelta(days=day),
            start=f"home {name}",
            end=f"home {name}",
            work=Window(540, 1000),
            opening=Window(600, 840),
            break_minutes=0,
        )
        for day in (0, 1)
        for name in ("I1", "I2")
    )
    return Task(
        first_on=MONDAY,
        candidates=tuple(rows),
        days=days,
        travel=travel_by_distance(points, extra_minutes=2.0),
        prices=Prices(unvisited_days=6.0),
        hygiene=Hygiene(decontamination_minutes=wash),
    )


def optimum(task: Task) -> float:
    """Cost of the best plan, proved."""
    model, rows = cp_model.CpModel(), task.candidates
    travel, cost = task.travel, []
    visited: list[list[cp_model.IntVar]] = [[] for _ in rows]
    for day in task.days:
        opens, closes = day.opening.start_minute, day.opening.end_minute  # type: ignore[union-attr]
        begin = [model.new_int_var(opens, closes - row.service_minutes, "") for row in rows]
        arcs = [(0, 0, model.new_bool_var(""))]
        for j, row in enumerate(rows):
            out, in_ = model.new_bool_var(""), model.new_bool_var("")
            skip = model.new_bool_var("")
            arcs += [(0, j + 1, out), (j + 1, 0, in_), (j + 1, j + 1, skip)]
            visited[j].append(skip.negated())
            there = travel.minutes_between(day.start, row.apiary)
            back = travel.minutes_between(row.apiary, day.end)
            model.add(begin[j] >= day.work.start_minute + there).only_enforce_if(out)
            model.add(begin[j] + row.service_minutes + back <= day.work.end_minute).only_enforce_if(in_)
            km = travel.km_between(day.start, row.apiary) or 0.0
            cost += [
                out * _price(task, km),
                in_ * _price(task, travel.km_between(row.apiary, day.end) or 0.0),
            ]
            if row.window:
                model.add(begin[j] >= row.window.start_minute).only_enforce_if(skip.negated())
                model.add(begin[j] + row.service_minutes <= row.window.end_minute).only_enforce_if(
                    skip.negated()
                )
            shut_out = (row.appointment_on not in (None, day.on)) or (
                row.inspectors and day.inspector not in row.inspectors
            )
            if shut_out:
                model.add(skip == 1)
            late = task.prices.missed_deadline * (row.deadline_on is not None and day.on > row.deadline_on)
            cost.append(skip.negated() * round(SCALE * (row.worth * (day.on - MONDAY).days + late)))
            for i, before in enumerate(rows):
                if i == j:
                    continue
                dirty = before.status > row.status
                if dirty and task.hygiene.decontamination_minutes is None:
                    continue
                arc = model.new_bool_var("")
                arcs.append((i + 1, j + 1, arc))
                gap = (travel.minutes_between(before.apiary, row.apiary) or 0) + (
                    task.hygiene.decontamination_minutes or 0
                ) * dirty
                model.add(begin[j] >= begin[i] + before.service_minutes + gap).only_enforce_if(arc)
                cost.append(arc * _price(task, travel.km_between(before.apiary, row.apiary) or 0.0))
        model.add_circuit(arcs)
    for row, made in zip(rows, visited, strict=True):
        out = model.new_bool_var("")
        model.add(sum(made) + out == 1)
        left = row.worth * task.prices.unvisited_days
        left += task.prices.missed_deadline * (row.deadline_on is not None)
        left += task.prices.broken_appointment * (row.appointment_on is not None)
        cost.append(out * round(SCALE * left))
    model.minimize(sum(cost))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = 120
    assert solver.solve(model) == cp_model.OPTIMAL
    return solver.objective_value / SCALE


def _price(task: Task, km: float) -> int:
    return round(SCALE * task.prices.kilometre * km)


@pytest.mark.parametrize(("seed", "wash"), [(1, 45), (2, None), (3, 45)])
def test_the_plan_is_the_optimum_and_the_bound_lies_below(seed: int, wash: int | None) -> None:
    task = small_task(seed, wash=wash)
    best = optimum(task)
    plan = make_plan(task, Effort(iterations=1500, seeds=(1,)))
    assert plan.cost.total == pytest.approx(best, abs=30 / SCALE)  # 0.5 a rounded arc, some 60 of them
    bound = lower_bound(task, start=plan.rounds, threads=1)
    assert bound.cost <= best + 30 / SCALE
    assert bound.cost >= 0.97 * best  # the bound is a relaxation; here it proves the plan within 3 %
