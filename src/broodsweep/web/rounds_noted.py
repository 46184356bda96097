"""Turns what was noted for the rounds into shapes, and what is asked of them into the desk's words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from broodsweep.desk.context import Desk
from broodsweep.desk.round_ahead import without_over
from broodsweep.desk.round_facts import Change, ChangeKind, Facts, Rules
from broodsweep.desk.round_hours import EVERY_WEEKDAY, KeeperHours
from broodsweep.desk.round_plans import names
from broodsweep.desk.round_weather import WeatherDay, look_at_weather
from broodsweep.rounds.day import ForecastHour, Thresholds
from broodsweep.rounds.model import Hygiene, Window, clock
from broodsweep.web.shapes import round_asks as asks
from broodsweep.web.shapes import rounds as r
from broodsweep.words import Message, render, say

HOUR_MINUTES = 60


@dataclass(frozen=True)
class NotedShaper:
    """Shapes what holds beside the tables, in one language."""

    desk: Desk
    locale: str

    def noted(self, facts: Facts, planned: Iterable[str]) -> r.RoundsNotedShape:
        """Shape the facts; ``planned`` names the apiaries that stand in a round."""
        shown = without_over(facts, self.desk.today())
        weather = self._weather(shown)
        return r.RoundsNotedShape(
            facts=[*self._facts(facts, set(planned)), *self._of_weather(weather)],
            weather=self.days(weather),
            rules=rules_shape(facts.rules),
            usual_rules=rules_shape(Rules()),
        )

    def days(self, rows: Sequence[WeatherDay]) -> list[r.WeatherDayShape]:
        """Shape days of weather with what they allow."""
        return [
            r.WeatherDayShape(
                on=row.allows.on,
                hours=[hour_shape(hour) for hour in row.hours],
                opens=clock(row.allows.opening.start_minute) if row.allows.opening else None,
                closes=clock(row.allows.opening.end_minute) if row.allows.opening else None,
                why=render(row.allows.why, self.locale),
            )
            for row in rows
        ]

    def _weather(self, facts: Facts) -> tuple[WeatherDay, ...]:
        days = sorted(facts.weather)
        return look_at_weather(self.desk, facts.forecast(days), days, facts.rules.thresholds)

    def _of_weather(self, rows: Sequence[WeatherDay]) -> Iterator[r.RoundFactShape]:
        for row in rows:
            on, opening = row.allows.on, row.allows.opening
            if opening is None:
                said = say("rounds_page.fact_weather_shut", days=_days([on]))
            else:
                said = say("rounds_page.fact_weather", days=_days([on]), windows=_windows([opening]))
            yield r.RoundFactShape(text=render(said, self.locale), kind=ChangeKind.NO_WEATHER, days=[on])

    def _facts(self, facts: Facts, planned: set[str]) -> Iterator[r.RoundFactShape]:
        yield from self._of_days(facts)
        yield from self._of_keepers(facts)
        yield from self._of_visits(facts, planned)

    def _of_days(self, facts: Facts) -> Iterator[r.RoundFactShape]:
        for on in sorted(facts.rained_off):
            yield self._fact("rained_off", ChangeKind.DRY, days=[on])
        for who in sorted({row[0] for row in facts.ill}):
            days = sorted(on for name, on in facts.ill if name == who)
            yield self._fact("ill", ChangeKind.WELL, days=days, inspector=who)
        for (who, on), window in sorted(facts.part_days.items(), key=lambda item: item[0]):
            yield self._fact(
                "part_day", ChangeKind.WHOLE_DAY, days=[on], inspector=who, windows=_windows([window])
            )

    def _of_keepers(self, facts: Facts) -> Iterator[r.RoundFactShape]:
        for name, away in sorted(facts.away.items()):
            yield self._fact("away", ChangeKind.BACK, days=sorted(away), name=name)
        for name, hours in sorted(facts.hours.items()):
            yield self._fact("hours", ChangeKind.ANY_HOUR, name=name, hours=_hours(hours))

    def _of_visits(self, facts: Facts, planned: set[str]) -> Iterator[r.RoundFactShape]:
        for apiary, agreed in sorted(facts.agreed.items()):
            key = "agreed_hours" if agreed.window else "agreed"
            windows = _windows([agreed.window] if agreed.window else [])
            yield self._fact(
                key, ChangeKind.NOT_AGREED, apiary=apiary, told_days=_days([agreed.on]), windows=windows
            )
        for apiary, (pinned_to, day) in sorted(facts.pins.items()):
            yield self._fact(
                "pinned",
                ChangeKind.UNPIN,
                apiary=apiary,
                called_who=pinned_to or "–",
                told_days=_days([day]) if day else "–",
            )
        # What was done on a day that fell out afterwards stands in no round any more.
        for apiary, (made_by, day, _) in sorted(facts.done.items()):
            if apiary not in planned:
                yield self._fact(
                    "done", ChangeKind.NOT_DONE, apiary=apiary, called_who=made_by, told_days=_days([day])
                )

    def _fact(
        self,
        key: str,
        kind: ChangeKind,
        *,
        days: Sequence[date] = (),
        apiary: str | None = None,
        name: str | None = None,
        inspector: str | None = None,
        called_who: str | None = None,
        told_days: object = None,
        **words: object,
    ) -> r.RoundFactShape:
        """One fact as a sentence, with the change that takes it back.

        ``called_who`` and ``told_days`` are said, but do not belong to what takes it back.
        """
        called, who = names(self.desk), inspector or called_who or ""
        params = {
            "days": told_days or _days(days),
            "apiary": apiary or "",
            "name": called.get(name or "", name or ""),
            "inspector": called.get(who, who),
            **words,
        }
        return r.RoundFactShape(
            text=render(Message(f"rounds_page.fact_{key}", params), self.locale),
            kind=kind,
            apiary=apiary,
            name=name,
            inspector=inspector,
            days=list(days),
        )


def _days(days: Iterable[date]) -> list[Message]:
    return [say("rounds_page.day", day_on=on) for on in days]


def _windows(windows: Iterable[Window]) -> list[Message]:
    return [
        say("rounds_page.window", opens=clock(row.start_minute), closes=clock(row.end_minute))
        for row in windows
    ]


def _hours(hours: KeeperHours) -> list[Message]:
    days = (
        []
        if hours.weekdays == EVERY_WEEKDAY
        else [say(f"rounds_page.weekday_{number}") for number in sorted(hours.weekdays)]
    )
    return [*days, *_windows(hours.windows)]


def hour_shape(hour: ForecastHour) -> asks.WeatherHour:
    """Shape an hour of weather."""
    return asks.WeatherHour(
        time=hour.at, temperature=hour.temperature_celsius, wind=hour.wind_m_per_s, rain=hour.rain_mm
    )


def rules_shape(rules: Rules) -> asks.RoundRules:
    """Shape the rules of the rounds."""
    hygiene, weather = rules.hygiene, rules.thresholds
    return asks.RoundRules(
        wash_minutes=hygiene.decontamination_minutes,
        wash_at_home=hygiene.wash_at_home,
        least_celsius=weather.least_celsius,
        most_wind_m_per_s=weather.most_wind_m_per_s,
        most_rain_mm=weather.most_rain_mm,
        opens=clock(weather.between.start_minute),
        closes=clock(weather.between.end_minute),
    )


def change_of(asked: asks.RoundChangeAsked) -> Change:
    """Return the change that was asked for.

    Raises
    ------
    RoundsError
        If hours close before they open.
    """
    return Change(
        kind=asked.kind,
        apiary=asked.apiary,
        name=asked.name,
        inspector=asked.inspector,
        days=tuple(asked.days),
        weekdays=frozenset(asked.weekdays),
        windows=tuple(window_of(row.opens, row.closes) for row in asked.windows),
        weather=hours_asked(asked.weather),
        rules=rules_asked(asked.rules) if asked.rules else None,
    )


def hours_asked(rows: Iterable[asks.WeatherHour]) -> tuple[ForecastHour, ...]:
    """Return hours of weather as they were typed in."""
    return tuple(
        ForecastHour(
            at=row.time.replace(tzinfo=None),
            temperature_celsius=row.temperature,
            wind_m_per_s=row.wind,
            rain_mm=row.rain,
        )
        for row in rows
    )


def rules_asked(row: asks.RoundRules) -> Rules:
    """Return the rules as they were set.

    Raises
    ------
    RoundsError
        If the hours close before they open.
    """
    return Rules(
        hygiene=Hygiene(decontamination_minutes=row.wash_minutes, wash_at_home=row.wash_at_home),
        thresholds=Thresholds(
            least_celsius=row.least_celsius,
            most_wind_m_per_s=row.most_wind_m_per_s,
            most_rain_mm=row.most_rain_mm,
            between=window_of(row.opens, row.closes),
        ),
    )


def window_of(opens: str, closes: str) -> Window:
    """Return the hours from one time of the clock to another.

    Raises
    ------
    RoundsError
        If they close before they open.
    """
    return Window(*(HOUR_MINUTES * int(at[:2]) + int(at[3:]) for at in (opens, closes)))
