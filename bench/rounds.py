"""Rounds: plans of seeded districts against the hand rule and the bound, published instances, roads, memory.

Seconds are of the processor, of this process, both seeds together; wall time is longer on a busy machine. A district
is `tests/rounds/district.py`: 300 apiaries, 6 inspectors, 10 days. Published instances (vehicle routing with
time windows, all visits or prizes; best known as of January 2026) go through the same search as real rounds; they are
read from ``BROODSWEEP_ROUTING`` or ``../shared/data/routing`` and skipped with a line when not there. ``BENCH_LONG=1``
adds the rows of 60 and 120 seconds; ``BENCH_ROUNDS="quick sweeps"`` measures some parts alone.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyvrp
from tests.rounds.district import district

from broodsweep.rounds.bound import Bound, lower_bound
from broodsweep.rounds.encode import encode
from broodsweep.rounds.model import Task
from broodsweep.rounds.plan import Plan
from broodsweep.rounds.planner import hand_plan, make_plan
from broodsweep.rounds.roads import RoadNet, travel_by_roads
from broodsweep.rounds.solve import Effort, climb

LONG = bool(os.environ.get("BENCH_LONG"))
PARTS = os.environ.get("BENCH_ROUNDS", "quick published districts sweeps").split()
SEEDS = (11, 12, 13)
SWEEPS = (40, 60, 90, 130, 180, 240, 300, 400, 500, 600)
GOALS = {
    "VRPTW-R1_10_3": 4.5,
    "VRPTW-RC2_10_5": 1.4,
    "PCVRPTW-R1_10_3": 0.33,
    "PCVRPTW-RC2_10_5": 2.1,
}
"""Gap at 30 s of an earlier measurement with the solver's own settings. [%]"""


def timed(seconds: float, seeds: tuple[int, ...] = (1, 2)) -> Effort:
    """An effort of so many processor seconds, all seeds together."""
    begun = time.process_time()
    return Effort(seeds=seeds, gone=lambda: (time.process_time() - begun) / seconds)


def rows() -> Iterator[dict[str, str]]:
    """Give the rows of the table; each is also written out as soon as it is measured."""
    parts = {
        "quick": quick_rows,
        "published": published_rows,
        "districts": district_rows,
        "sweeps": sweep_rows,
    }
    for part in PARTS:
        for row in parts[part]():
            load = os.getloadavg()[0]
            print(
                " | ".join(value for value in row.values()), f"| load {load:.1f}", file=sys.stderr, flush=True
            )
            yield row


def quick_rows() -> Iterator[dict[str, str]]:
    """Give what takes seconds: first plan, plan after a change, drive times, memory."""
    yield first_plan_row()
    yield from replan_rows()
    yield from matrix_rows()
    yield memory_row()


def district_rows() -> Iterator[dict[str, str]]:
    """One search a district, looked at when its time is over and on the way there; the bound apart."""
    lengths = (20, 60, 240) if LONG else (20, 60)
    for seed in SEEDS:
        task = district(seed)
        by_hand = hand_plan(task)
        plans = _plans_at(task, lengths)
        bound = lower_bound(task, start=plans[60].rounds, gone=timed(240 if LONG else 60).gone, steps=1000)
        for seconds, plan in plans.items():
            yield {
                "what": f"district {seed}, {seconds // 2} s on two cores: cost (unseen; km; visits)",
                "ours": _said(plan),
                "other": f"hand rule {_said(by_hand)}",
                "ratio": f"{by_hand.cost.total / plan.cost.total:.2f}",
                "goal": _above(plan, bound) + "; goal 7 % at 30 s, 5 % at 120 s",
            }
        if LONG:
            yield _with_bound_row(task, seed)


def _with_bound_row(task: Task, seed: int) -> dict[str, str]:
    """Bound and plan within the same time, the rounds of the bound put together: what the page does with a bound."""
    plan = make_plan(task, timed(240), with_bound=True)
    measures = plan.measures
    assert measures is not None
    assert measures.within_share is not None
    return {
        "what": f"district {seed}, plan and bound together, 120 s on two cores",
        "ours": _said(plan),
        "goal": f"{100 * measures.within_share:.1f} % above the bound {measures.bound:.1f} of the same run",
    }


def _plans_at(task: Task, lengths: tuple[int, ...]) -> dict[int, Plan]:
    """Return the best plan after each of these processor seconds of one search."""
    begun, found = time.process_time(), {}

    def shown(plan: Plan) -> None:
        spent = time.process_time() - begun
        found.update({seconds: plan for seconds in lengths if spent <= seconds})

    plan = make_plan(task, timed(lengths[-1]), shown=shown)
    return {**dict.fromkeys(lengths, plan), **found}


def _above(plan: Plan, bound: Bound) -> str:
    state = "settled" if bound.is_tight else "still rising"
    return f"{100 * (plan.cost.total / bound.cost - 1):.1f} % above the bound {bound.cost:.1f} ({state})"


def _said(plan: Plan) -> str:
    measures = plan.measures
    assert measures is not None
    return (
        f"{plan.cost.total:.1f} ({measures.unseen_infected_days:.1f}; {measures.km:.0f}; {measures.visits})"
    )


def sweep_rows() -> Iterator[dict[str, str]]:
    """Ten sweeps: plan and bound of a few seconds each against the hand rule."""
    for count in SWEEPS:
        task = district(100 + count, apiaries=count, inspectors=6, working_days=5, breaks=True)
        by_hand, plan = hand_plan(task), make_plan(task, timed(10))
        bound = lower_bound(task, start=plan.rounds, gone=timed(10).gone, steps=1000)
        yield {
            "what": f"sweep of {count}, 5 days, breaks, 5 s on two cores",
            "ours": _said(plan),
            "other": f"hand rule {_said(by_hand)}",
            "ratio": f"{by_hand.cost.total / plan.cost.total:.2f}",
            "goal": _above(plan, bound),
        }


def first_plan_row() -> dict[str, str]:
    task = district(11)
    seconds = _spent(lambda: hand_plan(task))
    return {"what": "first legal plan, 300 apiaries", "ours": f"{seconds:.2f} s", "goal": "under 2 s"}


def replan_rows() -> Iterator[dict[str, str]]:
    """An inspector falls ill, or a day is rained off: 5 s from the announced plan."""
    task = district(11)
    told = make_plan(task, timed(20))
    third = sorted({day.on for day in task.days})[2]
    changes = {
        "an inspector falls ill": [day for day in task.days if day.key != ("I0", third)],
        "a day is rained off": [replace(day, opening=None) if day.on == third else day for day in task.days],
    }
    orders = {(row.inspector, row.on): list(row.apiaries) for row in told.rounds}
    for what, days in changes.items():
        changed = replace(task, days=tuple(days), announced=dict(told.chosen))
        begun = time.process_time()
        measures = make_plan(changed, timed(4.5), start=orders).measures
        seconds = time.process_time() - begun
        free = make_plan(
            replace(changed, prices=replace(task.prices, moved=0.0)), timed(4.5), start=orders
        ).measures
        assert measures is not None
        assert free is not None
        yield {
            "what": f"re-plan after {what}: announced visits moved",
            "ours": f"{measures.moved_visits} of {measures.announced_visits}"
            + f" ({measures.inevitable_moves} inevitable) in {seconds:.1f} s",
            "other": f"without the price on moving: {free.moved_visits}",
            "goal": "under 5 s, fewer than a third",
        }


def matrix_rows(side: int = 316, places: int = 600) -> Iterator[dict[str, str]]:
    from broodsweep.tables.travel_cache import _load, _save

    net = grid_net(side)
    rng = np.random.default_rng(3)
    points = {
        f"P{n}": (float(x), float(y))
        for n, (x, y) in enumerate(rng.uniform(0, (side - 1) * 0.002, (places, 2)))
    }
    begun = time.process_time()
    table = travel_by_roads(net, points)
    yield {
        "what": f"drive times, {places} places, {side * side:,} road points, cold",
        "ours": f"{time.process_time() - begun:.1f} s",
        "goal": "under 10 s",
    }
    with tempfile.TemporaryDirectory() as folder:
        _save(Path(folder) / "kept.npz", table)
        seconds = _spent(lambda: _load(Path(folder) / "kept.npz", points))
        yield {"what": "the same, kept", "ours": f"{seconds:.2f} s", "goal": "instant"}


def grid_net(side: int) -> RoadNet:
    """A net of crossings about 200 m apart, a tenth of the roads missing."""
    rng = np.random.default_rng(7)
    number = np.arange(side * side).reshape(side, side)
    across = np.stack([number[:, :-1].ravel(), number[:, 1:].ravel()], axis=1)
    along = np.stack([number[:-1].ravel(), number[1:].ravel()], axis=1)
    pairs = np.concatenate([across, along])
    pairs = pairs[rng.random(len(pairs)) > 0.1]
    km, speed = rng.uniform(0.2, 0.3, len(pairs)), rng.choice([30.0, 50.0, 70.0], len(pairs))
    row, column = np.divmod(np.arange(side * side), side)
    return RoadNet(
        longitude=column * 0.002,
        latitude=row * 0.002,
        start=np.concatenate([pairs[:, 0], pairs[:, 1]]),
        end=np.concatenate([pairs[:, 1], pairs[:, 0]]),
        minutes=np.tile(km / speed * 60.0, 2),
        km=np.tile(km, 2),
        is_stopping_place=np.ones(2 * len(pairs), dtype=bool),
        name="grid",
    )


MEMORY = """
import resource
from bench.rounds import big_task
from broodsweep.rounds.planner import make_plan
from broodsweep.rounds.solve import Effort
make_plan(big_task(), Effort(iterations=30))
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def big_task() -> Task:
    return district(21, apiaries=600, inspectors=12, working_days=20)


def memory_row() -> dict[str, str]:
    done = subprocess.run(
        [sys.executable, "-c", MEMORY],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parents[1],
    )
    encoded = encode(big_task())
    assert encoded is not None
    matrices = sum(array.nbytes for array in encoded.data.distance_matrices()) * 2
    return {
        "what": "memory, 12 inspectors x 20 days x 600 places",
        "ours": f"{int(done.stdout) / 1024:.0f} MB at most ({matrices / 1e6:.0f} MB matrices)",
        "goal": "under 500 MB",
    }


def published_rows() -> Iterator[dict[str, str]]:
    folder = Path(os.environ.get("BROODSWEEP_ROUTING", Path(__file__).parents[2] / "shared/data/routing"))
    if not folder.is_dir():
        yield {"what": f"published instances: skipped, no folder {folder}"}
        return
    lengths = (10, 30, 60) if LONG else (10, 30)
    for name, goal in GOALS.items():
        data = pyvrp.read(folder / f"{name}.vrp", round_func="dimacs")
        best = _best_known(folder / f"{name}.sol")
        gaps = _gaps(data, best, lengths)
        yield {
            "what": f"{name}: gap to best known at {', '.join(map(str, lengths))} s",
            "ours": ", ".join(f"{gap:.2f} %" for gap in gaps),
            "other": f"best known {best:.1f}",
            "goal": f"{goal} % at 30 s",
        }


class _Trace(pyvrp.IteratedLocalSearchCallbacks):
    """Keeps the best cost by the processor second at which it was found."""

    def __init__(self) -> None:
        self.begun, self.found = time.process_time(), [(0.0, float("inf"))]

    def on_best(self, best: pyvrp.Solution) -> None:
        if best.is_feasible():
            cost = (best.distance_cost() + best.uncollected_prizes()) / 10.0
            self.found.append((time.process_time() - self.begun, cost))


def _gaps(data: pyvrp.ProblemData, best: float, lengths: tuple[int, ...]) -> list[float]:
    """Return how far above the best known one search is after each of these processor seconds. [%]"""
    trace = _Trace()
    clients = [client.location for client in data.clients()]
    apart = data.distance_matrix(0)[np.ix_(clients, clients)]
    climb(data, apart, 1, lambda cost: time.process_time() - trace.begun > lengths[-1], watch=trace)
    reached = [min(cost for at, cost in trace.found if at <= seconds) for seconds in lengths]
    return [100.0 * (cost / best - 1.0) for cost in reached]


def _best_known(path: Path) -> float:
    line = next(row for row in path.read_text().splitlines() if row.lower().startswith("cost"))
    value = float(line.split()[-1])
    return value / 10.0 if value > 1e6 or value.is_integer() else value


def _spent(work: Callable[[], object]) -> float:
    begun = time.process_time()
    work()
    return time.process_time() - begun
