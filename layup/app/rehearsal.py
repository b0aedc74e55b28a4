"""A dry run from Stack, and a day for play at speed, as the app begins and ends them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layup.app.place import LOOKS_ON
from layup.app.prompts import if_yes, sure
from layup.errors import LayupError

if TYPE_CHECKING:
    from layup.app.place import Host
    from layup.bench.day import PressDay


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
