"""Keys around the bench: the list before the day, readings of the shop, the night to come, and the part out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layup.planning.overnight import OUT_BY_S
from layup.records.events import Demoulded, HumidityRead, NightExpected, WoodMoistureRead
from layup.screens.day import PressDay
from layup.screens.prompts import Choose
from layup.screens.quantities import ask_hours, ask_share, ask_temperature

if TYPE_CHECKING:
    from layup.screens.app import LayupApp

NO_DAY = "not now: no press day is running - press s, then g to begin it"
READINGS = (
    ("n", "tonight", "the shop tonight, at its coldest"),
    ("h", "humidity", "humidity of the air"),
    ("w", "wood", "moisture of the wood"),
)
"""What can be logged of the shop beside temperatures: (key, answer, words)."""


def log_reading(app: LayupApp, day: PressDay, what: str) -> None:
    """Ask for one of READINGS, and log it."""
    {"tonight": _tonight, "humidity": _humidity, "wood": _wood}[what](app, day)


def _tonight(app: LayupApp, day: PressDay) -> None:
    before = day.state.night

    def wanted(coldest_K: float) -> None:
        def keep(out_by_s: float) -> None:
            words = (
                f"tonight down to {coldest_K - 273.15:.0f} °C, part wanted out {out_by_s / 3600:.0f} h after closing"
            )
            app.heard(day.log(NightExpected(coldest_K=coldest_K, out_by_s=out_by_s), words))

        usual_s = before.out_by_s if before and before.out_by_s else OUT_BY_S
        ask_hours(app, "Part wanted out of the mould, hours after closing", usual_s, keep)

    ask_temperature(app, "Coldest shop tonight", wanted)


def _humidity(app: LayupApp, day: PressDay) -> None:
    def keep(share: float) -> None:
        app.heard(day.log(HumidityRead(relative_humidity=share), f"humidity {share:.0%}"))

    ask_share(app, "Humidity of the air", "a number is %", keep)


def _wood(app: LayupApp, day: PressDay) -> None:
    def keep(share: float) -> None:
        app.heard(day.log(WoodMoistureRead(moisture_fraction=share), f"wood at {share:.0%} moisture"))

    ask_share(app, "Moisture of the wood", "water over dry mass: a number is %", keep)


def before_you_start(app: LayupApp) -> None:
    """Show the list of what has to be ready before the first batch."""
    from layup.screens.checklist_page import open_checklist

    open_checklist(app)


def demoulded(app: LayupApp) -> None:
    """Log that the part is out of the mould."""
    day = app.day
    if day is None:
        app.say(NO_DAY)
        return

    def out(answer: str) -> None:
        if answer == "yes":
            app.heard(day.log(Demoulded(), "the part is out of the mould"))

    title = "Is the part out of the mould? Let the pressure off first: clamps and bladders hold force."
    app.ask(Choose(title, [("y", "yes", "yes, it is out"), ("n", "no", "not yet")]), out)
