"""Keys of the shop: the list before the day, temperatures and other readings, the night to come."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layup.dimensions import ZERO_CELSIUS_K
from layup.planning.overnight import OUT_BY_S
from layup.records.events import CupTemperatureRead, HumidityRead, NightExpected, TemperatureRead, WoodMoistureRead
from layup.records.thermometer import PLAUSIBLE_K
from layup.screens.day import PressDay, Said
from layup.screens.day_deeds import running_day
from layup.screens.prompts import Choose, if_yes, sure
from layup.screens.quantities import ask_hours, ask_share, ask_temperature

if TYPE_CHECKING:
    from layup.screens.app import LayupApp

CUP_KEYS = "cdefgi"
CUP_K = (253.15, 523.15)
"""What a mix can have, from a cold can to a cup that burns."""
JUMP_K = 6.0
"""A place that changed by more since its last reading may be a slip of the finger (common practice, no source)."""
READINGS = (
    ("n", "tonight", "the shop tonight, at its coldest"),
    ("h", "humidity", "humidity of the air"),
    ("w", "wood", "moisture of the wood"),
)
"""What can be logged of the shop beside temperatures: (key, answer, words)."""


def temperature(app: LayupApp) -> None:
    """Log a temperature: where, then how much."""
    day = running_day(app)
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

        def read(kelvin: float) -> None:
            def keep() -> None:
                app.heard(_log_temperature(day, place, kelvin))

            before_K = _last_K(day, place)
            if before_K is None or abs(kelvin - before_K) < JUMP_K:
                keep()
                return
            was = f"{before_K - ZERO_CELSIUS_K:.0f} °C when last logged"
            title = (
                f"{place.capitalize()} {kelvin - ZERO_CELSIUS_K:.1f} °C? It was {was}, and every countdown follows it."
            )
            app.ask(sure(title, "yes, it shows that"), if_yes(keep))

        ask_temperature(app, f"Temperature: {place}", read, low_K=low_K, high_K=high_K)

    app.ask(Choose("Temperature of what?", [*places, *READINGS]), asked)


def _last_K(day: PressDay, place: str) -> float | None:
    """Return what was last logged of a place that changes slowly; None of a cup, which may heat up at once."""
    readings = {"air": day.state.air, "resin": day.state.resin, "mould": day.state.mould}.get(place, ())
    return readings[-1][1] if readings else None


def _log_temperature(day: PressDay, place: str, kelvin: float) -> Said:
    words = f"{place} at {kelvin - 273.15:.1f} °C: every countdown follows it"
    if place == "air":
        return day.log(TemperatureRead(place="air", temperature_K=kelvin), words)
    if place == "resin":
        return day.log(TemperatureRead(place="resin", temperature_K=kelvin), f"resin at {kelvin - 273.15:.1f} °C")
    if place == "mould":
        return day.log(TemperatureRead(place="mould", temperature_K=kelvin), words)
    return day.log(CupTemperatureRead(batch=int(place.removeprefix("cup ")), temperature_K=kelvin), words)


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
        app.heard(day.log(HumidityRead(relative_humidity=share), f"humidity {100 * share:.0f} %"))

    ask_share(app, "Humidity of the air", "a number is %", keep)


def _wood(app: LayupApp, day: PressDay) -> None:
    def keep(share: float) -> None:
        app.heard(day.log(WoodMoistureRead(moisture_fraction=share), f"wood at {100 * share:.0f} % moisture"))

    ask_share(app, "Moisture of the wood", "water over dry mass: a number is %", keep)


def before_you_start(app: LayupApp) -> None:
    """Show the list of what has to be ready before the first batch."""
    from layup.screens.checklist_page import open_checklist

    open_checklist(app)
