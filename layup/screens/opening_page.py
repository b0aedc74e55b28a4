"""Questions as a day is opened: which of several, what can be read of a damaged one, whether to write on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from rich.text import Text

from layup.errors import LayupError
from layup.records.lock import HeldError, is_free
from layup.records.running import Running, what_can_be_read
from layup.screens.prompts import Choose, Page, if_yes, sure

if TYPE_CHECKING:
    from layup.screens.app import LayupApp
    from layup.screens.day import PressDay
    from layup.screens.opening import Opened

MOST = 9
"""Sessions to choose from, the last one logged in first."""


def ask_which(app: LayupApp, opened: Opened) -> None:
    """Ask which day to go on with; of one that cannot be, show what is wrong and what can be read."""
    listed = opened.others[:MOST]
    if opened.wanted and len(listed) == 1:
        _take(app, listed[0])
        return
    good = sum(not day.trouble for day in listed)
    title = f"{good} sessions were not ended. Which one goes on?" if good else "A session cannot be opened."
    choices = [(str(number), str(number), day.words) for number, day in enumerate(listed, 1)]
    if len(opened.others) > MOST:
        title += f" ({len(opened.others) - MOST} more are in the logbook)"
    choices.append(("s", "none", "none of them: the plan (s)"))

    def chosen(answer: str) -> None:
        if answer != "none":
            _take(app, listed[int(answer) - 1])

    app.ask(Choose(title, choices), chosen)


def _take(app: LayupApp, day: Running) -> None:
    if day.trouble:
        app.say(f"{day.folder.name}: {day.trouble}")
        app.push_screen(Page(f"{day.folder.name} cannot be opened", Text("\n".join(what_can_be_read(day)))))
    else:
        resume_beside(app, day.folder)


def resume_beside(app: LayupApp, folder: Path) -> None:
    """Open a session beside the screen: reading it and its resin takes a moment."""
    from layup.screens.opening import resume

    def work() -> None:
        try:
            day = resume(folder, app.clock, workshop=app.desk.workshop)
        except LayupError as error:
            app.call_from_thread(app.say, str(error))
        else:
            app.call_from_thread(app.show_day, day)

    app.run_worker(work, thread=True, exclusive=True, group="opening")


def offer_to_write(app: LayupApp, day: PressDay, *, again: bool = False) -> None:
    """Ask whether to go on with a session whose writer is gone; once, and `again` for who wants to log something."""
    gone = isinstance(day.looks_on, HeldError) and day.state.ended_s is None and is_free(day.folder)
    if not gone:
        day.offered = False
    elif (again or not day.offered) and len(app.screen_stack) == 1:
        day.offered = True
        title = f"The program that wrote {day.folder.name} writes no more. Go on with it here?"
        yes = if_yes(lambda: resume_beside(app, day.folder))
        app.ask(sure(title, "yes, log here from now on", "no, look on"), yes)
