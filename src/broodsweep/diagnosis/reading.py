"""A test as a physical thing: what was measured or seen on it becomes an outcome, or no result at all."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from broodsweep.diagnosis import constants as c
from broodsweep.diagnosis.catalogue import METHODS
from broodsweep.diagnosis.errors import ObservationError
from broodsweep.diagnosis.kits import LotState, state_of_lot
from broodsweep.diagnosis.methods import Method
from broodsweep.register import Lot
from broodsweep.words import Message, say

LATERAL_FLOW = ("lateral_flow_afb", "lateral_flow_efb")
LOADS = {
    "pcr_bees_afb": c.AFB_BEES_HALF_CLINICAL_LOG10,
    "pcr_debris_afb": c.AFB_DEBRIS_HALF_CLINICAL_LOG10,
}


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What was measured or seen on one test; only what applies to the test is given.

    ``sample`` names the larva (or the jar, the bag): results on the same one share it. None is a sample
    of its own. ``lines`` are the lines seen on a lateral-flow device, of ``C`` and ``T``.
    """

    test: str
    sample: str | None = None
    outcome: str | None = None
    length_mm: float | None = None
    lines: frozenset[str] | None = None
    read_after_min: float | None = None
    lot: str | None = None
    done_on: date | None = None
    log10_cells: float | None = None
    mites: int | None = None
    bees: int | None = None


@dataclass(frozen=True, kw_only=True)
class Result:
    """What a reading says: an outcome (None when invalid), how far it is trusted, and what must be said.

    ``trust`` 1 is a test done as it should be; at 0 it would say nothing. ``is_evidential`` is False for a
    result that is kept but must not confirm a case.
    """

    reading: Reading
    method: Method
    outcome: str | None
    trust: float = 1.0
    is_evidential: bool = True
    notes: tuple[Message, ...] = field(default=())

    @property
    def is_positive(self) -> bool:
        """Say whether the outcome points to the target of the test."""
        return self.outcome in self.method.positives


def interpret(reading: Reading, lots: tuple[Lot, ...] | None = None) -> Result:
    """Return what a reading says, with the lot checked against the register of lots where there is one.

    Raises
    ------
    ObservationError
        If the test is unknown, or what was measured does not belong to it or cannot be.
    """
    method = METHODS.get(reading.test)
    if method is None:
        raise ObservationError("diagnosis.error_unknown_test", test=reading.test, known=sorted(METHODS))
    if reading.test in LATERAL_FLOW and reading.lines is not None:
        return _lateral_flow(reading, method, lots)
    if reading.outcome == "invalid":
        return Result(reading=reading, method=method, outcome=None, notes=(_invalid(reading.test),))
    outcome = _outcome(reading, method)
    if outcome not in method.outcomes:
        raise ObservationError(
            "diagnosis.error_outcome", test=reading.test, outcome=outcome or "–", known=list(method.outcomes)
        )
    if reading.test in LATERAL_FLOW:
        return _with_lot(Result(reading=reading, method=method, outcome=outcome), lots)
    return Result(reading=reading, method=method, outcome=outcome)


def rope_outcome(length_mm: float) -> str:
    """Return what a rope of that length says; 0 is no rope, or one that broke clean. [mm]

    Raises
    ------
    ObservationError
        If no rope can be that long.
    """
    if not 0.0 <= length_mm <= c.ROPE_LONGEST_MM.value:
        raise ObservationError("diagnosis.error_rope", length=length_mm, most=c.ROPE_LONGEST_MM.value)
    if length_mm >= c.ROPE_LONG_MM.value:
        return "long"
    if length_mm >= c.ROPE_POSITIVE_MM.value:
        return "positive"
    return "doubtful" if length_mm >= c.ROPE_DOUBTFUL_MM.value else "negative"


def lines_outcome(lines: frozenset[str]) -> str | None:
    """Return what the lines on a lateral-flow device say; None without the control line: invalid."""
    if "C" not in lines:
        return None
    return "positive" if "T" in lines else "negative"


def _outcome(reading: Reading, method: Method) -> str | None:
    if reading.test == "ropiness" and reading.length_mm is not None:
        return rope_outcome(reading.length_mm)
    if reading.test in LOADS and reading.log10_cells is not None:
        return "high" if reading.log10_cells >= LOADS[reading.test].value else "low"
    if reading.test == "sugar_roll" and reading.mites is not None:
        return _mite_outcome(reading.mites, reading.bees)
    if reading.outcome == "positive" and "positive" not in method.outcomes:
        return "low"  # "found", without a count
    return reading.outcome


def mites_per_100(mites: int, bees: int) -> float:
    """Return the mites for every hundred bees of a sugar roll."""
    if mites < 0 or bees <= 0:
        raise ObservationError("diagnosis.error_mites", mites=mites, bees=bees)
    return 100.0 * mites / bees


def _mite_outcome(mites: int, bees: int | None) -> str:
    if bees is None:
        raise ObservationError("diagnosis.error_mites", mites=mites, bees="–")
    return "positive" if mites_per_100(mites, bees) >= c.MITES_TREAT_PER_100.value else "negative"


def _invalid(test: str) -> Message:
    return say("diagnosis.note_invalid", test=say(f"diagnosis.test.{test}"))


def _lateral_flow(reading: Reading, method: Method, lots: tuple[Lot, ...] | None) -> Result:
    lines = reading.lines or frozenset()
    if lines - {"C", "T"}:
        raise ObservationError("diagnosis.error_lines", lines=sorted(lines))
    outcome = lines_outcome(lines)
    if outcome is None:
        return Result(
            reading=reading, method=method, outcome=None, is_evidential=False, notes=(_invalid(reading.test),)
        )
    result = Result(reading=reading, method=method, outcome=outcome)
    minutes = reading.read_after_min
    if minutes is None:
        return _with_lot(_less(result, c.TRUST_TIME_UNKNOWN.value, "diagnosis.note_time_unknown"), lots)
    if minutes < c.READ_NOT_BEFORE_MIN.value:
        result = _less(result, c.TRUST_READ_EARLY.value, "diagnosis.note_read_early", is_evidential=False)
    elif minutes > c.READ_NOT_AFTER_MIN.value:
        result = _less(result, c.TRUST_READ_LATE.value, "diagnosis.note_read_late", is_evidential=False)
    return _with_lot(result, lots)


def _less(result: Result, trust: float, key: str, *, is_evidential: bool = True, **params: object) -> Result:
    test = say(f"diagnosis.test.{result.reading.test}")
    return Result(
        reading=result.reading,
        method=result.method,
        outcome=result.outcome,
        trust=result.trust * trust,
        is_evidential=result.is_evidential and is_evidential,
        notes=(*result.notes, say(key, test=test, **params)),
    )


def _with_lot(result: Result, lots: tuple[Lot, ...] | None) -> Result:
    lot = result.reading.lot
    state = state_of_lot(lot, lots, kit=result.method.name, on=result.reading.done_on)
    if state is LotState.EXPIRED:
        return _less(result, c.TRUST_EXPIRED.value, "diagnosis.note_expired", is_evidential=False, lot=lot)
    if state is LotState.WRONG_KIT:
        return _less(
            result, c.TRUST_UNKNOWN_LOT.value, "diagnosis.note_wrong_kit", is_evidential=False, lot=lot
        )
    if state is LotState.NOT_RECORDED:
        return _less(result, c.TRUST_UNKNOWN_LOT.value, "diagnosis.note_no_lot", is_evidential=False)
    if state is LotState.UNKNOWN:
        return _less(
            result, c.TRUST_UNKNOWN_LOT.value, "diagnosis.note_unknown_lot", is_evidential=False, lot=lot
        )
    if state is LotState.NOT_CHECKED:
        return _less(result, 1.0, "diagnosis.note_lot_not_checked", lot=lot)
    return result
