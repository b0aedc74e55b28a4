"""Keys of the press day as a whole: steps, notes, lots, readings, night, the press closed, the part out, the end."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layup.app.prompts import (
    WOOD_HINT,
    Ask,
    Choose,
    ask_out_by,
    ask_share,
    ask_temperature,
    if_yes,
    nothing_written,
    sure,
)
from layup.bench.alarms import PLAUSIBLE_K
from layup.bench.day import HERE, PressDay, Said
from layup.bench.doing import end_question, out_question, still_inside, taken_out, temperature_read
from layup.bench.doing import ended as end_of
from layup.bench.doing import undo as undo_on
from layup.errors import InputError, LayupError
from layup.planning.checklist import LOOK_AT_HARDENER
from layup.planning.night import OUT_BY_S
from layup.session.batch_events import Demoulded
from layup.session.day_events import HumidityRead, LotRecorded, SessionEnded, WoodMoistureRead
from layup.session.records import refusal
from layup.session.state import Event, NightExpected
from layup.session.state_parts import last_read
from layup.session.text import clean
from layup.units import in_hours, temperature

if TYPE_CHECKING:
    from layup.app.place import Host


def running_day(app: Host) -> PressDay | None:
    """Return the press day that runs, or say that none does."""
    if app.day is None:
        app.say("not now: no press day is running - press s, then g to begin it")
    elif app.day.state.ended_s is not None and not app.day.watching:
        app.say("not now: the session is ended - press s, then g to begin the next")
        return None
    return app.day


def can_be(app: Host, day: PressDay, event: Event) -> bool:
    """Say why something cannot be logged now, before anybody is asked about it; a looker-on hears it at the end."""
    why = None if day.watching else refusal(day.state, event)
    if why is not None:
        app.say(f"not now: {why}")
    return why is None


def lot(app: Host) -> None:
    """Log a lot number."""
    day = running_day(app)
    if day is None:
        return

    def typed(component: str) -> None:
        def keep(text: str) -> None:
            plain = clean(text)
            event = LotRecorded(component="resin" if component == "resin" else "hardener", lot=plain)
            app.heard(day.log(event, f"{component} lot {plain}"))

        hint = f"as printed on the can; {LOOK_AT_HARDENER}" if component == "hardener" else "as printed on the can"
        app.ask(Ask(f"Lot number of the {component}", hint, check=nothing_written, max_length=200), keep)

    app.ask(Choose("Lot number of which can?", [("1", "resin", "resin"), ("2", "hardener", "hardener")]), typed)


def note(app: Host) -> None:
    """Log free words."""
    day = running_day(app)
    if day is None:
        return

    def keep(text: str) -> None:
        from layup.app.afterwards import ask_next_time
        from layup.bench.afterwards import noted

        kept = noted(day, text)
        app.heard(kept)
        if kept.done:
            ask_next_time(app, day, text)

    app.ask(Ask("Note", "for next time", check=nothing_written, max_length=20_000), keep)


def demoulded(app: Host) -> None:
    """Log that the part is out of the mould."""
    day = running_day(app)
    if day is None:
        return
    if not can_be(app, day, Demoulded()):
        return

    from layup.app.cure import CurePlace

    warning = app.at(CurePlace).warning(day)
    yes = "yes, it is planed" if day.state.is_casting else "yes, it is out"
    app.ask(sure(f"{warning}{out_question(day)}", yes, "not yet"), if_yes(lambda: app.heard(taken_out(day))))


def seen(app: Host) -> None:
    """Let the act on top wait: it is quiet until it gets worse."""
    day = running_day(app)
    if day is None or app.alarm_monitor is None:
        return
    if app.view is not None and app.view.act.kind == "answer clock" and not day.watching:
        from layup.app.opening import ask_clock

        ask_clock(app, day)
    else:
        app.heard(app.alarm_monitor.seen())


def undo(app: Host) -> None:
    """Take the last entry back, after a question where another surface logged it."""
    day = app.day or running_day(app)
    if day is None:
        return

    def take_back(sure_of: str = "") -> None:
        found = undo_on(day, HERE, sure_of)
        if isinstance(found, Said):
            app.heard(found)
        else:
            app.ask(sure(found.title, "yes, take it back"), if_yes(lambda: take_back(found.about)))

    take_back()


def that_was(app: Host) -> None:
    """Give the last entry the time at which it happened: a forgotten key makes no clock too young."""
    from layup.bench import changes

    day = running_day(app)
    if day is None:
        return
    seq = changes.last_told(day)
    if seq is None:
        app.say("not now: there is no entry yet")
        return

    def wrong(text: str) -> str | None:
        try:
            changes.when_s(day, text)
        except InputError as error:
            return str(error)
        return None

    ask = Ask(changes.when_question(day, seq), "minutes ago, or 08:41", check=wrong, max_length=40)
    app.ask(ask, lambda text: app.heard(changes.that_was(day, changes.when_s(day, text), seq)))


def finish(app: Host) -> None:
    """End the session once the press is closed; a day that is given up before is ended as it is left."""
    day = running_day(app)
    if day is None:
        return
    if day.state.closed_s is None and not day.watching:
        app.say("not now: the press is not closed - q ends a day before that")
    elif can_be(app, day, SessionEnded()):
        end_session(app, day)


def end_session(app: Host, day: PressDay, *, asked: bool = False) -> None:
    """Ask whether to end the session, unless it was `asked`, and end it: by Enter alone where nothing else is left."""

    def ended() -> None:
        from layup.app.afterwards import ask_afterwards
        from layup.app.opening import over

        said = end_of(day, "session ended: L, then E adds how it turned out")
        app.heard(said)
        if said.done and day.is_dry:
            over(app, day)
            app.say(said.words)
        elif said.done and day.state.closed_s is not None and day.folder != app.played:
            ask_afterwards(app, day.folder)

    if asked:
        ended()
        return
    nothing_left = day.state.closed_s is not None and not still_inside(day)
    app.ask(sure(end_question(day), "yes, end it", "not yet", likely=nothing_left), if_yes(ended))


# -- the shop ---------------------------------------------------------------------------------------------------------

CUP_KEYS = "cdefgi"
CUP_K = (253.15, 523.15)
"""What a mix can have, from a cold can to a cup that burns."""
JUMP_K = 6.0
"""A place that changed by more since its last reading may be a slip of the finger (common practice, no source)."""
READINGS = (
    ("n", "tonight", "coldest tonight"),
    ("s", "forecast", "shop's day"),
    ("h", "humidity", "humidity"),
    ("w", "wood", "wood moisture"),
)
"""What can be logged of the shop beside temperatures: (key, answer, words)."""


def read_temperature(app: Host) -> None:
    """Log a temperature: where, then how much."""
    day = running_day(app)
    if day is None:
        return
    places = [
        ("a", "air", "shop air"),
        ("r", "resin", "cans"),
        ("m", "mould", "mould"),
    ]
    places += [
        (key, f"cup {batch.number}", f"cup {batch.number}") for key, batch in zip(CUP_KEYS, day.in_cup(), strict=False)
    ]
    others = {answer for _, answer, _ in READINGS}

    def asked(place: str) -> None:
        if place in others:
            log_reading(app, day, place)
            return
        low_K, high_K = PLAUSIBLE_K.get(place, CUP_K)

        def read(kelvin: float) -> None:
            def keep() -> None:
                app.heard(temperature_read(day, place, kelvin))

            before_K = _last_K(day, place)
            if before_K is None or abs(kelvin - before_K) < JUMP_K:
                keep()
                return
            was = f"{temperature(before_K)} when last logged"
            title = f"{place.capitalize()} {temperature(kelvin, '.1f')}? It was {was}, and every countdown follows it."
            app.ask(sure(title, "yes, it shows that"), if_yes(keep))

        ask_temperature(app, f"Temperature: {place}", read, low_K=low_K, high_K=high_K)

    app.ask(Choose("Log what?", [*places, *READINGS], digit="air"), asked)


def _last_K(day: PressDay, place: str) -> float | None:
    """Return what was last logged of a place that changes slowly; None of a cup, which may heat up at once."""
    return last_read({"air": day.state.air, "resin": day.state.resin, "mould": day.state.mould}.get(place, ()))


def log_reading(app: Host, day: PressDay, what: str) -> None:
    """Ask for one of READINGS, and log it."""
    {"tonight": _tonight, "forecast": _forecast, "humidity": _humidity, "wood": _wood}[what](app, day)


def _tonight(app: Host, day: PressDay) -> None:
    before = day.state.night

    def wanted(coldest_K: float) -> None:
        def keep(out_by_s: float) -> None:
            words = f"tonight {temperature(coldest_K)}, out after {in_hours(out_by_s)}"
            app.heard(day.log(NightExpected(coldest_K=coldest_K, out_by_s=out_by_s), words))

        usual_s = before.out_by_s if before and before.out_by_s else OUT_BY_S
        ask_out_by(app, usual_s, keep)

    ask_temperature(app, "Coldest shop tonight", wanted)


def _forecast(app: Host, day: PressDay) -> None:
    from layup.bench.opening import forecast_of
    from layup.files.attachments import read_forecast

    def trouble(text: str) -> str | None:
        try:
            read_forecast(text, folder=app.planner.workshop.root)
        except LayupError as error:
            return error.words
        return None

    def keep(text: str) -> None:
        event = forecast_of(read_forecast(text, folder=app.planner.workshop.root), app.clock)
        app.heard(day.log(event, event.describe()))

    app.ask(Ask("The shop's day", '"4 degC to 16 degC"', check=trouble), keep)


def _humidity(app: Host, day: PressDay) -> None:
    def keep(share: float) -> None:
        app.heard(day.log(HumidityRead(relative_humidity=share), f"humidity {100 * share:.0f} %"))

    ask_share(app, "Humidity of the air", "%", keep)


def _wood(app: Host, day: PressDay) -> None:
    def keep(share: float) -> None:
        app.heard(day.log(WoodMoistureRead(moisture_fraction=share), f"wood at {100 * share:.0f} % moisture"))

    ask_share(app, "Moisture of the wood", WOOD_HINT, keep)


def before_you_start(app: Host) -> None:
    """Show the list of what has to be ready before the first batch."""
    from layup.app.checklist import open_checklist

    open_checklist(app)
