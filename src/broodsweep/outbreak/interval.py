"""When a case may be looked at again and released, by its rulebook."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from broodsweep.constants import Disease
from broodsweep.outbreak.history import Progress
from broodsweep.outbreak.model import EventKind
from broodsweep.rulebook import Rule, Rulebook, after


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What the rulebook asks of one case in its present round.

    The rules are those in force on the day of the finding that began the round: they do not change under a
    case while it is handled.
    """

    book: Rulebook
    disease: Disease
    progress: Progress

    def rule(self, name: str) -> Rule | None:
        """Return the rule that holds for the round."""
        if self.progress.found_on is None:
            return None
        return self.book.find(name, self.disease, self.progress.found_on)

    @property
    def anchor_on(self) -> date | None:
        """Day from which the re-inspection is counted; None while it has not come."""
        rule = self.rule("reinspect.counted_from")
        moment = rule.value if rule else "clearance"
        if moment == "finding":
            return self.progress.found_on
        return self.progress.confirmed_on if moment == "confirmation" else self.progress.cleared_on

    def _counted(self, name: str, anchor_on: date | None) -> date | None:
        rule = self.rule(name)
        return None if rule is None or anchor_on is None else after(anchor_on, rule.duration())

    @property
    def reinspect_from(self) -> date | None:
        """First day on which a clean look counts; None while it cannot be told."""
        return self._counted("reinspect.earliest", self.anchor_on)

    @property
    def reinspect_by(self) -> date | None:
        """Last day for the look, where the rulebook has one."""
        return self._counted("reinspect.latest", self.anchor_on)

    @property
    def release_from(self) -> date | None:
        """First day on which the standstill may be lifted; None while the colonies are not cleared."""
        if self.progress.cleared_on is None:
            return None
        found = (
            self.progress.cleared_on,
            self.reinspect_from,
            self._counted("release.earliest", self.progress.cleared_on),
        )
        return max(day for day in found if day is not None)

    @property
    def cleans_needed(self) -> int:
        """How many clean looks are needed."""
        rule = self.rule("reinspect.clean_needed")
        return int(rule.number()) if rule else 1

    @property
    def cleans_that_count(self) -> tuple[date, ...]:
        """Clean looks that were made on or after the first day that counts."""
        first_on = self.reinspect_from
        return tuple(day for day in self.progress.cleans if first_on is None or day >= first_on)

    @property
    def measures(self) -> tuple[EventKind, ...]:
        """Measures that are required before release, those that release itself needs last."""
        rule = self.rule("measures.required")
        kinds = [EventKind(word) for word in rule.word_list()] if rule else []
        return (*kinds, *(kind for kind in self.release_measures if kind not in kinds))

    @property
    def release_measures(self) -> tuple[EventKind, ...]:
        """Measures that stand among the conditions of release."""
        rule = self.rule("release.needs")
        words = rule.word_list() if rule else ()
        both = (EventKind.DISINFECTION_ACCEPTED, EventKind.ZONE_EXAMINED)
        return tuple(kind for kind in both if kind in words)

    @property
    def measures_missing(self) -> tuple[EventKind, ...]:
        """Measures that are required and not yet written down."""
        return tuple(kind for kind in self.measures if kind not in self.progress.done)
