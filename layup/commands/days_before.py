"""The days before a part that is wanted on a day, for the commands that plan it: their words, lines and data."""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isfinite

from layup.commands.plan_text import NIGHT_C
from layup.commands.reading import add_forecast_argument, temperature_K
from layup.errors import InputError
from layup.planning.calendar import Placed, USUAL_HOURS_s, critical, network, tasks_of
from layup.planning.castings import Pouring
from layup.planning.hours import Hour, best_hour
from layup.planning.planner import PlanResult
from layup.planning.readiness import Readiness
from layup.planning.warming import Stored, warmings
from layup.report.days_before import calendar_lines
from layup.report.tables import table_lines
from layup.units import day_clock as clock
from layup.units import in_hours, minutes, temperature


def add_calendar_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the day on which the part is wanted."""
    parser.add_argument(
        "--wanted", metavar="DATE", help='when it has to be out of the mould: "2026-12-05 18:00" (default: no calendar)'
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


@dataclass(frozen=True, slots=True)
class Days:
    """The days before, placed on a clock that begins at a midnight."""

    midnight: datetime
    placed: tuple[Placed, ...]
    stated: bool
    """Whether the plan states work of its own for them."""


def days_of(
    args: argparse.Namespace, result: PlanResult, pours: tuple[Pouring, ...], ready: Readiness, assumed: list[str]
) -> Days | None:
    """Return the days before a part that is wanted on a day; None where the words name none."""
    if args.wanted is None:
        return None
    try:
        wanted = datetime.fromisoformat(args.wanted.strip())
    except ValueError:
        allowed = "a date, with or without a time: 2026-12-05 18:00"
        raise InputError("--wanted", "is no date", value=args.wanted, allowed=allowed) from None
    if wanted.tzinfo is not None or not datetime(1990, 1, 1) < wanted < datetime(2200, 1, 1):
        raise InputError("--wanted", "is no date of this shop", value=args.wanted, allowed="one by its own clock")
    midnight = datetime(wanted.year, wanted.month, wanted.day)
    warm_up_s = _warm_up_s(args, result, assumed)
    tasks = tasks_of(result.plan, result, pours, ready.night, warm_up_s=warm_up_s)
    opens_s, shuts_s = USUAL_HOURS_s
    assumed.append(f"hands work from {opens_s / 3600:.0f} to {shuts_s / 3600:.0f} o'clock; waits take their late edge")
    return Days(midnight, network(tasks, end_s=(wanted - midnight).total_seconds()), bool(result.plan.before))


def _warm_up_s(args: argparse.Namespace, result: PlanResult, assumed: list[str]) -> float:
    """Return how long cans, core and mould need from where they are stored."""
    if args.stored is None:
        return 0.0
    low_C, high_C = NIGHT_C
    stored_K = temperature_K(args.stored, assumed, where="--stored", low_C=low_C, high_C=high_C)
    shop_K = result.shop.temperature_K
    rows = warmings(result.plan, result.budget, result.datasheet, Stored(), from_K=stored_K, to_K=shop_K, bath_K=shop_K)
    return max((row.time_s for row in rows), default=0.0)


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
