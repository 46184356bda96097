"""Turns what the desk knows of hidden infection into shapes, in the user's language."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING

from broodsweep.desk.allclear import AllClear
from broodsweep.desk.context import Desk
from broodsweep.desk.hidden_rehearsals import Rehearsal
from broodsweep.desk.hidden_standing import Standing, how_made
from broodsweep.desk.rehearsing import Rehearsed
from broodsweep.desk.snapshot import Snapshot
from broodsweep.geo import Place, PlaceError, format_place
from broodsweep.outbreak import Outbreak
from broodsweep.web.shapes import hidden as shapes
from broodsweep.web.shapes.base import shape
from broodsweep.words import Message, has_key, render, say

if TYPE_CHECKING:
    from broodsweep.spread import Worth
    from broodsweep.spread.answer import Answer, ApiaryFigure, Share, Sources
    from broodsweep.spread.engine import Hidden

SHOWN_CELLS, SHOWN_HELP, SHOWN_WORTH = 400, 12, 12
SAMPLE = 50
MOST_POINTS = 200
"""Points of a curve that are sent: as many as a page has room for."""


@dataclass(frozen=True)
class HiddenShaper:
    """Shapes answers of one desk in one language."""

    desk: Desk
    locale: str

    @cached_property
    def kept(self) -> Snapshot:
        """The record, asked for once."""
        return self.desk.snapshot()

    @cached_property
    def notation(self) -> str:
        """Notation that most of the register's places are written in."""
        written = Counter(row.place.notation for row in self.kept.ground.apiaries[:SAMPLE])
        return written.most_common(1)[0][0] if written else "latitude_longitude"

    def say(self, message: Message) -> str:
        """Put a sentence into words."""
        return render(message, self.locale)

    def run(self, standing: Standing) -> shapes.RunShape:
        """Shape how a run stands."""
        update = standing.update
        return shapes.RunShape(
            state=standing.state,
            progress_share=standing.progress_share,
            stamp=standing.stamp,
            has_figures=standing.found is not None,
            is_trusted=standing.is_trusted,
            is_stale=standing.is_stale,
            how=self.say(how_made(standing)) if standing.found else None,
            why=self.say(standing.why) if standing.why else None,
            warnings=[self.say(row) for row in update.warnings] if update else [],
            made_at=standing.made_at,
            record_version=standing.version,
            new_visits=len(update.visits) if update else 0,
            khat=finite(update.khat) if update else None,
            effective_share=update.effective_share if update else None,
        )

    def hidden(self, outbreak: Outbreak, on: date, standing: Standing, most: int) -> shapes.HiddenShape:
        """Shape a run with its answer; reasons for the ``most`` likeliest apiaries."""
        return shapes.HiddenShape(
            outbreak=outbreak.outbreak,
            disease=outbreak.disease,
            on=on,
            run=self.run(standing),
            answer=self._answer(standing.found, most) if standing.found else None,
        )

    def _answer(self, found: Hidden, most: int) -> shapes.HiddenAnswerShape:
        answer = found.answer
        rows = ranked(answer)
        return shapes.HiddenAnswerShape(
            total=len(rows),
            columns=shapes.RiskColumnsShape(
                apiary=[row.apiary for row in rows],
                probability=[round(row.probability or 0.0, 6) for row in rows],
                low=[round(row.low or 0.0, 6) for row in rows],
                high=[round(row.high or 0.0, 6) for row in rows],
            ),
            lines=[self.line(rank, row) for rank, row in enumerate(rows[:most], start=1)],
            unseen=shape(shapes.UnseenShape, answer.unseen, self.locale),
            sources=[self._sources(row) for row in answer.sources],
            parameters=self._parameters(found),
            diagnostics=self._diagnostics(found),
            cells=[
                shapes.CellShape(
                    longitude=cell.longitude,
                    latitude=cell.latitude,
                    side_m=cell.side_m,
                    expected_apiaries=cell.expected_apiaries,
                    probability=cell.probability,
                    place=self.place(cell.longitude, cell.latitude, cell.side_m),
                )
                for cell in answer.cells[:SHOWN_CELLS]
            ],
            unregistered=shapes.UnregisteredShape(**answer.unregistered),
            notes=[self.say(note) for note in answer.notes],
        )

    def line(self, rank: int, row: ApiaryFigure) -> shapes.HiddenLineShape:
        """Shape an apiary with its figure and its reasons."""
        kept = self.kept
        apiary = kept.apiaries.get(row.apiary)
        keeper = kept.keepers.get(apiary.keeper or "") if apiary else None
        return shapes.HiddenLineShape(
            rank=rank,
            apiary=row.apiary,
            keeper_name=keeper.name if keeper else None,
            phone=keeper.phone if keeper else None,
            place=apiary.place.text if apiary else "",
            colonies=apiary.colonies if apiary else 0,
            state=row.state,
            probability=row.probability or 0.0,
            low=row.low or 0.0,
            high=row.high or 0.0,
            mcse=row.mcse if row.mcse is not None and math.isfinite(row.mcse) else 1.0,
            reasons=[self.say(reason) for reason in row.reasons],
        )

    def place(self, longitude: float, latitude: float, side_m: float) -> str:
        """Write the place of a square in the notation that most of the register uses."""
        notation = self.notation
        place = Place(longitude=longitude, latitude=latitude, precision_m=side_m)
        try:
            return format_place(place, notation, figures=4 if notation.endswith("grid") else None)
        except (PlaceError, ValueError):
            return format_place(place)

    def keeper_name(self, name: str) -> str | None:
        """Name of an apiary's keeper, as far as known."""
        return self.kept.keeper_name(self.kept.apiaries[name]) if name in self.kept.apiaries else None

    def place_of(self, name: str) -> str:
        """Place of an apiary as the register writes it."""
        return self.kept.apiaries[name].place.text if name in self.kept.apiaries else ""

    def _sources(self, row: Sources) -> shapes.SourcesShape:
        return shapes.SourcesShape(
            apiary=row.apiary,
            keeper_name=self.keeper_name(row.apiary),
            infected_on=row.infected_on,
            infected_low_on=row.infected_low_on,
            infected_high_on=row.infected_high_on,
            shares=[self._share(one) for one in row.shares],
            unexplained_share=row.unexplained_share,
            note=self.say(row.note) if row.note else None,
        )

    def _share(self, row: Share) -> shapes.ShareShape:
        is_area = row.longitude is not None and row.latitude is not None
        is_apiary = row.source in self.kept.apiaries
        return shapes.ShareShape(
            source=row.source if is_apiary else None,
            route=row.route,
            what=self.say(say(f"hidden.route_{row.route}", source=row.source)),
            share=row.share,
            longitude=row.longitude,
            latitude=row.latitude,
            radius_m=row.radius_m,
            place=self.place(row.longitude or 0.0, row.latitude or 0.0, row.radius_m or 1000.0)
            if is_area
            else None,
        )

    def _parameters(self, found: Hidden) -> list[shapes.ParameterShape]:
        after = {row.name: row for row in found.answer.parameters}
        rows = []
        for prior in found.priors:
            now = after.get(prior.name)
            label = f"hidden.parameter_{prior.name}"
            rows.append(
                shapes.ParameterShape(
                    name=prior.name,
                    label=self.say(say(label)) if has_key(label) else prior.name,
                    unit=prior.unit,
                    median=now.median if now else None,
                    low=now.low if now else None,
                    high=now.high if now else None,
                    prior_median=prior.quantile(0.5),
                    prior_low=prior.quantile(0.025),
                    prior_high=prior.quantile(0.975),
                    source=prior.source,
                )
            )
        return rows

    def _diagnostics(self, found: Hidden) -> shapes.DiagnosticsShape:
        from broodsweep.spread.constants import MCSE_LIMIT, RHAT_LIMIT

        row = found.answer.diagnostics
        return shapes.DiagnosticsShape(
            converged=row.converged,
            rhat_max=finite(row.rhat_max),
            rhat_limit=RHAT_LIMIT.value,
            ess_min=finite(row.ess_min),
            mcse_max=finite(row.mcse_max),
            mcse_limit=MCSE_LIMIT.value,
            sweeps=row.sweeps,
            chains=row.chains,
            draws=len(found.draws),
            reasons=[self.say(reason) for reason in row.reasons],
        )

    def all_clear(
        self, sheet: AllClear, worth: tuple[Worth, ...], *, is_trusted: bool
    ) -> shapes.AllClearShape:
        """Shape the evidence for an all-clear."""
        return shapes.AllClearShape(
            disease=sheet.disease,
            on=sheet.on,
            is_trusted=is_trusted,
            figures=[
                shapes.ClearFigureShape(
                    name=row.name,
                    label=self.say(say(f"stop.{row.name}")),
                    value=row.value,
                    low=row.low,
                    target=row.target,
                    is_reached=row.is_reached,
                    why=self.say(row.why) if row.why else None,
                )
                for row in sheet.figures
            ],
            legal=[shape(shapes.LegalShape, row, self.locale) for row in sheet.legal],
            binding=sheet.binding,
            would_help=[
                shapes.HelpShape(
                    apiary=name,
                    keeper_name=self.keeper_name(name),
                    place=self.place_of(name),
                    free_probability=free,
                )
                for name, free in sheet.would_help[:SHOWN_HELP]
            ],
            help_total=len(sheet.would_help),
            help_reaches=sheet.would_help[-1][1] if sheet.would_help else None,
            worth=[
                shapes.WorthShape(
                    apiary=row.apiary,
                    keeper_name=self.keeper_name(row.apiary),
                    place=self.place_of(row.apiary),
                    days_avoided=row.days_avoided,
                    found_probability=row.found_probability,
                    infected_probability=row.infected_probability,
                )
                for row in worth[:SHOWN_WORTH]
            ],
            is_enough=sheet.is_enough,
            notes=[self.say(note) for note in sheet.notes],
        )

    def rehearsal(self, row: Rehearsal) -> shapes.RehearsalShape:
        """Shape a rehearsal."""
        days = row.asked.days if row.asked else 0
        step = max(1, -(-days // MOST_POINTS))
        return shapes.RehearsalShape(
            state=row.state,
            progress_share=row.progress_share,
            why=self.say(row.why) if row.why else None,
            is_trusted=row.is_trusted,
            record_version=row.version,
            days=row.asked.days if row.asked else None,
            futures=row.asked.futures if row.asked else None,
            step_days=step,
            made=[_rehearsed(one, step) for one in row.made],
        )


def ranked(answer: Answer) -> list[ApiaryFigure]:
    """Return the apiaries that have a figure, the likeliest first."""
    rows = [row for row in answer.apiaries if row.probability is not None]
    return sorted(rows, key=lambda row: (-(row.probability or 0.0), row.apiary))


def finite(value: float) -> float | None:
    """Return a number that JSON can write, None for one that is not finite."""
    return value if math.isfinite(value) else None


def _rehearsed(row: Rehearsed, step: int) -> shapes.RehearsedShape:
    def outcome(one: object) -> shapes.RehearsedNumberShape:
        return shapes.RehearsedNumberShape.model_validate(one)

    return shapes.RehearsedShape(
        name=row.strategy.name,
        infected=outcome(row.infected),
        destroyed=outcome(row.destroyed),
        inspector_days=outcome(row.inspector_days),
        release_days=outcome(row.release_days) if row.release_days else None,
        released_share=row.released_share,
        over=[shapes.OverShape(day=day, probability=chance) for day, chance in row.over_probability.items()],
        active_mean=[round(value, 4) for value in row.active_mean[::step]],
        differences=None
        if row.differences is None
        else {
            name: shapes.DifferenceShape(mean=gap.mean, low=finite(gap.low), high=finite(gap.high))
            for name, gap in row.differences.items()
        },
    )
