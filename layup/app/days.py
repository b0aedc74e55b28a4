"""The days before: by when each thing must begin for a part that is wanted on a day, on Stack and as a page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from layup.app.prompts import Ask, Page
from layup.errors import LayupError
from layup.files.attachments import wanted_day
from layup.planning.castings import pourings
from layup.planning.warming import warm_up_s
from layup.report.day_axis import calendar_lines, days_of_plan

if TYPE_CHECKING:
    from layup.app.place import Host
    from layup.bench.planner import Planner
    from layup.planning.planner import PlanResult

FRAME = 8
"""Columns of a page that hold no words."""
WIDEST = 96


def days_lines(planner: Planner, figures: PlanResult, *, width: int) -> list[str]:
    """Return the days before; none where the part is wanted on no day, or the night is not worked out yet."""
    ready = planner.beginning.known(figures)
    wanted = planner.wanted or figures.plan.wanted
    if not wanted or ready is None:
        return []
    pours = pourings(figures, figures.timeline, wood_moisture=planner.beginning.outlook.wood_moisture)
    stored_K = min((kelvin for _, kelvin in figures.plan.forecast), default=figures.shop.temperature_K)
    try:
        days = days_of_plan(wanted_day(wanted), figures, pours, ready.night, warm_up_s=warm_up_s(figures, stored_K))
    except LayupError as error:
        return [str(error)]
    return calendar_lines(days.placed, days.midnight, width=width)


def ask_wanted(app: Host) -> None:
    """Ask when the part is wanted, and show the days before."""
    planner, figures = app.planner, app.planner.figures
    if figures is None or app.place.id != "stack":
        app.say("not now: the days before are of the plan on Stack")
        return

    def wrong(text: str) -> str | None:
        try:
            wanted_day(text)
        except LayupError as error:
            return error.words
        return None

    def take(text: str) -> None:
        planner.wanted = wanted_day(text).isoformat(" ", "minutes")
        app.run_worker(judged, thread=True, group="days", exclusive=True)

    def judged() -> None:
        if planner.beginning.known(figures) is None:
            planner.beginning.judge(figures)
        app.call_from_thread(show)

    def show() -> None:
        if all(app.base.has_class(name) for name in ("-wide", "-tall")):
            app.redraw()  # Stack itself has room for them
            return
        lines = days_lines(planner, figures, width=min(app.size.width - FRAME, WIDEST))
        app.push_screen(Page("The days before", Text("\n".join(lines), no_wrap=True)))

    ask = Ask(
        "When is it wanted, out of the mould?",
        "2026-12-05 18:00",
        check=wrong,
        value=planner.wanted or figures.plan.wanted,
    )
    app.ask(ask, take)
