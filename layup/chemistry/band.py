"""What is unsure, as three numbers: the one band."""

from __future__ import annotations

from math import exp
from typing import NamedTuple

EIGHTY_PERCENT = 1.2815515655446004
"""Standard deviations to each side of the middle 80 % of a normal distribution."""


class Band(NamedTuple):
    """What is expected, with the ends of its 80 % band; whoever holds one names the unit.

    One case in ten is below `low`, one beyond `high`.
    """

    low: float
    likely: float
    high: float

    @classmethod
    def around(cls, likely: float, log_sd: float) -> Band:
        """Return the band of something log-normal with a standard deviation of its logarithm."""
        factor = exp(EIGHTY_PERCENT * log_sd)
        return cls(likely / factor, likely, likely * factor)

    def later(self, by: float) -> Band:
        """Return the band so much further on."""
        return Band(self.low + by, self.likely + by, self.high + by)

    def times(self, factor: float) -> Band:
        """Return the band in another unit."""
        return Band(self.low * factor, self.likely * factor, self.high * factor)

    def no_sooner(self, than: Band) -> Band:
        """Return the band with neither end before that of another."""
        return Band(max(self.low, than.low), self.likely, max(self.high, than.high))
