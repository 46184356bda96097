"""Rounds as the command answers them: lists for people, one record for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from broodsweep.cli.speech import help_text, print_line, print_message, print_table, tell
from broodsweep.words import say

if TYPE_CHECKING:
    from broodsweep.desk.rounds import RoundsAnswer
    from broodsweep.rounds.plan import Plan, PlannedStop, Round


def rounds_record(answer: RoundsAnswer) -> dict[str, Any]:
    """Return the answer as `--json` gives it."""
    from broodsweep.rounds.records import plan_record

    record = plan_record(answer.plan, answer.zone)
    for row in record["rounds"]:
        row["name"] = answer.called.get(row["inspector"], row["inspector"])
    record["hours"] = [
        {"date": day.on, "opening": _window(day.opening), "daylight": _window(day.daylight), "why": day.why}
        for day in answer.hours
    ]
    return {"from": answer.first_on, "days": answer.days, "time_zone": str(answer.zone), **record}


def _window(window: Any) -> list[str] | None:
    from broodsweep.rounds.model import clock

    return None if window is None else [clock(window.start_minute), clock(window.end_minute)]


def print_rounds(answer: RoundsAnswer) -> None:
    """Print the rounds as lists, what was left out and what the plan comes to."""
    from broodsweep.rounds.model import clock

    plan = answer.plan
    print_message(plan.method)
    print_message(plan.travel_method)
    for note in plan.notes:
        print_message(note)
    for day in answer.hours:
        hours = f"{clock(day.opening.start_minute)}–{clock(day.opening.end_minute)}" if day.opening else "–"
        print_line("cli.rounds.hours", day_on=day.on, hours=hours, why=day.why)
    for row in plan.rounds:
        _print_round(row, answer)
    if plan.unplanned:
        print_table(
            ("cli.column.apiary", "cli.column.why", "cli.rounds.column.would_help"),
            [
                (row.apiary, "; ".join(map(tell, row.why)), "; ".join(map(tell, row.would_help)))
                for row in plan.unplanned
            ],
            title=help_text("cli.rounds.left_out", count=len(plan.unplanned)),
        )
    _print_measures(plan)


def _print_round(row: Round, answer: RoundsAnswer) -> None:
    from broodsweep.rounds.model import clock
    from broodsweep.rounds.records import bring_list

    parts = [(stop.begin_minute, _stop_cells(stop, answer)) for stop in row.stops]
    parts += [
        (
            pause.start_minute,
            (
                clock(pause.start_minute),
                clock(pause.end_minute),
                "–",
                "–",
                help_text(f"cli.rounds.pause.{pause.kind}"),
            ),
        )
        for pause in row.pauses
    ]
    print_table(
        (
            "cli.rounds.column.arrive",
            "cli.rounds.column.leave",
            "cli.column.apiary",
            "cli.rounds.column.keeper",
            "cli.column.why",
        ),
        [cells for _, cells in sorted(parts, key=lambda part: part[0])],
        title=help_text(
            "cli.rounds.title",
            inspector=answer.called.get(row.inspector, row.inspector),
            round_on=row.on,
            leaves=clock(row.leave_minute),
            back=clock(row.back_minute),
            km=round(row.km),
            hours=round(row.hours, 1),
        ),
    )
    brought = bring_list(row)
    if brought:
        print_line("cli.rounds.bring", things="; ".join(map(tell, brought)))


def _stop_cells(stop: PlannedStop, answer: RoundsAnswer) -> tuple[str, str, str, str, str]:
    from broodsweep.rounds.model import clock

    why = "; ".join(map(tell, stop.why))
    if stop.together_with:
        other = answer.called.get(stop.together_with, stop.together_with)
        why += f" [{help_text('cli.rounds.together', inspector=other)}]"
    contact = ", ".join(answer.contacts.get(stop.apiary, ())) or "–"
    return clock(stop.arrive_minute), clock(stop.leave_minute), stop.apiary, contact, why


def _print_measures(plan: Plan) -> None:
    found = plan.measures
    if found is None:
        return
    print_line(
        "cli.rounds.measures",
        visits=found.visits,
        left_out=found.left_out,
        km=round(found.km),
        hours=round(found.hours, 1),
        overtime=round(found.overtime_hours, 1),
        unseen=round(found.unseen_infected_days, 2),
    )
    if found.by_hand_unseen_infected_days is not None and found.by_hand_km is not None:
        print_line(
            "cli.rounds.by_hand",
            visits=found.by_hand_visits,
            km=round(found.by_hand_km),
            unseen=round(found.by_hand_unseen_infected_days, 2),
        )
    if found.bound is not None and found.within_share is not None:
        print_message(say("rounds.bound", cost=round(found.bound, 2), within_share=found.within_share))
