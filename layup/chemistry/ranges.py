"""Range checks shared by the core: out of range raises, nothing is clamped in silence."""

from __future__ import annotations

from collections.abc import Callable
from math import inf, isfinite

from layup.errors import RangeError
from layup.units import show, temperature, temperature_change


def require_positive(where: str, value: float, *, unit: str = "", todo: str = "") -> float:
    """Return `value`, a finite number above zero, or raise RangeError naming `where`."""
    return require_between(where, value, 0.0, inf, unit=unit, todo=todo, open_low=True)


def require_between(
    where: str,
    value: float,
    low: float,
    high: float,
    *,
    unit: str = "",
    source: str = "",
    todo: str = "",
    open_low: bool = False,
    open_high: bool = False,
) -> float:
    """Return `value` if it is finite and within [low, high] (ends open where asked), or raise RangeError.

    A temperature, in kelvin with `unit="K"`, is told as people see it, and so is a difference of two, with `unit="ΔK"`.
    A time, with `unit="s"`, is told in minutes, hours or days where it is a whole number of minutes.
    """
    if low < value < high:  # by far the most usual, and asked tens of thousands of times
        return value
    good = isfinite(value) and low <= value <= high
    good = good and not (open_low and value == low) and not (open_high and value == high)
    if good:
        return value
    tell, unit = _told_in(unit)
    after = f" {unit}" if unit else ""
    first, last, told = (tell(each) for each in (low, high, value))
    if high == inf:
        allowed = f"must be {'above' if open_low else 'at least'} {first}{after}"
    else:
        out = " and ".join(end for end, is_open in ((first, open_low), (last, open_high)) if is_open)
        allowed = f"must be between {first} and {last}{after}" + (f", {out} excluded" if out else "")
    if source:
        allowed += f" ({source})"
    wrong = "is not a number" if value != value else "is out of range"
    raise RangeError(where, wrong, value=f"{told}{after}", allowed=allowed, todo=todo)


def _told_in(unit: str) -> tuple[Callable[[float], str], str]:
    """Return how a number in `unit` is written, and the unit that stands after it."""
    if unit == "s":
        return _time, ""
    shown = {"K": temperature, "ΔK": temperature_change}.get(unit)
    return (_number, unit) if shown is None else (lambda value: _number(shown.number(value)), shown.sign)


def _number(value: float) -> str:
    """Write a number as people do: a million has its noughts."""
    return f"{value:g}" if abs(value) < 1e6 else f"{value:.0f}"


def _time(value_s: float) -> str:
    """Write a time as people do, unless that would round it."""
    return show(value_s, "time") if isfinite(value_s) and value_s and value_s % 60.0 == 0.0 else f"{value_s:g} s"
