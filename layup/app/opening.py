"""Questions as a day is opened: which of several, what of a damaged one can be read, whether to write on, what time.

A dry run from Stack, and a day for play at speed, as the app begins and ends them.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from rich.text import Text

from layup.app.place import LOOKS_ON
from layup.app.prompts import Ask, Choose, Page, if_yes, sure
from layup.bench.day import PressDay
from layup.errors import InputError, LayupError
from layup.session.archive import Running, what_can_be_read
from layup.session.clock import ROUNDED
from layup.session.folder import HeldError, is_free
from layup.units import minutes, moment, moment_of_year

if TYPE_CHECKING:
    from layup.app.place import Host
    from layup.bench.opening import Opened


def dry_run(app: Host) -> None:
    """Ask whether to begin a dry run of the plan."""
    from layup.bench.rehearsal import dry_run as begin_dry

    if app.day is not None and app.day.state.ended_s is None:
        app.say(f"not now: the session of {app.day.folder.name} is not ended")
        return
    if app.place.id != "stack":
        app.say("not now: press s for the plan")
        return
    figures = app.planner.figures
    if app.watch_only or figures is None:
        app.say(LOOKS_ON if app.watch_only else f"not now: {app.planner.problem}")
        return

    def begun() -> None:
        try:
            app.day = begin_dry(app.planner, figures, app.clock)
        except LayupError as error:
            app.say(str(error))
            return
        app.action_go("bench")
        app.say(app.day.greeting)

    app.ask(sure("Dry run: every step, no resin. Begin?", "yes, begin", "no"), if_yes(begun))


def over(app: Host, day: PressDay) -> None:
    """Go back to the plan after a dry run, and count its minutes there."""
    day.close()
    app.day = None
    app.learn_again()
    app.action_go("stack")


def begin_play(app: Host) -> None:
    """Begin the day for play that was asked for."""
    figures, play = app.planner.figures, app.at_speed
    if figures is None or play is None:
        return
    try:
        app.day = play.begin(app.planner, figures, app.clock)
    except LayupError as error:
        app.say(str(error))
        return
    app.played = app.day.folder
    app.action_go("mix" if figures.plan.lays else "bench")
    app.say(app.day.greeting)


# -- opening page ----------------------------------------------------------------------------------------------------

MOST = 9
"""Sessions to choose from, the last one logged in first."""


def ask_which(app: Host, opened: Opened) -> None:
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


def _take(app: Host, day: Running) -> None:
    if day.trouble:
        app.say(f"{day.folder.name}: {day.trouble}")
        app.push_screen(Page(f"{day.folder.name} cannot be opened", Text("\n".join(what_can_be_read(day)))))
    else:
        resume_beside(app, day.folder)


def resume_beside(app: Host, folder: Path) -> None:
    """Open a session beside the screen: reading it and its resin takes a moment."""
    from layup.bench.opening import resume

    def work() -> None:
        try:
            day = resume(folder, app.clock, workshop=app.planner.workshop)
        except LayupError as error:
            app.call_from_thread(app.say, str(error))
        else:
            app.call_from_thread(app.show_day, day)

    app.run_worker(work, thread=True, exclusive=True, group="opening")


def offer_play(app: Host) -> None:
    """Ask a newcomer what to look at: a press day or a casting day that runs, or the plan."""
    from layup.bench.rehearsal import play_casting, play_day

    def work(casting: bool) -> None:
        figures = app.planner.figures
        if figures is None:
            return
        try:
            day = play_casting(app.planner, app.clock) if casting else play_day(app.planner, figures, app.clock)
        except LayupError as error:
            app.call_from_thread(app.say, str(error))
        else:
            app.played = day.folder
            app.call_from_thread(app.show_day, day)

    def chosen(answer: str) -> None:
        if answer in ("play", "casting"):
            app.run_worker(lambda: work(answer == "casting"), thread=True, exclusive=True, group="opening")
        elif answer == "recall":
            from layup.app.looking_back import recall

            recall(app)
        elif answer == "dry":
            dry_run(app)
        elif answer == "quit":
            app.exit()

    choices = [
        ("1", "play", "a press day, some minutes in (play)"),
        ("2", "plan", "the plan, before the day"),
        ("3", "recall", "my last layup failed: why?"),
        ("4", "casting", "a casting day, a cup mixed (play)"),
        ("5", "dry", "a dry run, without resin"),
        ("q", "quit", "quit"),
    ]
    app.ask(Choose("DEMO: nothing here is kept. See what?", choices), chosen)


def offer_to_write(app: Host, day: PressDay, *, again: bool = False) -> None:
    """Ask whether to go on with a session whose writer is gone; once, and `again` for who wants to log something."""
    gone = isinstance(day.looks_on, HeldError) and day.state.ended_s is None and is_free(day.folder)
    if not gone:
        day.offered = False
    elif (again or not day.offered) and len(app.screen_stack) == 1:
        day.offered = True
        title = f"The program that wrote {day.folder.name} writes no more. Go on with it here?"
        yes = if_yes(lambda: resume_beside(app, day.folder))
        app.ask(sure(title, "yes, log here from now on", "no, look on"), yes)


# -- clock question --------------------------------------------------------------------------------------------------

HINT = "such as 14:02, or 2026-03-08 14:02 for another day"


def ask_clock(app: Host, day: PressDay) -> None:
    """Ask whether the computer's clock is right, and what time it is where it is not."""
    shown = day.clock.utc().astimezone()
    title = (
        "The machine may have lost the time: ages are at least what they say.\n"
        f"The clock reads {moment_of_year(shown)}, right?"
    )
    behind = shown < day.least_utc - ROUNDED
    if behind:
        title += f"\nBy the last entry it is {moment(day.least_utc.astimezone())} or later."

    def answered(answer: str) -> None:
        if answer == "right":
            app.heard(day.tell_clock())
        else:
            _ask_time(app, day)

    choices = [("y", "right", "yes, that is the time"), ("n", "wrong", "no, I say what time it is")]
    app.ask(Choose(title, choices[::-1] if behind else choices), answered)


def _ask_time(app: Host, day: PressDay) -> None:
    def wrong(text: str) -> str | None:
        try:
            time_said(text, day.least_utc)
        except InputError as error:
            return error.words
        return None

    def typed(text: str) -> None:
        utc = time_said(text, day.least_utc)
        off_s = (utc - day.least_utc).total_seconds()
        title = f"It is {moment(utc.astimezone())}: {minutes(off_s)} more for good. Right?"
        app.ask(sure(title, "yes, that is the time"), if_yes(lambda: app.heard(day.tell_clock(utc))))

    app.ask(Ask("What time is it, by another clock?", HINT, check=wrong, max_length=40), typed)


def time_said(text: str, least: datetime) -> datetime:
    """Return the time that somebody typed, in UTC: the first such one that is not before `least`."""
    earliest = least.astimezone()
    words = text.strip()
    for form in ("%H:%M", "%Y-%m-%d %H:%M"):
        try:
            said = datetime.strptime(words, form)
        except ValueError:
            continue
        if form == "%H:%M":
            said = said.replace(year=earliest.year, month=earliest.month, day=earliest.day)
            if said.astimezone() < earliest - ROUNDED:
                said += timedelta(days=1)
        utc = said.astimezone(UTC)
        if utc < least - ROUNDED:
            raise InputError("time", "is before the last entry", value=words, allowed=f"from {moment(earliest)} on")
        return max(utc, least)
    raise InputError("time", "cannot be read", value=words, allowed=HINT)
