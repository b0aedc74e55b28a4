"""Keys of the press day as a whole: a step done, notes and lots, the press closed, the part out, the end."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from layup.records.events import Demoulded, LotRecorded, Note, PressClosed, SessionEnded
from layup.records.text import clean_text
from layup.screens.bench_view import unserved
from layup.screens.day import PressDay
from layup.screens.prompts import Ask, Choose, if_yes, sure

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
    if day is None:
        return
    doubtful = [] if day.step_refusal() else day.doubtful_cups()
    stands = day.doubt(doubtful[0]) if doubtful else None
    lay_all_the_same(app, day, doubtful, lambda: app.heard(day.step_done(stands)))


def lay_all_the_same(app: LayupApp, day: PressDay, doubtful: list[int], then: Callable[[], None]) -> None:
    """Ask of each batch in doubt whether it goes on the part all the same, then do it; a looker-on is not asked."""
    if not doubtful or day.watching:
        then()
        return
    first, rest = doubtful[0], doubtful[1:]

    def answered(answer: str) -> None:
        if answer == "yes":
            lay_all_the_same(app, day, rest, then)
        else:
            app.say(f"batch {first} stays in its cup: read or put it right at the scale (m)")

    title = f"{day.station(first).doubt_words()}\n\nLay it all the same?"
    app.ask(sure(title, "yes, lay it: it keeps its mark", "no, keep it in its cup"), answered)


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
        said = day.log(PressClosed(), f"press closed: leave it shut. Stand clear of the {day.closing.method}")
        app.heard(said)
        if said.done:
            app.action_go("cure")
            app.say(said.words)

    unmixed = unserved(day)
    if not left and not dry and not unmixed:
        close("yes")
        return
    missing = [f"batch {batch.number} ({batch.plan.mass_g:.0f} g) is {batch.status}, not on the part" for batch in dry]
    if unmixed:
        missing.append(f"no mix was laid for: {', '.join(unmixed)}")
    if left:
        missing.append(f"not logged as done: {', '.join(left[:3])}{' ...' if len(left) > 3 else ''}")
    title = "\n".join([*(f"! {words}" for words in missing), "", "Press closed all the same?"])
    app.ask(sure(title, "yes, it is closed"), close)


def demoulded(app: LayupApp) -> None:
    """Log that the part is out of the mould."""
    day = running_day(app)
    if day is None:
        return

    from layup.screens.cure_place import CurePlace

    warning = app.base.query_one(CurePlace).warning(day)
    title = f"{warning}Is the part out of the mould? Let the pressure off first: clamps and bladders hold force."
    out = if_yes(lambda: app.heard(day.log(Demoulded(), "the part is out of the mould")))
    app.ask(sure(title, "yes, it is out", "not yet"), out)


def seen(app: LayupApp) -> None:
    """Acknowledge the alarm that stands."""
    day = running_day(app)
    if day is None or app.watchman is None:
        return
    alarm = app.watchman.board.loudest
    if alarm is not None and alarm.kind == "clock unsure" and not day.watching:
        from layup.screens.clock_question import ask_clock

        ask_clock(app, day)
    else:
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

    state = day.state
    inside = state.closed_s is not None and state.demoulded_s is None
    title = "End this session? " + (
        "The part is still in its mould: its clock to demoulding ends too." if inside else "It stays in the logbook."
    )
    words = f"session ended: it is in the logbook (l). How the part turned out: layup outcome {day.folder.name} ..."
    app.ask(sure(title, "yes, end it", "not yet"), if_yes(lambda: app.heard(day.log(SessionEnded(), words))))
