"""What each action of the table does: ask what is needed, log an event, show what came of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from rich.text import Text

from layup.errors import LayupError
from layup.records.events import (
    BatchLost,
    CupTemperatureRead,
    LotRecorded,
    Note,
    PressClosed,
    Replanned,
    SessionEnded,
    TemperatureRead,
)
from layup.records.facts import BatchState
from layup.records.text import clean_text
from layup.records.thermometer import PLAUSIBLE_K
from layup.screens.day import PressDay, Said
from layup.screens.looks import CHOSEN_BY, next_look
from layup.screens.prompts import Ask, Choose, Page
from layup.screens.quantities import ask_temperature
from layup.screens.shop_deeds import READINGS, before_you_start, demoulded, log_reading

if TYPE_CHECKING:
    from layup.screens.app import LayupApp

CUP_KEYS = "cdefgi"
CUP_K = (253.15, 523.15)
"""What a mix can have, from a cold can to a cup that burns."""
NO_DAY = "not now: no press day is running - press s, then g to begin it"
WORDS = (
    ("1", "runny", "runny: like when it was mixed"),
    ("2", "thickening", "thickening: drags, wets out slowly"),
    ("3", "stringy", "stringy: pulls threads from the stick"),
    ("4", "gelled", "gelled: a lump, no longer flows"),
)


def _day(app: LayupApp) -> PressDay | None:
    if app.day is None:
        app.say(NO_DAY)
    return app.day


def begin(app: LayupApp) -> None:
    """Ask whether to begin the press day: go, wait or no, with the reasons."""
    if app.watch_only:
        app.say("not now: looking on only - start the app without --watch to begin a press day")
        return
    figures = app.desk.figures
    if app.day is not None and app.day.state.closed_s is None and app.day.state.ended_s is None:
        app.say("not now: a press day is running - press b for the bench")
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


def accept(app: LayupApp) -> None:
    """Take the reading of the scale."""
    if app.place.id == "mix":
        app.mix.take(app.mix.typed)


def weigh(app: LayupApp) -> None:
    """Go to the scale with the next batch."""
    day = _day(app)
    if day is None:
        return
    if day.next_to_mix() is None:
        app.say("not now: every batch is mixed")
        return
    app.mix.follow_day()
    app.action_go("mix")


def hardener_in(app: LayupApp) -> None:
    """Start the clock of the batch on the scale."""
    day = _day(app)
    if day is None:
        return
    number = app.mix.batch_number() if app.place.id == "mix" else None
    following = day.next_to_mix()
    if number is None and following is not None:
        number = following.number
    if number is None:
        app.say("not now: every batch is mixed")
        return
    said = day.hardener_in(number)
    app.heard(said)


def _which(app: LayupApp, title: str, batches: list[BatchState], none: str, then: Callable[[int], None]) -> None:
    """Ask which batch is meant, where more than one could be."""
    if not batches:
        app.say(f"not now: {none}")
    elif len(batches) == 1:
        then(batches[0].number)
    else:
        choices = [
            (str(index), str(batch.number), f"batch {batch.number}: {batch.mass_g:.0f} g, {batch.status}")
            for index, batch in enumerate(batches, 1)
        ]
        app.ask(Choose(title, choices), lambda answer: then(int(answer)))


def poured_out(app: LayupApp) -> None:
    """The oldest cup is empty: its batch is on the part."""
    day = _day(app)
    if day is not None:
        cups = day.in_cup()
        _which(app, "Which cup is empty?", cups, "no batch is in its cup", lambda n: app.heard(day.poured_out(n)))


def step_done(app: LayupApp) -> None:
    """Finish the step on the bench."""
    day = _day(app)
    if day is not None:
        app.heard(day.step_done())


def temperature(app: LayupApp) -> None:
    """Log a temperature: where, then how much."""
    day = _day(app)
    if day is None:
        return
    places = [
        ("a", "air", "air of the shop"),
        ("r", "resin", "resin and hardener cans"),
        ("m", "mould", "mould or part"),
    ]
    places += [
        (key, f"cup {batch.number}", f"the mix in batch {batch.number}'s cup")
        for key, batch in zip(CUP_KEYS, day.in_cup(), strict=False)
    ]
    others = {answer for _, answer, _ in READINGS}

    def asked(place: str) -> None:
        if place in others:
            log_reading(app, day, place)
            return
        low_K, high_K = PLAUSIBLE_K.get(place, CUP_K)
        ask_temperature(
            app,
            f"Temperature: {place}",
            lambda kelvin: app.heard(_log_temperature(day, place, kelvin)),
            low_K=low_K,
            high_K=high_K,
        )

    app.ask(Choose("Temperature of what?", [*places, *READINGS]), asked)


def _log_temperature(day: PressDay, place: str, kelvin: float) -> Said:
    words = f"{place} at {kelvin - 273.15:.1f} °C: every countdown follows it"
    if place == "air":
        return day.log(TemperatureRead(place="air", temperature_K=kelvin), words)
    if place == "resin":
        return day.log(TemperatureRead(place="resin", temperature_K=kelvin), f"resin at {kelvin - 273.15:.1f} °C")
    if place == "mould":
        return day.log(TemperatureRead(place="mould", temperature_K=kelvin), words)
    return day.log(CupTemperatureRead(batch=int(place.removeprefix("cup ")), temperature_K=kelvin), words)


def observe(app: LayupApp) -> None:
    """Log how a batch looks."""
    day = _day(app)
    if day is None:
        return
    mixed = [batch for batch in day.state.batches if batch.status in ("in the cup", "on the part", "under press")]

    def seen(number: int) -> None:
        def looks(word: str) -> None:
            said = day.observed(number, word)
            app.heard(said)

        app.ask(Choose(f"Batch {number} looks", list(WORDS)), looks)

    _which(app, "Which batch?", mixed, "no batch is mixed yet", seen)


def lost(app: LayupApp) -> None:
    """Log a lost batch."""
    day = _day(app)
    if day is None:
        return
    order = ("in the cup", "weighed", "on the part")
    alive = sorted(
        (batch for batch in day.state.batches if batch.status in order), key=lambda batch: order.index(batch.status)
    )
    reasons = [
        ("1", "gelled in the cup", "gelled in the cup"),
        ("2", "spilt", "spilt"),
        ("3", "off ratio", "off ratio"),
        ("4", "other", "other"),
    ]

    def kept(number: int, why: str) -> None:
        words = f"batch {number} lost: {why}. A warm cup goes outside, away from anything that burns"
        said = day.log(BatchLost(batch=number, why=why), words)
        app.heard(said)
        if said.done:
            plan_anew(app)

    def which(number: int) -> None:
        app.ask(
            Choose(f"Batch {number} is lost because", reasons),
            lambda why: kept(number, why),
        )

    _which(app, "Which batch is lost?", alive, "no batch is weighed or mixed", which)


def plan_anew(app: LayupApp) -> None:
    """Plan what is left of the day, and take the new batches if they are wanted."""
    from layup.screens.replanning import batch_plans, first_free, replanned

    day = _day(app)
    if day is None:
        return
    if day.state.closed_s is not None:
        app.say("not now: the press is closed - there is nothing left to plan")
        return
    try:
        plan = replanned(day)
    except LayupError as error:
        app.say(str(error))
        return
    masses = " + ".join(f"{batch.mass_g:.0f}" for batch in plan.split.batches)
    count = len(plan.split.batches)
    head = (
        f"What is left takes {count} batch{'es' if count > 1 else ''}: {masses} g" if masses else "Nothing left to mix"
    )
    times = ""
    if plan.closed_s is not None and plan.press_by_s is not None:
        times = f"\nclosed about {day.clock_time(plan.closed_s)}, press by {day.clock_time(plan.press_by_s)}"
    verdict = "IN TIME" if plan.in_time else "NOT IN TIME"
    if plan.in_time and not plan.stock.suffices:
        verdict += " IF THE CANS HOLD IT"
    title = f"{head}   {verdict}{times}\n\n" + "\n".join(plan.advice)
    if not plan.stock.suffices:
        title += "\nThat counts what the plan said to have ready, less what was poured: look into the cans."
    if not plan.split.batches:
        app.push_screen(Page("The rest of the day", Text(title)))
        return

    def taken(answer: str) -> None:
        if answer == "yes":
            said = day.log(Replanned(batches=batch_plans(plan.split, first_free(day))), "planned anew")
            app.heard(said)
            if said.done:
                app.mix.follow_day()
                app.action_go("mix")

    app.ask(Choose(title, [("y", "yes", "yes, mix these"), ("n", "no", "keep the batches as they were")], at=1), taken)


def lot(app: LayupApp) -> None:
    """Log a lot number."""
    day = _day(app)
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
    day = _day(app)
    if day is None:
        return

    def keep(text: str) -> None:
        cleaned = clean_text(text, limit=20_000)
        app.heard(day.log(Note(text=cleaned.text), "noted" + (f" ({cleaned.report})" if cleaned.report else "")))

    app.ask(Ask("Note", "anything worth knowing next time", check=_not_empty, max_length=20_000), keep)


def press_closed(app: LayupApp) -> None:
    """Log that the press is closed."""
    day = _day(app)
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


def seen(app: LayupApp) -> None:
    """Acknowledge the alarm that stands."""
    if _day(app) is not None and app.watchman is not None:
        app.heard(app.watchman.seen())


def undo(app: LayupApp) -> None:
    """Take the last entry back."""
    day = _day(app)
    if day is not None:
        app.heard(day.undo())


def finish(app: LayupApp) -> None:
    """End the session."""
    day = _day(app)
    if day is None:
        return

    def ended(answer: str) -> None:
        if answer == "yes":
            app.heard(day.log(SessionEnded(), "session ended: it is in the logbook (l)"))

    app.ask(Choose("End this session?", [("y", "yes", "yes, keep it in the logbook"), ("n", "no", "not yet")]), ended)


def search(app: LayupApp) -> None:
    """List the sessions in which some words occur."""
    from layup.screens.log_place import LogPlace

    place = app.base.query_one(LogPlace)
    title = "Search the sessions for"
    ask = Ask(
        title, "names, tags, lots, notes; nothing shows all", check=lambda _: None, value=place.words, max_length=200
    )

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
    if app.day is not None and app.day.fault:
        app.say(app.day.fault)
        return
    if (
        app.day is not None
        and not app.day.watching
        and app.day.state.closed_s is None
        and app.day.state.ended_s is None
    ):
        app.farewell = f"press day kept in {app.day.folder}; the clocks go on. Back to it: layup"
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
