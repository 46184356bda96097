"""What is this, how sure, what to test next? Knows no maps."""

from __future__ import annotations

from broodsweep.diagnosis.answer_data import as_dict
from broodsweep.diagnosis.catalogue import METHODS
from broodsweep.diagnosis.conditions import NOTHING_WRONG, Condition, Season, Stage, name_of
from broodsweep.diagnosis.context import Context
from broodsweep.diagnosis.decide import Decision, State, Thresholds, thresholds_from
from broodsweep.diagnosis.errors import ObservationError
from broodsweep.diagnosis.guides import Guide, Step, guide_to, guides
from broodsweep.diagnosis.infer import Belief
from broodsweep.diagnosis.kits import LotState, LotWarning, lot_warnings, state_of_lot
from broodsweep.diagnosis.looking import LOOKING, Entry, entry_of
from broodsweep.diagnosis.matrix import signs
from broodsweep.diagnosis.methods import Evidence, Method, Sample
from broodsweep.diagnosis.next_test import NextTest
from broodsweep.diagnosis.observations import Observations, Prior, from_mapping
from broodsweep.diagnosis.reading import Reading, Result, interpret
from broodsweep.diagnosis.reasons import Assumption, Reason
from broodsweep.diagnosis.weigh import Answer, posterior, weigh

__all__ = [
    "LOOKING",
    "METHODS",
    "NOTHING_WRONG",
    "Answer",
    "Assumption",
    "Belief",
    "Condition",
    "Context",
    "Decision",
    "Entry",
    "Evidence",
    "Guide",
    "LotState",
    "LotWarning",
    "Method",
    "NextTest",
    "ObservationError",
    "Observations",
    "Prior",
    "Reading",
    "Reason",
    "Result",
    "Sample",
    "Season",
    "Stage",
    "State",
    "Step",
    "Thresholds",
    "as_dict",
    "entry_of",
    "from_mapping",
    "guide_to",
    "guides",
    "interpret",
    "lot_warnings",
    "name_of",
    "posterior",
    "signs",
    "state_of_lot",
    "thresholds_from",
    "weigh",
]
