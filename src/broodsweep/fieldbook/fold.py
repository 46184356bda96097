"""What the lines of a visit add up to; the phone does the same (``field/src/fieldbook/core/fold.ts``)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from broodsweep.fieldbook.lines import Line, digest_of

Body = Mapping[str, Any]
AFTER_SIGNATURE = frozenset({"visit_amended", "sample_handed"})


@dataclass(frozen=True, kw_only=True)
class ColonyNow:
    """One colony as the lines tell it; ``signs`` holds those seen or looked for and absent."""

    colony: int
    state: str | None = None
    disease: str | None = None
    signs: Mapping[str, bool] = field(default_factory=dict)
    tests: tuple[Body, ...] = ()
    weighed: Body | None = None


@dataclass(frozen=True, kw_only=True)
class SampleNow:
    """A sample and through whose hands it went."""

    taken: Body
    handed: tuple[Body, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Amended:
    """An amendment: which line, why, what it stands for."""

    number: int
    reason: str
    kind: str


@dataclass(frozen=True, kw_only=True)
class VisitNow:
    """A visit as its lines add up to it.

    ``late`` and ``foreign`` name lines that are kept and shown and do not count. ``purpose`` and
    ``visited_on`` are None while the line that began the visit is not there.
    """

    visit: str
    device: str
    apiary: str
    purpose: str | None
    visited_on: str | None
    place: Body | None = None
    weather: Body | None = None
    present: int | None = None
    colonies: tuple[ColonyNow, ...] = ()
    samples: tuple[SampleNow, ...] = ()
    photos: tuple[Body, ...] = ()
    cleaned: Body | None = None
    reports: tuple[Body, ...] = ()
    notes: tuple[str, ...] = ()
    signed: Body | None = None
    amended: tuple[Amended, ...] = ()
    is_dropped: bool = False
    is_whole: bool = False
    late: tuple[str, ...] = ()
    foreign: tuple[str, ...] = ()


class _Draft:
    """A visit in the making: a later line about the same subject takes the place of an earlier one."""

    def __init__(self) -> None:
        self.begun: Line | None = None
        self.whole: dict[str, Body] = {}
        self.colonies: dict[int, ColonyNow] = {}
        self.tests: dict[str, Body] = {}
        self.samples: dict[str, Body] = {}
        self.handed: dict[str, list[Body]] = {}
        self.photos: dict[str, Body] = {}
        self.reports: dict[str, Body] = {}
        self.notes: list[str] = []
        self.amended: list[Amended] = []
        self.signed: Line | None = None
        self.is_dropped = False

    def take(self, line: Line) -> None:
        """Add what one line says."""
        if line.kind == "visit_amended":
            body = line.body
            self.amended.append(Amended(number=line.number, reason=body["reason"], kind=body["kind"]))
            line = replace(line, kind=body["kind"], body=body["body"])
        _TAKERS.get(line.kind, _nothing)(self, line)

    def colony(self, number: int) -> ColonyNow:
        """Return the colony as it stands, new when no line named it."""
        return self.colonies.setdefault(int(number), ColonyNow(colony=int(number)))

    def change(self, number: int, **fields: Any) -> None:
        """Change what stands of a colony."""
        self.colonies[int(number)] = replace(self.colony(number), **fields)


def _nothing(draft: _Draft, line: Line) -> None:
    """Let a line of an unknown kind stand without meaning."""


def _begun(draft: _Draft, line: Line) -> None:
    draft.begun = line


def _of_the_visit(draft: _Draft, line: Line) -> None:
    draft.whole[line.kind] = line.body


def _looked(draft: _Draft, line: Line) -> None:
    draft.change(line.body["colony"], state=line.body["state"], disease=line.body["disease"])


def _sign(draft: _Draft, line: Line) -> None:
    sign, seen = line.body["sign"], line.body["is_present"]
    signs = {name: value for name, value in draft.colony(line.body["colony"]).signs.items() if name != sign}
    draft.change(line.body["colony"], signs=signs if seen is None else {**signs, sign: seen})


def _test(draft: _Draft, line: Line) -> None:
    draft.colony(line.body["colony"])
    draft.tests[line.body["test"]] = line.body


def _weighed(draft: _Draft, line: Line) -> None:
    draft.change(line.body["colony"], weighed=line.body)


def _sample(draft: _Draft, line: Line) -> None:
    draft.samples[line.body["sample"]] = line.body


def _handed(draft: _Draft, line: Line) -> None:
    draft.handed.setdefault(line.body["sample"], []).append(line.body)


def _photo(draft: _Draft, line: Line) -> None:
    draft.photos[line.body["photo"]] = line.body


def _report(draft: _Draft, line: Line) -> None:
    draft.reports[line.body["report"]] = line.body


def _note(draft: _Draft, line: Line) -> None:
    draft.notes.append(line.body["text"])


def _signed(draft: _Draft, line: Line) -> None:
    draft.signed = line


def _dropped(draft: _Draft, line: Line) -> None:
    draft.is_dropped = True


_TAKERS: Mapping[str, Callable[[_Draft, Line], None]] = {
    "visit_begun": _begun,
    "place_confirmed": _of_the_visit,
    "weather_seen": _of_the_visit,
    "colonies_counted": _of_the_visit,
    "kit_cleaned": _of_the_visit,
    "colony_looked": _looked,
    "sign_seen": _sign,
    "test_done": _test,
    "evidence_weighed": _weighed,
    "sample_taken": _sample,
    "sample_handed": _handed,
    "photo_taken": _photo,
    "keeper_said": _report,
    "note_written": _note,
    "visit_signed": _signed,
    "visit_dropped": _dropped,
}


def fold(lines: Iterable[Line]) -> tuple[VisitNow, ...]:
    """Return the visits that lines add up to, in order of their names; the order of the lines does not matter.

    Lines of no visit are passed over. A line handed in twice counts once.
    """
    by_visit: dict[str, dict[str, Line]] = {}
    for line in lines:
        if line.visit is not None:
            by_visit.setdefault(line.visit, {})[line.line] = line
    return tuple(fold_visit(visit, rows.values()) for visit, rows in sorted(by_visit.items()))


def fold_visit(visit: str, lines: Iterable[Line]) -> VisitNow:
    """Return one visit out of its lines, at least one."""
    ordered = sorted(lines, key=lambda line: line.order)
    device = _owner(ordered)
    own = [line for line in ordered if line.device == device]
    draft, late = _Draft(), list[str]()
    for line in own:
        if draft.signed is not None and line.kind not in AFTER_SIGNATURE:
            late.append(line.line)
        else:
            draft.take(line)
    begun = draft.begun
    named = [line.apiary for line in own if line.apiary is not None]
    return VisitNow(
        visit=visit,
        device=device,
        apiary=(begun.apiary if begun and begun.apiary else next(iter(named), "")),
        purpose=begun.body["purpose"] if begun else None,
        visited_on=begun.body["visited_on"] if begun else None,
        place=draft.whole.get("place_confirmed"),
        weather=draft.whole.get("weather_seen"),
        present=draft.whole["colonies_counted"]["present"] if "colonies_counted" in draft.whole else None,
        colonies=_colonies(draft),
        samples=tuple(
            SampleNow(taken=body, handed=tuple(draft.handed.get(name, ())))
            for name, body in draft.samples.items()
        ),
        photos=tuple(draft.photos.values()),
        cleaned=draft.whole.get("kit_cleaned"),
        reports=tuple(body for body in draft.reports.values() if not body["is_void"]),
        notes=tuple(draft.notes),
        signed=draft.signed.body if draft.signed else None,
        amended=tuple(draft.amended),
        is_dropped=draft.is_dropped,
        is_whole=draft.signed is not None and _agrees(draft.signed, own),
        late=tuple(late),
        foreign=tuple(line.line for line in ordered if line.device != device),
    )


def _owner(ordered: list[Line]) -> str:
    """Return the phone that began the visit; while that line is not there, the phone of the first line."""
    return next((line.device for line in ordered if line.kind == "visit_begun"), ordered[0].device)


def _colonies(draft: _Draft) -> tuple[ColonyNow, ...]:
    tests: dict[int, list[Body]] = {}
    for body in draft.tests.values():
        if not body["is_void"]:
            tests.setdefault(int(body["colony"]), []).append(body)
    return tuple(
        replace(colony, tests=tuple(tests.get(number, ())))
        for number, colony in sorted(draft.colonies.items())
    )


def _agrees(signed: Line, own: list[Line]) -> bool:
    """Say whether the lines before the signature are those that it was put under."""
    before = [line.line for line in own if line.order < signed.order]
    told = (signed.body["lines"], signed.body["digest"])
    return (len(before), digest_of(before)) == told


def as_json(visit: VisitNow) -> dict[str, Any]:
    """Return the visit as the phone's contract writes it."""
    flat: dict[str, Any] = {**visit.__dict__}
    flat["colonies"] = [
        {**colony.__dict__, "signs": dict(colony.signs), "tests": list(colony.tests)}
        for colony in visit.colonies
    ]
    flat["samples"] = [{**row.taken, "handed": list(row.handed)} for row in visit.samples]
    flat["amended"] = [dict(row.__dict__) for row in visit.amended]
    for name in ("photos", "reports", "notes", "late", "foreign"):
        flat[name] = list(flat[name])
    return flat


@dataclass(frozen=True, kw_only=True)
class FoundNow:
    """An apiary found on the way, as its lines add up to it."""

    apiary: str
    device: str
    found_at: str
    body: Body


def fold_found(lines: Iterable[Line]) -> tuple[FoundNow, ...]:
    """Return the apiaries found, in order of their keys; the newest line about each counts."""
    newest: dict[str, Line] = {}
    first: dict[str, Line] = {}
    for line in sorted(lines, key=lambda line: (line.device, line.order)):
        if line.kind == "apiary_found" and line.apiary is not None:
            newest[line.apiary] = line
            first.setdefault(line.apiary, line)
    return tuple(
        FoundNow(apiary=key, device=line.device, found_at=first[key].written_at, body=line.body)
        for key, line in sorted(newest.items())
    )
