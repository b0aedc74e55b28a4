"""The days before a part that is wanted on a day, for the commands that plan it: their words, lines and data."""

from __future__ import annotations

import argparse
from datetime import timedelta
from math import isfinite

from layup.commands.command import add_forecast_argument, temperature_K
from layup.commands.plan_text import NIGHT_C
from layup.files.attachments import wanted_day
from layup.planning.calendar import Hour, USUAL_HOURS_s, best_hour, critical
from layup.planning.castings import Pouring
from layup.planning.planner import PlanResult
from layup.planning.readiness import Readiness
from layup.planning.warming import warm_up_s
from layup.report.bars import table_lines
from layup.report.day_axis import Days, calendar_lines, days_of_plan
from layup.units import day_clock as clock
from layup.units import in_hours, minutes, temperature


def add_calendar_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the day on which the part is wanted."""
    parser.add_argument(
        "--wanted",
        metavar="DATE",
        help='when it is to be out of the mould: "2026-12-05 18:00" (default: none)',
    )
    add_forecast_argument(parser)
    parser.add_argument(
        "--stored", metavar="TEMPERATURE", help='of cans, core and mould before: "3 degC" (default: as the shop)'
    )


BESIDE = 42
"""Columns that the hours take beside their reason."""


def hours_data(hours: tuple[Hour, ...]) -> dict[str, object]:
    """Return a day by its hours for a program."""
    best = best_hour(hours)
    return {
        "hours": [
            {
                "begin": clock(hour.begin_s),
                "low_K": hour.low_K,
                "high_K": hour.high_K,
                "verdict": hour.verdict,
                "slack_min": None if hour.slack_s is None else hour.slack_s / 60.0,
                "demould_min": hour.out_s / 60.0,
                "reason": hour.why,
            }
            for hour in hours
        ],
        "best_begin": clock(best.begin_s) if best else None,
    }


def hours_lines(hours: tuple[Hour, ...], *, width: int) -> list[str]:
    """Return a day by its hours: the best first, then each with its temperatures, its spare time and the way out."""
    if not hours:
        return []
    best, late = best_hour(hours), [hour for hour in hours if hour.too_cold]
    lines = ["", f"TODAY BY HOUR  {f'begin at {clock(best.begin_s)}' if best else 'it fits at none'}"]
    warm = [hour for hour in hours if not hour.too_cold]
    if warm and late and late[-1].begin_s > warm[-1].begin_s:
        lines[-1] += f", too cold from {clock(next(each.begin_s for each in late if each.begin_s > warm[-1].begin_s))}"
    shapes = {"fits": "●", "tight": "▲", "does not fit": "✗"}
    rows = []
    for hour in hours:
        spare = "" if hour.slack_s is None or hour.verdict == "does not fit" else minutes(hour.slack_s)
        out = f"+{in_hours(hour.out_s)}" if isfinite(hour.out_s) else "" if hour.why else "> 4 d"
        mark = "▶" if hour is best else " "
        low, high = temperature.digits(hour.low_K), temperature(hour.high_K)
        shop = high if high.startswith(f"{low} ") else f"{low} to {high}"
        why = hour.why if len(hour.why) <= width - BESIDE else f"{hour.why[: width - BESIDE - 1].rstrip()}…"
        rows.append((f"{mark} {clock(hour.begin_s)} {shapes[hour.verdict]}", shop, spare, out, why))
    heads = ("", "shop", "spare", "out", "")
    return [*lines, *table_lines(heads, rows, left="lrrrl", width=width)]


def days_of(
    args: argparse.Namespace, result: PlanResult, pours: tuple[Pouring, ...], ready: Readiness, assumed: list[str]
) -> Days | None:
    """Return the days before a part that is wanted on a day, by the words or the plan; None where neither names one."""
    text = result.plan.wanted if args.wanted is None else args.wanted
    if not text and args.wanted is None:
        return None
    wanted = wanted_day(text, where="--wanted")
    opens_s, shuts_s = USUAL_HOURS_s
    assumed.append(f"hands work from {opens_s / 3600:.0f} to {shuts_s / 3600:.0f} o'clock; waits take their late edge")
    return days_of_plan(wanted, result, pours, ready.night, warm_up_s=_warm_up_s(args, result, assumed))


def _warm_up_s(args: argparse.Namespace, result: PlanResult, assumed: list[str]) -> float:
    """Return how long cans, core and mould need from where they are stored."""
    if args.stored is None:
        return 0.0
    low_C, high_C = NIGHT_C
    return warm_up_s(result, temperature_K(args.stored, assumed, where="--stored", low_C=low_C, high_C=high_C))


def days_lines(days: Days | None, *, width: int) -> list[str]:
    """Return the days before as lines, after an empty one; none where the part is wanted on no day."""
    if days is None:
        return []
    lines = ["", *calendar_lines(days.placed, days.midnight, width=width)]
    return lines if days.stated else [*lines, "Glue-ups and other work before: [[before]] in the plan's file."]


def days_data(days: Days | None) -> dict[str, object] | None:
    """Return the days before for a program."""
    if days is None:
        return None
    return {
        "start": _iso(days, days.placed[0].latest_s) if days.placed else None,
        "critical": [each.task.name for each in critical(days.placed)],
        "tasks": [
            {
                "name": each.task.name,
                "takes_min": each.task.takes_s / 60.0,
                "after": list(each.task.after),
                "hands": each.task.hands,
                "latest_start": _iso(days, each.latest_s),
                "slack_min": each.slack_s / 60.0,
            }
            for each in days.placed
        ],
    }


def _iso(days: Days, at_s: float) -> str:
    return (days.midnight + timedelta(seconds=at_s)).isoformat(timespec="minutes")
