"""The days before as a table and one picture: by when each thing must begin, what waits, and the chain that decides."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from math import floor

from layup.chemistry.temperature import DAY_S
from layup.planning.calendar import Placed, critical
from layup.report.bars import WORK, Span, column, labels, strip
from layup.report.tables import table_lines
from layup.units import axis_time, moment, show

WAIT = "░"
DECIDES, MAY_WAIT = "*", " "


def calendar_lines(placed: Sequence[Placed], midnight: datetime, *, width: int) -> list[str]:
    """Return when each task must begin at the latest, the chain that decides marked, and all of it on one axis.

    Parameters
    ----------
    placed : Sequence[Placed]
        The tasks, as `network` places them [-]
    midnight : datetime
        Second 0 of their clock [-]
    width : int
        Columns [-]

    Returns
    -------
    list[str]
        None without tasks [-]
    """
    if not placed:
        return []
    start_s, end_s = placed[0].latest_s, max(each.latest_end_s for each in placed)
    at = [moment(midnight + timedelta(seconds=each.latest_s)) for each in placed]
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


def _bar(each: Placed, start_s: float, end_s: float, room: int, nights: set[int]) -> str:
    """Return a task's stretch, work filled and waits light, over the midnights."""
    span = Span(each.latest_s, each.latest_end_s, WORK if each.task.hands else WAIT)
    drawn = strip([span], start_s, end_s, room)
    return "".join("│" if at in nights and cell == " " else cell for at, cell in enumerate(drawn))
