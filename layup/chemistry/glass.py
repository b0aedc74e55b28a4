"""The glass transition of a setting resin, how a glass stops itself; a maker's demoulding times, read as one clock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from math import exp, inf, log

from layup.chemistry.datasheet import Chemistry, CurePoint, Datasheet
from layup.chemistry.kinetics import GAS_CONSTANT_J_MOL_K
from layup.chemistry.numerics import require_between, require_positive
from layup.errors import RangeError
from layup.units import in_hours, temperature, temperature_change

# -- glass -----------------------------------------------------------------------------------------------------------

WLF_SLOPE = 42.5
WLF_SPAN_K = 51.6
"""Constants of the modified WLF equation (Simon and Gillham 1993, from memory)."""

UNCURED_K: dict[Chemistry, float] = {"epoxy-amine": 243.15, "urethane": 223.15, "other": 243.15}
"""Glass transition of a fresh mix, from memory: about -30 degC for an epoxy with its amine, -50 degC for a urethane."""
CURED_K = 348.15
"""Glass transition of a fully cured cold-setting resin whose datasheet gives none, 75 degC (from memory)."""


@dataclass(frozen=True, slots=True)
class Glass:
    """One resin's glass transition against conversion, and where it stops its own reaction."""

    cured_K: float
    uncured_K: float = 243.15
    shape: float = 0.4
    """DiBenedetto's lambda; 0.3 to 0.5 for epoxy-amines (from memory)."""
    half_rate_lead_K: float = 10.0
    """How far the glass transition has passed the resin's own temperature when the reaction runs at half its rate.

    Cold-cured resins end 10 to 25 K ahead (from memory); 10 K here makes it so.
    """
    _half_rate_share: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        require_between("glass transition of the fresh mix", self.uncured_K, 150.0, 350.0, unit="K")
        require_between(
            "glass transition of the cured resin", self.cured_K, self.uncured_K, 600.0, unit="K", open_low=True
        )
        require_between("shape (lambda)", self.shape, 0.0, 1.0, open_low=True)
        require_between("lead at half rate", self.half_rate_lead_K, 0.0, 40.0, unit="ΔK")
        object.__setattr__(self, "_half_rate_share", self.half_rate_lead_K / (WLF_SPAN_K + self.half_rate_lead_K))

    def transition_K(self, conversion: float) -> float:
        """Return the glass transition [K] at `conversion` [-]; see `glass_transition_K`."""
        return self.uncured_K + (self.cured_K - self.uncured_K) * self.shape * conversion / (
            1.0 - (1.0 - self.shape) * conversion
        )

    def conversion_at(self, transition_K: float) -> float:
        """Return the conversion [-] that gives a glass transition [K] between the fresh mix's and the cured resin's."""
        require_between("glass transition", transition_K, self.uncured_K, self.cured_K, unit="K")
        share = (transition_K - self.uncured_K) / (self.cured_K - self.uncured_K)
        return share / (self.shape + (1.0 - self.shape) * share)

    def mobility(self, conversion: float, temperature_K: float) -> float:
        """Return the share [-] of the chemical rate that is left, as molecules that are a glass cannot meet.

        1/k = 1/k_chem + 1/k_diff (Rabinowitch 1937), ln(k_diff/k_chem) = C (L/(S + L) - x/(S + |x|)) with x = Tg - T,
        C = 42.5, S = 51.6 K (modified WLF; S. L. Simon and J. K. Gillham, J. Appl. Polym. Sci. 47 (1993) 461, from
        memory) and L = `half_rate_lead_K`; diffusion is taken to have the activation energy of the reaction.
        """
        return self.mobilities()(conversion, temperature_K)

    def mobilities(self) -> Callable[[float, float], float]:
        """Return `mobility` with what stays the same worked out once, and no call in it: half the time of a cure."""
        uncured_K, rise_K, less = self.uncured_K, (self.cured_K - self.uncured_K) * self.shape, 1.0 - self.shape
        half_rate_share = self._half_rate_share

        def mobility(conversion: float, temperature_K: float) -> float:
            lead_K = uncured_K + rise_K * conversion / (1.0 - less * conversion) - temperature_K
            return 1.0 / (1.0 + exp(WLF_SLOPE * (lead_K / (WLF_SPAN_K + abs(lead_K)) - half_rate_share)))

        return mobility


def glass_transition_K(conversion: float, uncured_K: float, cured_K: float, shape: float = 0.4) -> float:
    """Find the temperature below which a part-cured resin is a glass [K].

    Raises RangeError for a value outside its range, or a cured resin that softens below the fresh mix.

    Tg = Tg0 + (Tg1 - Tg0) lambda a / (1 - (1 - lambda) a). Source: A. T. DiBenedetto, J. Polym. Sci. B 25 (1987) 1949,
    in the form of J. P. Pascault and R. J. J. Williams, J. Polym. Sci. B 28 (1990) 85.

    >>> round(glass_transition_K(0.5, 253.15, 363.15, 0.4) - 273.15, 3)
    11.429

    Parameters
    ----------
    conversion : Conversion, 0 to 1 [-]
    uncured_K : Glass transition of the fresh mix, 150 to 350 [K]
    cured_K : Glass transition of the fully cured resin, above `uncured_K`, to 600 [K]
    shape : DiBenedetto's lambda, above 0 to 1: the cured resin's step of heat capacity over the fresh mix's [-]
    """
    require_between("conversion", conversion, 0.0, 1.0)
    return Glass(cured_K, uncured_K, shape).transition_K(conversion)


def glass_of(datasheet: Datasheet) -> tuple[Glass, tuple[str, ...]]:
    """Find a resin's glass from its datasheet, and say in words what had to be assumed."""
    uncured_K = UNCURED_K[datasheet.chemistry]
    stated_K = datasheet.glass_transition_K
    cured_K = CURED_K if stated_K is None else stated_K
    glass = Glass(cured_K, uncured_K)
    source = "typical, from memory: the datasheet states none" if stated_K is None else "from the datasheet"
    return glass, (
        f"fully cured the resin softens at {temperature(cured_K)} ({source}), fresh it would at "
        f"{temperature(uncured_K)} (typical, from memory)",
        "the reaction runs at half its rate once the glass transition is "
        f"{temperature_change(glass.half_rate_lead_K)} above the mould (from memory; cold-cured resins end "
        f"{temperature_change.digits(10.0)} to {temperature_change(25.0)} ahead)",
    )


# -- maker -----------------------------------------------------------------------------------------------------------


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

    def line(self, temperature_K: float) -> tuple[float, float]:
        """Return A and B of ln rate = A - B/T, which hold from the kink below a temperature [K] to the one above it."""
        if not self.points:
            return -inf, 0.0
        below = [point for point in self.points if point.temperature_K <= temperature_K]
        above = self.points[len(below) :]
        near = below[-1] if below else above[0]
        over_T = self.activation_energy_J_mol / GAS_CONSTANT_J_MOL_K
        if below and above:
            warm = above[0]
            over_T = log(near.time_s / warm.time_s) / (1.0 / near.temperature_K - 1.0 / warm.temperature_K)
        return over_T / near.temperature_K - log(near.time_s), over_T

    def rate_per_s(self, temperature_K: float) -> float:
        """Return the share of the demould time that passes in a second [1/s] at `temperature_K` [K]."""
        rate_log, over_T = self.line(temperature_K)
        return exp(rate_log - over_T / temperature_K)


NOTHING_STATED = MakersClock()
"""The clock of a datasheet without demould times."""


def _words(point: CurePoint) -> str:
    return f"{in_hours(point.time_s, 'g')} at {temperature(point.temperature_K, 'g')}"
