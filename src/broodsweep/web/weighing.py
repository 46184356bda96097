"""Turns the desk's answers about a comb into shapes, in the user's language."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass

from broodsweep.constants import Disease
from broodsweep.desk.kits import Kit
from broodsweep.desk.looks import KeptLook
from broodsweep.desk.surroundings import Surroundings, hidden_text
from broodsweep.desk.weighing import Look, PlaceFacts, Weighed, prior_notes
from broodsweep.diagnosis import (
    LOOKING,
    METHODS,
    Answer,
    Belief,
    Guide,
    Method,
    Reading,
    entry_of,
    guide_to,
    guides,
    name_of,
)
from broodsweep.diagnosis import constants as c
from broodsweep.diagnosis.decide import ESSENTIAL, in_words
from broodsweep.diagnosis.numbers_said import number_said
from broodsweep.diagnosis.reasons import Assumption, Reason, result_text
from broodsweep.rulebook import Rule
from broodsweep.web.shapes import weigh as s
from broodsweep.web.shapes import weigh_place as sp
from broodsweep.web.shapes.base import shape
from broodsweep.web.shapes.rules import rule_shape
from broodsweep.words import Message, render, say

_SHOWN_FOR, _SHOWN_AGAINST, _SHOWN_NEXT = 3, 1, 6
_LEAST_BITS = 0.01
"""A look that promises less is not offered (project choice)."""


def look_of(asked: s.LookAsked, on: object) -> Look:
    """Return what was asked as a look of the desk; without a day of its own on the day asked about."""
    given = asked.model_dump(exclude={"tests", "looked_on", "asked"})
    tests = tuple(
        Reading(
            **{
                **row.model_dump(),
                "lines": None if row.lines is None else frozenset(row.lines),
            }
        )
        for row in asked.tests
    )
    return Look(**given, tests=tests, looked_on=asked.looked_on or on)  # type: ignore[arg-type]


@dataclass(frozen=True)
class WeighShaper:
    """Shapes answers about combs in one language."""

    locale: str

    def say(self, key: str, **params: object) -> str:
        """Put a key into words."""
        return render(say(key, **params), self.locale)

    def words(self, message: Message) -> str:
        """Put a sentence into words."""
        return render(message, self.locale)

    def form(self, kits: tuple[Kit, ...]) -> s.WeighFormShape:
        """Give what can be looked for and tested."""
        known = {guide.test for guide in guides()}
        return s.WeighFormShape(
            looking=[
                s.LookingShape(group=group, signs=[self.sign(sign) for sign in signs])
                for group, signs in LOOKING.items()
            ],
            scale_guide=self.guide(guide_to("scale")),
            tests=[self.test(method, has_guide=method.name in known) for method in METHODS.values()],
            essential=[self.say(f"diagnosis.unseen.{name}") for name in (*dict(ESSENTIAL), "rope")],
            kits=[self.kit(kit) for kit in kits],
            read_not_before_min=c.READ_NOT_BEFORE_MIN.value,
            read_not_after_min=c.READ_NOT_AFTER_MIN.value,
            rope_longest_mm=c.ROPE_LONGEST_MM.value,
        )

    def sign(self, sign: str) -> s.SignShape:
        """Shape a sign."""
        return s.SignShape(
            sign=sign, name=self.say(f"diagnosis.sign.{sign}"), question=self.say(f"diagnosis.ask.{sign}")
        )

    def guide(self, guide: Guide) -> s.GuideShape:
        """Shape a guide."""
        return s.GuideShape(
            cautions=[self.words(row) for row in guide.cautions],
            steps=[s.StepShape(text=self.words(row.text), timer_s=row.timer_s) for row in guide.steps],
        )

    def test(self, method: Method, *, has_guide: bool) -> s.TestShape:
        """Shape a test."""
        return s.TestShape(
            test=method.name,
            name=self.say(f"diagnosis.test.{method.name}"),
            evidence=method.evidence,
            sample=method.sample,
            entry=entry_of(method.name),
            outcomes=[
                s.TestOutcomeShape(outcome=name, name=self.say(f"diagnosis.outcome.{name}"))
                for name in (*method.outcomes, "invalid")
            ],
            minutes=method.minutes,
            cost=method.cost,
            waiting_days=method.waiting_days,
            guide=self.guide(guide_to(method.name)) if has_guide else None,
        )

    def kit(self, kit: Kit) -> s.KitShape:
        """Shape a lot of kits."""
        return s.KitShape(
            lot=kit.lot.lot,
            kit=kit.lot.kit,
            test=kit.test,
            expires_on=kit.lot.expires_on,
            state=kit.state,
            count=kit.lot.count,
            left=kit.left,
            where=kit.where,
            text=None if kit.text is None else self.words(kit.text),
        )

    def weighed(self, weighed: Weighed) -> s.WeighedShape:
        """Shape an answer."""
        answer = weighed.answer
        decision = answer.decision
        return s.WeighedShape(
            state=decision.state,
            text=self.words(decision.text),
            conditions=[str(name) for name in decision.conditions],
            is_enough=answer.is_enough,
            chances=[self.chance(row) for row in answer.conditions],
            stages=self.stages(answer),
            about=self.words(
                name_of(answer.reasons[0].condition if answer.reasons else answer.lead.condition)
            ),
            carrying=[self.reason(row) for row in answer.reasons if row.bits > 0][:_SHOWN_FOR],
            against=[self.reason(row) for row in answer.reasons if row.bits < 0][:_SHOWN_AGAINST],
            next_tests=self.next_tests(answer),
            duty=[self.words(row) for row in decision.duty],
            not_looked_at=[self.words(row) for row in decision.not_looked_at],
            results=self.results(answer),
            notes=[self.words(row) for row in (*prior_notes(weighed), *answer.notes)],
            assumptions=[self.assumption(row) for row in answer.assumptions],
            around=self.around(weighed.around),
            rules=self.rules(weighed.rules),
        )

    def place(self, place: PlaceFacts) -> sp.LookPlaceShape:
        """Shape what a page needs to weigh a comb by itself."""
        given = place.thresholds
        return sp.LookPlaceShape(
            around=self.around(place.around),
            thresholds=sp.ThresholdsShape(
                suspect_probability=given.suspect_probability,
                exotic_probability=given.exotic_probability,
                confirm_probability=given.confirm_probability,
                confirm_by={str(name): sorted(kinds) for name, kinds in given.confirm_by.items()},
            ),
            rules=self.rules(place.rules),
        )

    def around(self, around: Surroundings) -> sp.AroundShape:
        """Shape what the record tells of the place."""
        return sp.AroundShape(
            season=around.season,
            near=[shape(sp.NearShape, row, self.locale) for row in around.near],
            bought=None if around.bought is None else shape(sp.BoughtShape, around.bought, self.locale),
            own=[shape(sp.OwnCaseShape, row, self.locale) for row in around.own],
            hidden=[
                sp.HiddenPriorShape(
                    disease=row.disease,
                    run_on=row.run_on,
                    apiary_probability=row.apiary_probability,
                    probability=row.colony.probability,
                    low=row.colony.low or row.colony.probability,
                    high=row.colony.high or row.colony.probability,
                    text=self.words(hidden_text(row)),
                )
                for row in around.hidden
            ],
        )

    def rules(self, rules: Mapping[Disease, Rule]) -> list[sp.ConfirmRuleShape]:
        """Shape what confirms each disease."""
        return [
            sp.ConfirmRuleShape(disease=disease, rule=rule_shape(rule, self.locale))
            for disease, rule in rules.items()
        ]

    def kept_look(self, kept: KeptLook) -> s.KeptLookShape:
        """Shape a look that was kept."""
        given = kept.look
        return s.KeptLookShape(
            number=kept.number,
            looked_on=kept.looked_on,
            who=kept.who,
            state=kept.state,
            chances=[
                self.chance(Belief(condition=name, probability=p, low=low, high=high))
                for name, p, low, high in kept.conditions
            ],
            text=kept.text,
            suspects=kept.suspects,
            outbreak=kept.outbreak,
            look=s.LookAsked(
                apiary=kept.apiary,
                looked_on=kept.looked_on,
                signs=dict(given.signs),
                tests=[s.ReadingAsked.model_validate(_plain(reading)) for reading in given.tests],
                season=given.season,
                observer="untrained" if given.observer == "untrained" else "trained",
                bought_in=given.bought_in,
                fed_honey=given.fed_honey,
                uses_hidden=given.uses_hidden,
            ),
        )

    def chance(self, row: Belief) -> s.ChanceShape:
        """Shape a probability; at the ends it is never written as certainty."""
        return s.ChanceShape(
            condition=str(row.condition),
            name=self.words(name_of(row.condition)),
            probability=row.probability,
            low=row.low,
            high=row.high,
            said=self.words(in_words(row.probability)),
            said_low=self.words(in_words(row.low)),
            said_high=self.words(in_words(row.high)),
        )

    def stages(self, answer: Answer) -> list[s.StagesShape]:
        """Shape how far the suspected foulbroods have gone if they are there."""
        return [
            s.StagesShape(
                disease=str(disease),
                name=self.words(name_of(disease)),
                shares=[
                    s.StageShareShape(
                        stage=stage, name=self.say(f"weigh.stage_{stage}"), said=self.words(in_words(share))
                    )
                    for stage, share in shares.items()
                ],
            )
            for disease, shares in answer.stages.items()
            if disease in answer.decision.conditions
        ]

    def reason(self, row: Reason) -> s.ReasonShape:
        """Shape a reason."""
        return s.ReasonShape(finding=row.finding, text=self.words(row.text), bits=row.bits)

    def next_tests(self, answer: Answer) -> list[s.NextShape]:
        """Shape what is worth looking at or testing next."""
        return [
            s.NextShape(
                name=row.name,
                is_test=row.is_test,
                text=self.words(row.text),
                how=None if row.is_test else self.say(f"diagnosis.ask.{row.name}"),
                bits=row.bits,
                change_probability=row.decision_change_probability,
                change_said=self.words(in_words(row.decision_change_probability)),
                minutes=row.minutes,
                cost=row.cost,
                waiting_days=row.waiting_days,
            )
            for row in answer.next_tests
            if row.bits >= _LEAST_BITS
        ][:_SHOWN_NEXT]

    def results(self, answer: Answer) -> list[s.ResultShape]:
        """Shape what the readings say."""
        return [
            s.ResultShape(
                test=row.method.name,
                outcome=row.outcome,
                is_evidential=row.is_evidential and row.outcome is not None,
                trust=row.trust,
                text=self.words(result_text(row)),
            )
            for row in answer.results
        ]

    def assumption(self, row: Assumption) -> s.AssumptionShape:
        """Shape a number of the model that matters."""
        low, high = sorted((row.at_low, row.at_high))
        return s.AssumptionShape(
            text=self.words(number_said(row.where)),
            value=row.value,
            source=row.source,
            is_published=row.is_published,
            low=self.words(in_words(low)),
            high=self.words(in_words(high)),
        )


def _plain(reading: Reading) -> dict[str, object]:
    row = asdict(reading)
    return row | {"lines": None if reading.lines is None else sorted(reading.lines)}
