"""Keys of the press day as a whole: a step done, notes and lots, the press closed, the part out, the end."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layup.records.events import Demoulded, LotRecorded, Note, PressClosed, SessionEnded
from layup.records.text import clean_text
from layup.screens.day import PressDay
from layup.screens.prompts import Ask, Choose

if TYPE_CHECKING:
    from layup.screens.app import LayupApp


def running_day(app: LayupApp) -> PressDay | None:
    """Return the press day that runs, or say that none does."""
    if app.day is None:
        app.say("not now: no press day is running - press s, then g to begin it")
    return app.day


def step_done(app: LayupApp) -> None:
    """Finish the step on the bench."""
    day = running_day(app)
    if day is not None:
        app.heard(day.step_done())


def lot(app: LayupApp) -> None:
    """Log a lot number."""
    day = running_day(app)
    if day is None:
        return

    def typed(component: str) -> None:
        def keep(text: str) -> None:
            plain = clean_text(text, limit=200).text
            event = LotRecorded(component="resin" if component == "resin" else "hardener", lot=plain)
            app.heard(day.log(event, f"{component} lot {plain}"))

        app.ask(Ask(f"Lot number of the {component}", "as printed on the can", check=_not_empty, max_length=200), keep)

    app.ask(Choose("Lot number of which can?", [("1", "resin", "resin"), ("2", "hardener", "hardener")]), typed)


def _not_empty(text: str) -> str | None:
    return None if text.strip() else "nothing is written yet"


def note(app: LayupApp) -> None:
    """Log free words."""
    day = running_day(app)
    if day is None:
        return

    def keep(text: str) -> None:
        cleaned = clean_text(text, limit=20_000)
        app.heard(day.log(Note(text=cleaned.text), "noted" + (f" ({cleaned.report})" if cleaned.report else "")))

    app.ask(Ask("Note", "anything worth knowing next time", check=_not_empty, max_length=20_000), keep)


def press_closed(app: LayupApp) -> None:
    """Log that the press is closed."""
    day = running_day(app)
    if day is None:
        return
    left = [step.plan.name for step in day.state.steps if step.done_s is None]
    dry = [batch for batch in day.state.batches if batch.status in ("to mix", "weighed", "in the cup")]

    def close(answer: str) -> None:
        if answer != "yes":
            return
        said = day.log(PressClosed(), f"press closed: leave it shut. Stand clear of the {day.plan.closing.method}")
        app.heard(said)
        if said.done:
            app.action_go("cure")
            app.say(said.words)

    if not left and not dry:
        close("yes")
        return
    missing = [f"batch {batch.number} ({batch.plan.mass_g:.0f} g) is {batch.status}, not on the part" for batch in dry]
    if left:
        missing.append(f"not logged as done: {', '.join(left[:3])}{' ...' if len(left) > 3 else ''}")
    title = "\n".join([*(f"! {words}" for words in missing), "", "Press closed all the same?"])
    app.ask(Choose(title, [("y", "yes", "yes, it is closed"), ("n", "no", "no")], at=1), close)


def demoulded(app: LayupApp) -> None:
    """Log that the part is out of the mould."""
    day = running_day(app)
    if day is None:
        return

    def out(answer: str) -> None:
        if answer == "yes":
            app.heard(day.log(Demoulded(), "the part is out of the mould"))

    title = "Is the part out of the mould? Let the pressure off first: clamps and bladders hold force."
    app.ask(Choose(title, [("y", "yes", "yes, it is out"), ("n", "no", "not yet")]), out)


def seen(app: LayupApp) -> None:
    """Acknowledge the alarm that stands."""
    if running_day(app) is not None and app.watchman is not None:
        app.heard(app.watchman.seen())


def undo(app: LayupApp) -> None:
    """Take the last entry back."""
    day = running_day(app)
    if day is not None:
        app.heard(day.undo())


def finish(app: LayupApp) -> None:
    """End the session."""
    day = running_day(app)
    if day is None:
        return

    def ended(answer: str) -> None:
        if answer == "yes":
            app.heard(day.log(SessionEnded(), "session ended: it is in the logbook (l)"))

    app.ask(Choose("End this session?", [("y", "yes", "yes, keep it in the logbook"), ("n", "no", "not yet")]), ended)
