"""Turns the plan of rounds into shapes, with its sentences in the user's language."""

from __future__ import annotations

from dataclasses import dataclass

from broodsweep.desk.context import Desk
from broodsweep.desk.round_ahead import facts_ahead
from broodsweep.desk.round_changes import Moved, Spot
from broodsweep.desk.round_names import cautions_at, cautions_of_a_round, named
from broodsweep.desk.round_plans import KeptPlan, can_go_back, names, plan_in_force
from broodsweep.desk.round_worker import Progress
from broodsweep.rounds.model import clock
from broodsweep.rounds.plan import Measures, PlannedStop, Round, Unplanned
from broodsweep.rounds.records import bring_list, measures_record
from broodsweep.rounds.sending import geo_link
from broodsweep.web.rounds_noted import NotedShaper
from broodsweep.web.shapes import rounds as r
from broodsweep.words import Message, render


@dataclass(frozen=True)
class RoundsShaper:
    """Shapes the plan of rounds of one desk in one language."""

    desk: Desk
    locale: str

    def say(self, message: Message) -> str:
        """Put a sentence into words, people by their names."""
        return render(named(message, names(self.desk)), self.locale)

    def _noted(self, kept: KeptPlan | None) -> r.RoundsNotedShape:
        facts = kept.facts if kept else facts_ahead(self.desk)
        return NotedShaper(self.desk, self.locale).noted(facts, kept.plan.chosen if kept else ())

    def rounds(self, progress: Progress) -> r.RoundsShape:
        """Shape the plan in force with what is being planned."""
        kept, snapshot = plan_in_force(self.desk), self.desk.snapshot()
        today = self.desk.today()
        return r.RoundsShape(
            plan=self.plan(kept) if kept else None,
            progress=self.progress(progress),
            noted=self._noted(kept),
            inspectors=[
                r.RoundsInspectorShape(
                    inspector=row.inspector,
                    name=row.name or row.inspector,
                    longitude=row.home.longitude,
                    latitude=row.home.latitude,
                    works=[on for on in kept.question.span if on.isoweekday() in row.works] if kept else [],
                )
                for row in snapshot.ground.inspectors
            ],
            outbreaks=[
                row.outbreak for row in snapshot.outbreaks if row.closed_on is None or row.closed_on > today
            ],
            start_on=today,
        )

    def progress(self, row: Progress) -> r.RoundProgressShape:
        """Shape how far the planning has come."""
        return r.RoundProgressShape(
            state=row.state,
            share=row.share,
            told=self.say(row.told) if row.told else None,
            is_stopped=row.is_stopped,
            best=measures_shape(row.best),
            number=row.number,
            trouble=self.say(row.trouble) if row.trouble else None,
        )

    def plan(self, kept: KeptPlan) -> r.RoundPlanShape:
        """Shape a plan; a stop whose apiary left the register since is left out of the lists and the map."""
        plan, question = kept.plan, kept.question
        return r.RoundPlanShape(
            number=kept.number,
            made_at=kept.made_at,
            made_by=kept.made_by,
            told=self.say(kept.told),
            first_on=question.span[0],
            last_on=question.span[-1],
            days=[
                r.RoundDayShape(
                    on=row.on,
                    opens=row.opens,
                    closes=row.closes,
                    why=self.say(row.why),
                    is_rained_off=row.on in kept.facts.rained_off,
                    is_over=row.on < self.desk.today(),
                )
                for row in kept.hours
            ],
            outbreak=question.outbreak,
            overtime_minutes=question.overtime_minutes,
            zone=str(kept.zone),
            method=self.say(plan.method),
            travel=self.say(plan.travel_method),
            notes=[self.say(row) for row in plan.notes],
            rounds=[
                self._round(kept, row) for row in sorted(plan.rounds, key=lambda row: (row.on, row.inspector))
            ],
            left_out=[
                self._left_out(kept, row)
                for row in plan.unplanned
                if row.apiary in self.desk.snapshot().apiaries
            ],
            moved=[self._moved(row) for row in kept.moved],
            facts=self._noted(kept).facts,
            measures=measures_shape(plan.measures),
            delay=[
                r.RoundDelayShape(on=row.on, this_plan=row.this_plan, by_hand=row.by_hand)
                for row in kept.delay
            ],
            can_go_back=can_go_back(self.desk),
        )

    def _round(self, kept: KeptPlan, row: Round) -> r.RoundShape:
        known = self.desk.snapshot().apiaries
        stops = [stop for stop in row.stops if stop.apiary in known]
        return r.RoundShape(
            inspector=row.inspector,
            name=self._called(row.inspector),
            on=row.on,
            leaves=clock(row.leave_minute),
            back=clock(row.back_minute),
            hours=row.hours,
            km=row.km,
            drive_minutes=row.drive_minutes,
            overtime_minutes=row.overtime_minutes,
            bring=[self.say(thing) for thing in bring_list(row)],
            cautions=[self.say(caution) for caution in cautions_of_a_round()],
            stops=[self._stop(kept, row, number, stop) for number, stop in enumerate(stops, start=1)],
            pauses=[
                r.RoundPauseShape(
                    kind=pause.kind,
                    start=clock(pause.start_minute),
                    end=clock(pause.end_minute),
                    after=sum(stop.begin_minute < pause.start_minute for stop in stops),
                )
                for pause in row.pauses
            ],
        )

    def _stop(self, kept: KeptPlan, row: Round, number: int, stop: PlannedStop) -> r.RoundStopShape:
        snapshot = self.desk.snapshot()
        apiary = snapshot.apiaries[stop.apiary]
        keeper = snapshot.keepers.get(apiary.keeper or "")
        return r.RoundStopShape(
            number=number,
            apiary=stop.apiary,
            keeper=apiary.keeper,
            keeper_name=keeper.name if keeper else None,
            phone=keeper.phone if keeper else None,
            address=keeper.address if keeper else None,
            place=apiary.place.text,
            longitude=apiary.place.longitude,
            latitude=apiary.place.latitude,
            geo=geo_link(apiary.place.centre),
            colonies=apiary.colonies,
            notes=apiary.notes,
            arrive=clock(stop.arrive_minute),
            begin=clock(stop.begin_minute),
            leave=clock(stop.leave_minute),
            drive_minutes=drive_before(row, stop),
            why=[self.say(why) for why in stop.why],
            bring=[self.say(thing) for thing in stop.bring],
            cautions=[self.say(caution) for caution in cautions_at(self.desk, stop, row.on)],
            together_with=self._called(stop.together_with) if stop.together_with else None,
            is_pinned=stop.apiary in kept.facts.pins,
            is_done=stop.apiary in kept.facts.done,
        )

    def _left_out(self, kept: KeptPlan, row: Unplanned) -> r.LeftOutShape:
        snapshot = self.desk.snapshot()
        apiary = snapshot.apiaries[row.apiary]
        return r.LeftOutShape(
            apiary=row.apiary,
            keeper=apiary.keeper,
            keeper_name=snapshot.keeper_name(apiary),
            longitude=apiary.place.longitude,
            latitude=apiary.place.latitude,
            why=[self.say(why) for why in row.why],
            would_help=[self.say(what) for what in row.would_help],
            is_pinned=row.apiary in kept.facts.pins,
        )

    def _moved(self, row: Moved) -> r.RoundMovedShape:
        snapshot = self.desk.snapshot()
        apiary = snapshot.apiaries.get(row.apiary)
        return r.RoundMovedShape(
            apiary=row.apiary,
            keeper_name=snapshot.keeper_name(apiary) if apiary else None,
            before=self._spot(row.before),
            after=self._spot(row.after),
            why=self.say(row.why),
        )

    def _spot(self, spot: Spot | None) -> r.RoundSpotShape | None:
        if spot is None:
            return None
        return r.RoundSpotShape(
            inspector=spot.inspector,
            name=self._called(spot.inspector),
            on=spot.on,
            begin=clock(spot.begin_minute),
        )

    def _called(self, key: str) -> str:
        return names(self.desk).get(key, key)


def drive_before(row: Round, stop: PlannedStop) -> int:
    """Return the minutes on the road to a stop: since the stop before (or leaving), without breaks and washes."""
    left = max(
        (other.leave_minute for other in row.stops if other.leave_minute <= stop.arrive_minute),
        default=row.leave_minute,
    )
    paused = sum(
        pause.end_minute - pause.start_minute
        for pause in row.pauses
        if left <= pause.start_minute and pause.end_minute <= stop.arrive_minute
    )
    return max(0, stop.arrive_minute - left - paused)


def measures_shape(row: Measures | None) -> r.RoundMeasuresShape | None:
    """Shape what a plan comes to."""
    return r.RoundMeasuresShape.model_validate(measures_record(row)) if row else None
