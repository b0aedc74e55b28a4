"""What each action of the table does: those of the plan and the app here, the press day's in the modules beside."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from layup.screens.batch_deeds import accept, hardener_in, lost, observe, plan_anew, poured_out, weigh
from layup.screens.day_deeds import demoulded, finish, lot, note, press_closed, seen, step_done, undo
from layup.screens.looks import CHOSEN_BY, next_look
from layup.screens.prompts import Ask
from layup.screens.shop_deeds import before_you_start, temperature

if TYPE_CHECKING:
    from layup.screens.app import LayupApp


def begin(app: LayupApp) -> None:
    """Ask whether to begin the press day: go, wait or no, with the reasons."""
    if app.watch_only:
        app.say("not now: looking on only - start the app without --watch to begin a press day")
        return
    figures = app.desk.figures
    if app.day is not None and app.day.state.ended_s is None:
        where = "press b for the bench" if app.day.state.closed_s is None else "press p, and f there to end it"
        app.say(f"not now: the session of {app.day.folder.name} is not ended - {where}")
        return
    if figures is None:
        app.say(f"not now: {app.desk.problem}")
        return
    if app.desk.settings is not figures.settings:
        app.say("one moment: the plan is being worked out")
        return
    split = figures.what.settled.split
    if not split.batches:
        app.say(f"not now: {split.limit.words if split.limit else 'there is nothing to mix'}")
        return
    from layup.screens.begin_page import open_begin_page

    open_begin_page(app, figures)


def variant(app: LayupApp) -> None:
    """Keep the present figures beside the next ones, or drop those kept."""
    desk = app.desk
    desk.kept = None if desk.kept is not None else desk.figures
    app.redraw()
    app.say("kept beside: change a setting and compare" if desk.kept else "one plan again")


def read_again(app: LayupApp) -> None:
    """Read the plan and the resins again, after they were edited."""
    app.desk.load()
    app.redraw()
    app.say(app.desk.problem.splitlines()[0] if app.desk.problem else "read again")


def search(app: LayupApp) -> None:
    """List the sessions in which some words occur."""
    from layup.screens.log_place import LogPlace

    place = app.base.query_one(LogPlace)
    now = f'; now: "{place.words}"' if place.words else ""
    title = "Search the sessions for"
    ask = Ask(title, f"names, tags, lots, notes; nothing shows all{now}", check=lambda _: None, max_length=200)

    def found(words: str) -> None:
        if app.place.id != "logbook":
            app.action_go("logbook")
        place.search(words)

    app.ask(ask, found)


def look(app: LayupApp) -> None:
    """Take the next look."""
    app.theme = next_look(app.theme)
    app.say(f"look: {app.theme}   to start with it: {CHOSEN_BY}={app.theme}")


def show_help(app: LayupApp) -> None:
    """Show the keys and what the place is for."""
    from layup.screens.help_page import help_page

    app.push_screen(help_page(app.place.id or "stack"))


def leave(app: LayupApp) -> None:
    """Quit; everything confirmed is on the disk."""
    if app.day is not None and app.day.fault and not app.day.watching:
        app.say(app.day.fault)
        return
    if (
        app.day is not None
        and app.way_back
        and not app.day.watching
        and app.day.state.closed_s is None
        and app.day.state.ended_s is None
    ):
        app.farewell = f"press day kept in {app.day.folder}; the clocks go on. Back to it: {app.way_back}"
    app.exit()


DEEDS: dict[str, Callable[[LayupApp], None]] = {
    "begin": begin,
    "variant": variant,
    "read_again": read_again,
    "accept": accept,
    "weigh": weigh,
    "hardener_in": hardener_in,
    "poured_out": poured_out,
    "step_done": step_done,
    "temperature": temperature,
    "observe": observe,
    "lost": lost,
    "plan_anew": plan_anew,
    "lot": lot,
    "note": note,
    "press_closed": press_closed,
    "seen": seen,
    "undo": undo,
    "before_you_start": before_you_start,
    "demoulded": demoulded,
    "finish": finish,
    "search": search,
    "look": look,
    "help": show_help,
    "leave": leave,
}
"""Action name -> what it does. A test holds it against the table of actions."""
