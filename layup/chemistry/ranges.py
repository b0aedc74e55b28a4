"""Range checks shared by the core: out of range raises, nothing is clamped in silence."""

from __future__ import annotations

from math import isfinite

from layup.errors import RangeError


def require_positive(where: str, value: float, *, unit: str = "", todo: str = "") -> float:
    """Return `value`, a finite number above zero, or raise RangeError naming `where`."""
    return require_between(where, value, 0.0, float("inf"), unit=unit, todo=todo, open_low=True)


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
    """Return `value` if it is finite and within [low, high] (ends open where asked), or raise RangeError."""
    good = isfinite(value) and low <= value <= high
    good = good and not (open_low and value == low) and not (open_high and value == high)
    if good:
        return value
    if high == float("inf"):
        allowed = f"must be {'above' if open_low else 'at least'} {low:g}{' ' + unit if unit else ''}"
    else:
        allowed = f"must be between {low:g} and {high:g}{' ' + unit if unit else ''}"
    if source:
        allowed += f" ({source})"
    wrong = "is not a number" if value != value else "is out of range"
    raise RangeError(where, wrong, value=f"{value:g}{' ' + unit if unit else ''}", allowed=allowed, todo=todo)
