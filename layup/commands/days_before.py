"""The days before a part that is wanted on a day, for the commands that plan it: their words, lines and data."""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from datetime import datetime, timedelta

from layup.commands.plan_text import NIGHT_C
from layup.commands.reading import temperature_K
from layup.errors import InputError
from layup.planning.calendar import Placed, USUAL_HOURS_s, critical, network, tasks_of
from layup.planning.castings import Pouring
from layup.planning.planner import PlanResult
from layup.planning.readiness import Readiness
from layup.planning.warming import Standing, warmings
from layup.report.days_before import calendar_lines


def add_calendar_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the day on which the part is wanted."""
    parser.add_argument(
        "--wanted", metavar="DATE", help='when it has to be out of the mould: "2026-12-05 18:00" (default: no calendar)'
    )
    parser.add_argument(
        "--stored", metavar="TEMPERATURE", help='of cans, core and mould before: "3 degC" (default: as the shop)'
    )


@dataclass(frozen=True, slots=True)
class Days:
    """The days before, placed on a clock that begins at a midnight."""

    midnight: datetime
    placed: tuple[Placed, ...]


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
    return Days(midnight, network(tasks, end_s=(wanted - midnight).total_seconds()))


def _warm_up_s(args: argparse.Namespace, result: PlanResult, assumed: list[str]) -> float:
    """Return how long cans, core and mould need from where they are stored."""
    if args.stored is None:
        return 0.0
    low_C, high_C = NIGHT_C
    stored_K = temperature_K(args.stored, assumed, where="--stored", low_C=low_C, high_C=high_C)
    shop_K = result.shop.temperature_K
    rows = warmings(
        result.plan, result.budget, result.datasheet, Standing(), from_K=stored_K, to_K=shop_K, bath_K=shop_K
    )
    return max((row.time_s for row in rows), default=0.0)


def days_lines(days: Days | None, *, width: int) -> list[str]:
    """Return the days before as lines, after an empty one; none where the part is wanted on no day."""
    return [] if days is None else ["", *calendar_lines(days.placed, days.midnight, width=width)]


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
