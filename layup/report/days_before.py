"""The days before as a table and one picture: by when each thing must begin, what waits, and the chain that decides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import floor

from layup.chemistry.temperature import DAY_S
from layup.planning.calendar import Placed, critical, network, tasks_of
from layup.planning.castings import Pouring
from layup.planning.night import Night
from layup.planning.planner import PlanResult
from layup.report.bars import WORK, Span, column, labels, strip, table_lines
from layup.units import axis_time, moment, show

WAIT = "░"
DECIDES, MAY_WAIT = "*", " "
DRAWN = 60
"""Columns from which on the days are drawn."""


@dataclass(frozen=True, slots=True)
class Days:
    """The days before, placed on a clock that begins at a midnight."""

    midnight: datetime
    placed: tuple[Placed, ...]
    stated: bool
    """Whether the plan states work of its own for them."""


def days_of_plan(
    wanted: datetime, result: PlanResult, pours: Sequence[Pouring], night: Night, *, warm_up_s: float = 0.0
) -> Days:
    """Place all that a plan needs before the moment at which it is wanted out of the mould, the latest start first.

    `warm_up_s` is what cans, core and mould need to follow the shop. Raises InputError for two tasks of one name,
    RangeError for work that is longer than the shop's hours.
    """
    midnight = datetime(wanted.year, wanted.month, wanted.day)
    tasks = tasks_of(result.plan, result, pours, night, warm_up_s=warm_up_s)
    return Days(midnight, network(tasks, end_s=(wanted - midnight).total_seconds()), bool(result.plan.before))


def calendar_lines(placed: Sequence[Placed], midnight: datetime, *, width: int) -> list[str]:
    """Return when each task must begin at the latest, the chain that decides marked, and all of it on one axis.

    `midnight` is second 0 of the clock by which they are placed.
    """
    if not placed:
        return []
    start_s, end_s = placed[0].latest_s, max(each.latest_end_s for each in placed)
    at = [moment(midnight + timedelta(seconds=each.latest_s)) for each in placed]
    if width < DRAWN:
        return _narrow(placed, at, moment(midnight + timedelta(seconds=end_s)), width)
    takes = [show(60.0 * round(each.task.takes_s / 60.0), "time") if each.task.takes_s else "" for each in placed]
    named = min(max(len(each.task.name) for each in placed), max(width - 60, 18))
    room = max(width - named - max(map(len, at)) - max(map(len, takes)) - 8, 8)
    days = range(floor(start_s / DAY_S), floor(end_s / DAY_S) + 1)
    marks = [(max(day * DAY_S, start_s), axis_time(midnight + timedelta(days=day))) for day in days]
    nights = {column(day * DAY_S, start_s, end_s, room) for day in days if day * DAY_S > start_s}
    chain = critical(placed)
    rows = [
        (
            f"{DECIDES if each in chain else MAY_WAIT} {begins}",
            each.task.name if len(each.task.name) <= named else f"{each.task.name[: named - 1]}…",
            time,
            _bar(each, start_s, end_s, room, nights),
        )
        for each, begins, time in zip(placed, at, takes, strict=True)
    ]
    ends = moment(midnight + timedelta(seconds=end_s))
    lines = [f"THE DAYS BEFORE  start by {at[0]}, out {ends}"]
    lines += table_lines(("", "", "", ""), [("", "", "", labels(marks, start_s, end_s, room)), *rows], left="llrl")
    return [*lines, f"{DECIDES} decides: late here, late out   {WORK} work   {WAIT} wait"]


def _narrow(placed: Sequence[Placed], at: Sequence[str], ends: str, width: int) -> list[str]:
    """Return when each task must begin, where there is no room for a picture."""
    chain, lines, last = critical(placed), ["START BY".ljust(10) + at[0], "OUT".ljust(10) + ends], ""
    for each, begins in zip(placed, at, strict=True):
        day, _, clock = begins.rpartition(" ")
        lines += [day] if day != last else []
        lines.append(f"{DECIDES if each in chain else MAY_WAIT} {clock}  {each.task.name}"[:width])
        last = day
    return [*lines, f"{DECIDES} late here, late out"]


def _bar(each: Placed, start_s: float, end_s: float, room: int, nights: set[int]) -> str:
    """Return a task's stretch, work filled and waits light, over the midnights."""
    span = Span(each.latest_s, each.latest_end_s, WORK if each.task.hands else WAIT)
    drawn = strip([span], start_s, end_s, room)
    return "".join("│" if at in nights and cell == " " else cell for at, cell in enumerate(drawn))
