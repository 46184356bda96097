"""A phone's pen for the tests: writes lines of every kind, with names and choices out of one seed."""

from __future__ import annotations

import json
import random
from hashlib import sha256
from pathlib import Path
from typing import Any
from uuid import UUID

from broodsweep.fieldbook import as_json, digest_of, fold, fold_found, read_line

VECTORS = Path(__file__).with_name("vectors.json")
SIGNS = ("sunken_cappings", "perforated_cappings", "brown_thread", "black_scale", "twisted_larvae")
KINDS = (
    *("place_confirmed", "weather_seen", "colonies_counted", "colony_looked", "colony_looked", "sign_seen"),
    *("sign_seen", "test_done", "sample_taken", "sample_handed", "photo_taken", "kit_cleaned", "keeper_said"),
    *("evidence_weighed", "note_written"),
)


class Pen:
    """Writes the lines of one phone; every line has the next number."""

    def __init__(self, device: str, rng: random.Random, *, day: str = "2026-07-08") -> None:
        self.device, self.rng, self.day = device, rng, day
        self.number = 0
        self.lines: list[dict[str, Any]] = []

    def name(self) -> str:
        """Return a UUIDv7 out of the seed."""
        bits = self.rng.getrandbits(128)
        bits = bits & ~(0xF << 76) | 0x7 << 76
        return str(UUID(int=bits & ~(0x3 << 62) | 0x2 << 62))

    def write(
        self, kind: str, body: dict[str, Any], *, visit: str | None, apiary: str | None
    ) -> dict[str, Any]:
        """Write one line."""
        self.number += 1
        minute, second = divmod(self.number, 60)
        line = {
            "line": self.name(),
            "device": self.device,
            "number": self.number,
            "visit": visit,
            "apiary": apiary,
            "kind": kind,
            "written_at": f"{self.day}T10:{minute % 60:02d}:{second:02d}Z",
            "body": body,
        }
        self.lines.append(line)
        return line

    def begin(self, visit: str, apiary: str, purpose: str = "sweep") -> dict[str, Any]:
        """Begin a visit."""
        return self.write(
            "visit_begun", {"purpose": purpose, "visited_on": self.day}, visit=visit, apiary=apiary
        )

    def sign(self, visit: str, apiary: str) -> dict[str, Any]:
        """Sign a visit over the lines that this phone wrote in it."""
        before = [row["line"] for row in self.lines if row["visit"] == visit]
        body = {
            "by": "Ottar Brask",
            "role": "inspector",
            "keeper_was_there": True,
            "keeper_name": "Una Selvik",
            "strokes": [[[0, 0], [500, 1000]], [[10.5, 20]]],
            "keeper_strokes": [],
            "lines": len(before),
            "digest": digest_of(before),
        }
        return self.write("visit_signed", body, visit=visit, apiary=apiary)

    def amend(self, visit: str, apiary: str, kind: str) -> dict[str, Any]:
        """Amend a visit by another line of a kind."""
        body = {"reason": "Written down wrongly", "kind": kind, "body": self.body(kind)}
        return self.write("visit_amended", body, visit=visit, apiary=apiary)

    def some(self, visit: str, apiary: str, kind: str) -> dict[str, Any]:
        """Write a line of a kind with whatever the seed gives."""
        return self.write(kind, self.body(kind), visit=visit, apiary=apiary)

    def body(self, kind: str) -> dict[str, Any]:
        """Return a body of a kind; names repeat often, so that later lines meet earlier ones."""
        pick, number = self.rng.choice, self.rng.randint
        again = str(UUID(int=(0x7 << 76) | (0x2 << 62) | number(1, 3)))
        bodies: dict[str, dict[str, Any]] = {
            "visit_begun": {"purpose": pick(("sweep", "reinspection", "call")), "visited_on": self.day},
            "place_confirmed": {
                "longitude": number(-900, 900) / 1000,
                "latitude": 60 + number(0, 1000) / 1000,
                "accuracy_m": number(3, 40),
                "by": pick(("gps", "hand")),
                "is_here": pick((True, False)),
            },
            "weather_seen": {
                "temperature_c": pick((None, 14, 17.5)),
                "wind": pick((None, "calm", "light")),
                "rain": pick((None, "none", "drizzle")),
                "are_flying": pick((None, True, False)),
            },
            "colonies_counted": {"present": number(0, 12)},
            "colony_looked": {
                "colony": number(1, 5),
                "state": pick(("clean", "clean", "not_opened", "suspect")),
                "disease": pick((None, "AFB", "EFB")),
            },
            "sign_seen": {
                "colony": number(1, 5),
                "sign": pick(SIGNS),
                "is_present": pick((True, False, None)),
            },
            "test_done": {
                "test": again,
                "colony": number(1, 5),
                "reading": {"test": "ropiness", "length_mm": number(0, 40)},
                "is_void": pick((False, False, True)),
            },
            "sample_taken": {
                "sample": f"S-{number(1, 4)}",
                "colony": number(1, 5),
                "of": pick(("brood_comb", "larva", "bees")),
                "note": pick(("", "from the third frame")),
            },
            "sample_handed": {
                "sample": f"S-{number(1, 4)}",
                "to": pick(("Laboratory", "Courier")),
                "handed_at": f"{self.day}T16:{number(0, 59):02d}:00Z",
                "note": "",
            },
            "photo_taken": {
                "photo": sha256(bytes([number(1, 3)])).hexdigest(),
                "bytes": 1000,
                "media_type": "image/jpeg",
                "width": 1600,
                "height": 1200,
                "colony": pick((None, 1, 2)),
                "note": pick(("", "scale in the cell")),
            },
            "kit_cleaned": {"what": [pick(("tools", "smoker")), "hands"], "how": "washing soda"},
            "keeper_said": {
                "report": again,
                "direction": pick(("in", "out")),
                "goods": pick(("colonies", "nuclei", "queens")),
                "quantity": pick((None, 1, 2.5)),
                "moved_on": pick((None, "2026-05-03")),
                "other": pick((None, "A1")),
                "other_said": pick(("", "a man at the market")),
                "is_void": pick((False, False, True)),
            },
            "evidence_weighed": {
                "colony": number(1, 5),
                "conditions": {"afb": 0.75, "healthy": 0.25},
                "verdict": pick(("suspect", "watch")),
                "model": "1",
            },
            "note_written": {"text": pick(("The gate sticks.", "Dog.", "Æsa’s hives — røde"))},
            "visit_dropped": {"reason": "begun by mistake"},
        }
        return bodies[kind]


def random_script(seed: int) -> list[dict[str, Any]]:
    """Return what arrives of two visits: amended, dropped, late, foreign, missing, twice, in any order."""
    rng = random.Random(seed)
    pen, other = Pen("phone-1", rng), Pen("phone-2", rng)
    for apiary in ("A7", "F1234abcd"):
        visit = pen.name()
        pen.begin(visit, apiary)
        for _ in range(rng.randint(2, 25)):
            pen.some(visit, apiary, rng.choice(KINDS))
            if rng.random() < 0.06:
                other.some(visit, apiary, rng.choice(KINDS))
            if rng.random() < 0.05:
                pen.amend(visit, apiary, rng.choice(KINDS))
        if rng.random() < 0.1:
            pen.some(visit, apiary, "visit_dropped")
        if rng.random() < 0.8:
            pen.sign(visit, apiary)
            for _ in range(rng.randint(0, 5)):
                if rng.random() < 0.5:
                    pen.amend(visit, apiary, rng.choice((*KINDS, "visit_begun", "visit_dropped")))
                else:
                    pen.some(visit, apiary, rng.choice((*KINDS, "sample_handed")))
            if rng.random() < 0.1:
                pen.sign(visit, apiary)
    if rng.random() < 0.5:
        found = {"longitude": 0.5, "latitude": 60.5, "accuracy_m": 8, "colonies": 3}
        said = {"keeper_name": "Ragna Holm", "keeper_phone": "", "note": ""}
        pen.write("apiary_found", found | said, visit=None, apiary="F1234abcd")
    lines = pen.lines + other.lines
    if rng.random() < 0.4:
        lines = [line for line in lines if rng.random() < 0.9] or lines
    lines += rng.sample(lines, min(3, len(lines)))
    rng.shuffle(lines)
    return lines


def make_vectors(count: int = 25) -> list[dict[str, Any]]:
    """Return what lines add up to, for whoever else folds them."""
    vectors = []
    for seed in range(count):
        script = random_script(seed)
        lines = [read_line(row) for row in script]
        found = [
            {"apiary": row.apiary, "device": row.device, "found_at": row.found_at, "body": dict(row.body)}
            for row in fold_found(lines)
        ]
        vectors.append(
            {"seed": seed, "lines": script, "visits": [as_json(v) for v in fold(lines)], "found": found}
        )
    return vectors


def written_vectors() -> str:
    """Return the vectors as the file holds them: one line each."""
    rows = ",\n".join(json.dumps(row, ensure_ascii=False, sort_keys=True) for row in make_vectors())
    return f"[\n{rows}\n]\n"


if __name__ == "__main__":
    VECTORS.write_text(written_vectors(), encoding="utf-8")
