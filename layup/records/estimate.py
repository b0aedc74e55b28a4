"""A measured value with its uncertainty, and what a rule makes of some of them.

Standard uncertainties, carried over as the GUM says (JCGM 100:2008): each input is moved by half of its own to each
side and the changes are added in squares; inputs are taken as independent.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt

RECTANGULAR = sqrt(3.0)
"""A value that may be off by up to a, either way, has the standard uncertainty a/sqrt(3) (JCGM 100:2008, 4.3.7)."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its standard uncertainty."""

    value: float
    sd: float = 0.0

    @classmethod
    def within(cls, value: float, half_width: float) -> Estimate:
        """Return a value that may be off by up to `half_width`, either way."""
        return cls(value, half_width / RECTANGULAR)

    @classmethod
    def read(cls, value: float, digit: float) -> Estimate:
        """Return a reading of a display, right to half its last digit."""
        return cls.within(value, 0.5 * digit)


def carried(rule: Callable[..., float], *inputs: Estimate) -> Estimate:
    """Return what a rule makes of some inputs, with the uncertainty that they carry into it."""
    values = [one.value for one in inputs]
    variance = 0.0
    for i, one in enumerate(inputs):
        if one.sd:
            low, high = list(values), list(values)
            low[i], high[i] = one.value - 0.5 * one.sd, one.value + 0.5 * one.sd
            variance += (rule(*high) - rule(*low)) ** 2
    return Estimate(rule(*values), sqrt(variance))
