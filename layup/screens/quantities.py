"""Ask for one number with its unit: a temperature, a share, hours. A bare number takes the usual unit."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from layup.chemistry.ranges import require_between
from layup.errors import InputError, LayupError
from layup.screens.prompts import Ask
from layup.units import parse

if TYPE_CHECKING:
    from textual.app import App
    from textual.screen import ModalScreen

COLDEST_K, HOTTEST_K = 233.15, 523.15
SOONEST_H, LATEST_H = 1.0, 14 * 24.0

Taken = Callable[[float], None]


def kelvin_of(text: str) -> float:
    """Read a temperature; a bare number is in degrees Celsius."""
    kelvin = parse(_with_unit(text, "degC"), "temperature", where="temperature")
    return require_between("temperature", kelvin, COLDEST_K, HOTTEST_K, unit="K")


def share_of(text: str) -> float:
    """Read a share; a bare number is in per cent."""
    share = parse(_with_unit(text, "%"), "fraction", where="share")
    return require_between("share", share, 0.0, 1.0, todo="0 to 100 %")


def seconds_of(text: str) -> float:
    """Read a time; a bare number is in hours."""
    seconds = parse(_with_unit(text, "h"), "time", where="time")
    todo = "from an hour to two weeks"
    return require_between("time", seconds, SOONEST_H * 3600.0, LATEST_H * 3600.0, unit="s", todo=todo)


def part_of_g(text: str, whole_g: float) -> float:
    """Read how much of some grams: grams, which a bare number is, or a share of them in per cent."""
    if text.strip().endswith("%"):
        return whole_g * share_of(text)
    mass_g = parse(_with_unit(text, "g"), "mass", where="mass")
    return require_between("mass", mass_g, 0.0, whole_g, unit="g", todo="grams, or a share such as 50 %")


def ask_part_of(app: App[None], title: str, whole_g: float, usual_g: float, then: Taken) -> None:
    """Ask how much of some grams; the usual answer stands there in whole grams, and left as it is means it exactly."""
    hint = f"grams, 0 to {whole_g:.0f}, or a share such as 50 %. Now: by the steps done"
    value = f"{usual_g:.0f}"
    _ask(app, title, hint, lambda text: usual_g if text == value else part_of_g(text, whole_g), then, value=value)


def ask_temperature(
    app: App[None], title: str, then: Taken, *, low_K: float = COLDEST_K, high_K: float = HOTTEST_K
) -> None:
    """Ask for a temperature between two that make sense there."""

    def read(text: str) -> float:
        kelvin = kelvin_of(text)
        if not low_K <= kelvin <= high_K:
            raise InputError(
                "temperature",
                "cannot be right here",
                value=f"{kelvin - 273.15:.1f} °C",
                allowed=f"between {low_K - 273.15:.0f} and {high_K - 273.15:.0f} °C",
                todo="read the thermometer again",
            )
        return kelvin

    _ask(app, title, "a number is °C; 68 F is understood", read, then)


def ask_share(app: App[None], title: str, hint: str, then: Taken) -> None:
    """Ask for a share."""
    _ask(app, title, hint, share_of, then)


def ask_hours(app: App[None], title: str, usual_s: float, then: Taken) -> None:
    """Ask for a time; the usual one stands there already."""
    _ask(app, title, "a number is hours; 2 d is understood", seconds_of, then, value=f"{usual_s / 3600.0:g}")


def _ask(app: App[None], title: str, hint: str, read: Callable[[str], float], then: Taken, *, value: str = "") -> None:
    def check(text: str) -> str | None:
        try:
            read(text)
        except LayupError as error:
            return str(error)
        return None

    def answered(text: str | None) -> None:
        if text is not None:
            then(read(text))

    screen: ModalScreen[str | None] = Ask(title, hint, check=check, value=value)
    app.push_screen(screen, answered)


def _with_unit(text: str, unit: str) -> str:
    plain = text.strip()
    bare = plain.replace(",", ".").lstrip("-").replace(".", "", 1).isdigit()
    return f"{plain} {unit}" if bare else plain
