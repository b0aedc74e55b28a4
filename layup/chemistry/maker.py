"""What a resin's maker says of demoulding: hours at a few temperatures, read as one clock."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import exp, log

from layup.chemistry.datasheet import CurePoint
from layup.chemistry.kinetics import GAS_CONSTANT_J_MOL_K
from layup.chemistry.ranges import require_between, require_positive
from layup.errors import RangeError
from layup.units import in_hours, temperature


@dataclass(frozen=True, slots=True)
class MakersClock:
    """The maker's demould times: 1/t(T) is how fast a part comes of age at a temperature.

    Between two stated temperatures ln t is straight in 1/T; beyond them it has the resin's own activation energy. At
    each stated temperature held, the clock is up at exactly the stated time. Without stated times it stands still.
    """

    points: tuple[CurePoint, ...] = ()
    activation_energy_J_mol: float = 55_000.0

    def __post_init__(self) -> None:
        points = tuple(sorted(self.points, key=lambda point: point.temperature_K))
        object.__setattr__(self, "points", points)
        for point in points:
            require_positive("demould time", point.time_s, unit="s")
            require_between("demould temperature", point.temperature_K, 223.15, 573.15, unit="K")
        for cooler, warmer in pairwise(points):
            if warmer.temperature_K == cooler.temperature_K or warmer.time_s >= cooler.time_s:
                raise RangeError(
                    "demould times",
                    "contradict each other: warmer is not quicker",
                    value=f"{_words(cooler)} and {_words(warmer)}",
                    allowed="each at its own temperature, the time falling as it rises",
                    todo="check them on the datasheet",
                )

    @property
    def kinks_K(self) -> tuple[float, ...]:
        """Return the temperatures [K] at which the rate turns a corner."""
        return tuple(point.temperature_K for point in self.points)

    def rate_per_s(self, temperature_K: float) -> float:
        """Return the share of the demould time that passes in a second [1/s] at `temperature_K` [K]."""
        if not self.points:
            return 0.0
        below = [point for point in self.points if point.temperature_K <= temperature_K]
        above = self.points[len(below) :]
        if not below or not above:
            near = above[0] if above else below[-1]
            over_R = self.activation_energy_J_mol / GAS_CONSTANT_J_MOL_K
            return exp(over_R * (1.0 / near.temperature_K - 1.0 / temperature_K)) / near.time_s
        cool, warm = below[-1], above[0]
        inverse = 1.0 / cool.temperature_K
        share = (inverse - 1.0 / temperature_K) / (inverse - 1.0 / warm.temperature_K)
        return exp(share * log(cool.time_s / warm.time_s)) / cool.time_s


NOTHING_STATED = MakersClock()
"""The clock of a datasheet without demould times."""


def _words(point: CurePoint) -> str:
    return f"{in_hours(point.time_s, 'g')} at {temperature(point.temperature_K, 'g')}"
