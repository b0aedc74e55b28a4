"""What every calculation rests on: values in range, a place where something that grows is zero, an integral, a curve.

Every range that a docstring states is held: a value beyond it raises RangeError, nothing is clamped in silence.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf, isfinite
from typing import TYPE_CHECKING, TypeAlias, TypeVar

from layup.errors import RangeError
from layup.units import show, temperature, temperature_change

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Array: TypeAlias = "NDArray[np.float64]"
Real = TypeVar("Real", float, "NDArray[np.float64]")
"""One number, or many in an array."""


def require_positive(where: str, value: float, *, unit: str = "", todo: str = "") -> float:
    """Return `value`, a finite number above zero, or raise RangeError naming `where`."""
    return require_between(where, value, 0.0, inf, unit=unit, todo=todo, open_low=True)


def require_stated(
    where: str,
    value: float | None,
    low: float = 0.0,
    high: float = inf,
    *,
    unit: str = "",
    todo: str = "",
    open_low: bool = False,
) -> None:
    """Raise RangeError for a value out of range, where one is stated."""
    if value is not None:
        require_between(where, value, low, high, unit=unit, todo=todo, open_low=open_low)


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


# -- root ------------------------------------------------------------------------------------------------------------

MOST_TRIES = 200


def first_at_or_above(
    rising: Callable[[float], float],
    low: float,
    high: float,
    within: float,
    *,
    at_low: float | None = None,
    at_high: float | None = None,
) -> float:
    """Return a place at most `within` beyond the first at which something that rises is at or above zero.

    In `low` to `high`; what rises is at or above zero there, but for `high` [-]. Regula falsi with the Illinois rule,
    each trial at least most of `within` inside the bracket, so that both its ends close in; halving wherever three
    trials have not halved it. Source: Dowell and Jarratt, BIT 11 (1971) 168 (from memory).

    >>> round(first_at_or_above(lambda x: x * x - 2.0, 0.0, 2.0, 1e-12), 9)
    1.414213562

    Parameters
    ----------
    rising : What is below zero before some place and not after it; infinities only say on which side they are [-]
    low : Where to begin; the answer, if it is at or above zero there already [-]
    high : The answer, if it is nowhere below that at or above zero [-]
    within : How much too far the answer may be, above 0 [-]
    at_low : Its value at `low`, where that is known [-]
    at_high : Its value at `high`, where that is known [-]
    """
    at_low = rising(low) if at_low is None else at_low
    if at_low >= 0.0:
        return low
    at_high = rising(high) if at_high is None else at_high
    if at_high < 0.0:
        return high
    side, width, tries = 0, high - low, 0
    for _ in range(MOST_TRIES):
        if high - low <= within:
            break
        rise = at_high - at_low
        share = at_high / rise if 0.0 < rise < inf and tries < 3 else 0.5
        if tries == 3:
            tries, width = 0, high - low
        reach = min(0.9 * within, 0.5 * (high - low))
        guess = min(max(high - share * (high - low), low + reach), high - reach)
        value = rising(guess)
        if value >= 0.0:
            at_low *= 0.5 if side > 0 else 1.0
            high, at_high, side = guess, value, 1
        else:
            at_high *= 0.5 if side < 0 else 1.0
            low, at_low, side = guess, value, -1
        tries = 0 if high - low <= 0.5 * width else tries + 1
        width = high - low if tries == 0 else width
    return high


# -- integral --------------------------------------------------------------------------------------------------------

GAUSS = (  # abscissae and weights of the five-point Gauss-Legendre rule on [-1, 1]
    (-0.906179845938664, 0.23692688505618908),
    (-0.5384693101056831, 0.47862867049936647),
    (0.0, 0.5688888888888889),
    (0.5384693101056831, 0.47862867049936647),
    (0.906179845938664, 0.23692688505618908),
)


def integral(of: Callable[[float], float], start: float, end: float, panels: int) -> float:
    """Return an integral by the five-point Gauss-Legendre rule on so many panels."""
    half = 0.5 * (end - start) / panels
    total = 0.0
    for i in range(panels):
        middle = start + (2 * i + 1) * half
        total += sum(weight * of(middle + half * x) for x, weight in GAUSS)
    return total * half


# -- curve -----------------------------------------------------------------------------------------------------------


def cubic(t: Real, h: Real, y0: Real, y1: Real, slope0: Real, slope1: Real) -> Real:
    """Return the cubic through both ends of a stretch `h` wide, a share `t` along it; of floats or of arrays.

    The value there [as `y0`]; an array where any of these is one.

    Parameters
    ----------
    t : Share of the way along, 0 to 1 [-]
    h : Width of the stretch, above 0, in the unit of the abscissa
    y0 : Value at its begin
    y1 : Value at its end
    slope0 : Slope at its begin
    slope1 : Slope at its end
    """
    rise = y1 - y0
    near, far = h * slope0 - rise, rise - h * slope1
    return y0 + t * rise + t * (1.0 - t) * (near * (1.0 - t) + far * t)


@dataclass(frozen=True, slots=True)
class Curve:
    """A piecewise cubic through (`x`, `y`) with the given `slopes` at the points."""

    x: tuple[float, ...]
    y: tuple[float, ...]
    slopes: tuple[float, ...]

    def __call__(self, at: float) -> float:
        """Return the curve's value; outside its points raises RangeError."""
        x, y, slopes = self.x, self.y, self.slopes
        if not x[0] <= at <= x[-1]:
            raise RangeError("curve", "is read outside its points", value=at, allowed=f"{x[0]:g} to {x[-1]:g}")
        i = min(bisect_right(x, at), len(x) - 1) - 1
        return cubic((at - x[i]) / (x[i + 1] - x[i]), x[i + 1] - x[i], y[i], y[i + 1], slopes[i], slopes[i + 1])

    def integral(self) -> float:
        """Return the area under the whole curve, exactly."""
        total = 0.0
        for i in range(len(self.x) - 1):
            h = self.x[i + 1] - self.x[i]
            total += h * (self.y[i] + self.y[i + 1]) / 2.0 + h * h * (self.slopes[i] - self.slopes[i + 1]) / 12.0
        return total


def monotone_curve(x: Sequence[float], y: Sequence[float]) -> Curve:
    """Fit the shape-preserving piecewise cubic through the points.

    Raises RangeError for fewer than two points, or places that do not increase. Slope at an inner point: the weighted
    harmonic mean of the two neighbouring chords, zero where they differ in sign; at an end: the three-point formula,
    limited so that the shape is kept. Source: Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) 238; Fritsch and
    Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300.

    >>> monotone_curve([0.0, 1.0, 3.0], [0.0, 1.0, 1.0])(2.0)
    1.0

    Parameters
    ----------
    x : Two or more places, strictly increasing
    y : The value at each
    """
    if len(x) < 2 or len(x) != len(y):
        raise RangeError("curve", "needs two or more points", value=len(x), allowed="as many values as places")
    h = [b - a for a, b in pairwise(x)]
    if min(h) <= 0.0:
        raise RangeError("curve", "has places that do not increase", value=min(h), allowed="strictly increasing")
    chord = [(y1 - y0) / step for y0, y1, step in zip(y, y[1:], h, strict=False)]
    if len(h) == 1:
        slopes: tuple[float, ...] = (chord[0], chord[0])
    else:
        inner = (_inner_slope(h[i], h[i + 1], chord[i], chord[i + 1]) for i in range(len(h) - 1))
        slopes = (
            _end_slope(h[0], h[1], chord[0], chord[1]),
            *inner,
            _end_slope(h[-1], h[-2], chord[-1], chord[-2]),
        )
    return Curve(tuple(x), tuple(y), slopes)


def _inner_slope(h0: float, h1: float, chord0: float, chord1: float) -> float:
    if chord0 * chord1 <= 0.0:
        return 0.0
    w0, w1 = 2.0 * h1 + h0, h1 + 2.0 * h0
    return (w0 + w1) / (w0 / chord0 + w1 / chord1)


def _end_slope(h0: float, h1: float, chord0: float, chord1: float) -> float:
    """Return the slope at the end beside interval 0, whose neighbour is interval 1."""
    slope = ((2.0 * h0 + h1) * chord0 - h0 * chord1) / (h0 + h1)
    if slope * chord0 <= 0.0:
        return 0.0
    if chord0 * chord1 <= 0.0 and abs(slope) > 3.0 * abs(chord0):
        return 3.0 * chord0
    return slope
