"""Speed and score of the diagnosis room: time to a posterior with its interval, log scores, sensitivity.

Run alone (`python bench/weigh.py`) it also prints every unsourced number whose ±50 % puts another
condition first in one of the written cases.
"""

from __future__ import annotations

import importlib.util
import sys
import time
from pathlib import Path
from statistics import median
from types import ModuleType
from typing import Any

from broodsweep.diagnosis import interpret, posterior, weigh

ROOT = Path(__file__).parents[1]


def _module(name: str) -> ModuleType:
    path = ROOT / name
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _milliseconds(function: Any, inputs: list[Any], repeats: int) -> list[float]:
    """Return the processor time of each call: what else the machine does is not in it. [ms]"""
    function(inputs[0])
    taken = []
    for _ in range(repeats):
        for given in inputs:
            begun = time.process_time()
            function(given)
            taken.append(1000 * (time.process_time() - begun))
    return taken


def _junction_tree_ms() -> float:
    """Time pyAgrum takes for one query of the same network, point only, its tree built anew as evidence changes."""
    import pyagrum as gum

    oracle = _module("tests/checks/test_diagnosis_against_pyagrum.py")
    signs, _, season = oracle.CASES[0]
    net = gum.BayesNet()
    oracle.add_conditions(net, season)
    evidence = {"few": 1} | {oracle.add_sign(net, sign): int(seen) for sign, seen in signs.items()}

    def query(_: object) -> None:
        engine = gum.LazyPropagation(net)
        engine.setEvidence(evidence)
        engine.makeInference()
        engine.posterior("AFB")

    return median(_milliseconds(query, [None], repeats=3))


def _row(what: str, ours: str, other: str = "", ratio: str = "", goal: str = "") -> dict[str, str]:
    return {"what": f"weigh: {what}", "ours": ours, "other": other, "ratio": ratio, "goal": goal}


def rows() -> list[dict[str, str]]:
    """Return what was measured: times, log scores against two plain rules, sensitivity to unsourced numbers."""
    written = _module("tests/checks/test_diagnosis_against_written_cases.py")
    observed = [written.observed_in(case) for case in written.cases()]
    plain = _milliseconds(
        lambda given: posterior(given, tuple(interpret(r) for r in given.tests)), observed, repeats=3
    )
    whole = _milliseconds(weigh, observed, repeats=1)
    tree_ms = _junction_tree_ms()
    moves, flips = sensitivity()
    ours = written.log_score(written.chances)
    naive, tree = written.log_score(written.independent_signs), written.log_score(written.decision_tree)
    return [
        _row(
            f"posterior with interval, processor time, median of {len(observed)} cases; other: pyAgrum, no interval",
            f"{median(plain):.1f} ms",
            f"{tree_ms:.0f} ms",
            f"{tree_ms / median(plain):.0f}",
            "< 50 ms",
        ),
        _row("posterior with interval, processor time, slowest", f"{max(plain):.1f} ms", goal="< 50 ms"),
        _row(
            "whole answer with reasons, next tests, assumptions, processor time, median",
            f"{median(whole):.0f} ms",
        ),
        _row(
            "log score, written cases; other: independent signs",
            f"{ours:.3f} bit",
            f"{naive:.3f} bit",
            f"{naive / ours:.2f}",
            "> 1",
        ),
        _row(
            "log score, written cases; other: a handbook's tree",
            f"{ours:.3f} bit",
            f"{tree:.3f} bit",
            f"{tree / ours:.2f}",
            "> 1",
        ),
        _row("unsourced numbers moved by half that change a first rank", f"{len(flips)} of {moves}"),
    ]


def sensitivity() -> tuple[int, list[tuple[str, str]]]:
    """Return how many numbers were moved by half, and which moves changed the first rank of a case."""
    written = _module("tests/checks/test_diagnosis_against_written_cases.py")
    moves, flips = 0, []
    for case in written.cases():
        count, changed = written.ranked_first_when_moved(case, 0.5)
        moves += count
        flips += [(f"{case['right']}: {case['title']}", where) for where in changed]
    return moves, flips


if __name__ == "__main__":
    for row in rows():
        sys.stdout.write("  ".join(f"{value}" for value in row.values()) + "\n")
    for title, where in sensitivity()[1]:
        sys.stdout.write(f"  {title}: {where}\n")
