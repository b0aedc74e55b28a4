"""What a plan must know of a resin in a shop: how long a batch lasts in its cup, and then on the part."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp
from typing import Protocol

from layup.chemistry.potlife import HeatClass
from layup.chemistry.spread import EIGHTY_PERCENT, Covariance, log_sd
from layup.planning.monotone import monotone_curve

EMPTY_BY: dict[HeatClass, float] = {"warm": 1.0, "hot": 0.9, "runaway": 0.8}
"""Share of a cup's life, low edge, in which it must be emptied. Nearly every cup of mix would run away if it were left
standing: what keeps it safe is to empty it well before it thickens (common practice, no source for the shares)."""


@dataclass(frozen=True, slots=True)
class CupLife:
    """How long a batch stays usable in its cup, from first contact to thickening: the 80 % band and its middle."""

    low_s: float
    mid_s: float
    high_s: float
    heat_class: HeatClass

    @property
    def empty_by_s(self) -> float:
        """Return the time from first contact by which the cup must be empty [s]."""
        return self.low_s * EMPTY_BY[self.heat_class]


@dataclass(frozen=True, slots=True)
class Spread:
    """How the lives of one batch mass move with what is unsure about the resin.

    Each slope is the change for one standard deviation of one unsure thing: of the logarithm of the cup's life, and
    of the open life in seconds, at each of the ages `held_s` at which the mix may be laid.
    """

    cup_mid_s: float
    cup_slopes: tuple[float, ...]
    held_s: tuple[float, ...]
    open_mid_s: tuple[float, ...]
    open_slopes_s: tuple[tuple[float, ...], ...]
    """One row for each unsure thing, one value for each age."""
    covariance: Covariance
    """Of the unsure things, in units of their own standard deviations."""

    def open_band_s(self, held_s: float) -> tuple[float, float, float]:
        """Return low edge, middle and high edge of the open life of mix laid at `held_s` [s].

        As in `Clocks.open_low_s`, held beyond the cup's life counts as its end.
        """
        age = min(held_s, self.held_s[-1])
        mid = monotone_curve(self.held_s, self.open_mid_s)(age)
        sd = log_sd([monotone_curve(self.held_s, slopes)(age) for slopes in self.open_slopes_s], self.covariance)
        if mid <= 0.0:
            return mid, mid, mid
        factor = exp(EIGHTY_PERCENT * sd / mid)
        return mid / factor, mid, mid * factor


class Clocks(Protocol):
    """The lives of one resin in one shop, for a batch of any mass. All times count from first contact."""

    def cup(self, mass_g: float) -> CupLife:
        """Return the life in the cup."""

    def empty_by_s(self, mass_g: float) -> float:
        """Return the same as `cup(mass_g).empty_by_s`; it is asked for often."""

    def open_low_s(self, mass_g: float, held_s: float) -> float:
        """Return the low edge of how long all mix laid from first contact to `held_s` stays open on the part.

        Held beyond the cup's life counts as its end: the cup's own limit says the rest.
        """

    def spread(self, mass_g: float) -> Spread:
        """Return how both lives move with what is unsure."""
