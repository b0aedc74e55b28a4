"""What a resin's datasheet states, as plain numbers in the core's units; its demoulding times, read as one clock."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import exp, inf, log
from typing import Literal

from layup.chemistry.kinetics import GAS_CONSTANT_J_MOL_K
from layup.chemistry.numerics import require_between, require_positive, require_stated
from layup.errors import RangeError
from layup.units import in_hours, temperature

Chemistry = Literal["epoxy-amine", "urethane", "other"]
CupEndpoint = Literal["gel", "thickening", "viscosity doubled", "temperature"]
Endpoint = CupEndpoint | Literal["open"]
FilmEndpoint = Literal["open", "gel", "tack-free"]


@dataclass(frozen=True, slots=True)
class Component:
    """One can: resin or hardener. `equivalent_weight_g_eq` is EEW, AHEW, or g per NCO or OH.

    `functionality` is how many of those groups a molecule has: 2 epoxides of DGEBA, 4 amine hydrogens of IPDA.
    """

    name: str
    density_g_cm3: float | None = None
    equivalent_weight_g_eq: float | None = None
    functionality: float | None = None


@dataclass(frozen=True, slots=True)
class PotLifePoint:
    """A stated pot life: `time_s` for `mass_g` mixed at `temperature_K` in a cup or a tray of `depth_m`.

    A "temperature" ends it where the mix first `reaches_K`.
    """

    time_s: float
    mass_g: float
    temperature_K: float
    endpoint: Endpoint = "thickening"
    """"open" is a film's alone."""
    depth_m: float | None = None
    """None for a cup; the depth of mix in a tray."""
    diameter_m: float | None = None
    """Of the cup, where it is stated."""
    reaches_K: float | None = None
    film: bool = False
    """Measured as a film, where no cup is stated."""

    def __post_init__(self) -> None:
        require_positive("pot life time", self.time_s, unit="s")
        require_positive(
            "pot life mass", self.mass_g, unit="g", todo="the datasheet states the mass it was measured on"
        )
        require_between("pot life temperature", self.temperature_K, 250.0, 400.0, unit="K")
        require_stated("tray depth", self.depth_m, unit="m", open_low=True)
        require_stated("cup diameter", self.diameter_m, unit="m", open_low=True)
        if self.endpoint == "open" and not self.film:
            raise RangeError("pot life", "ends as a film's does", allowed="a cup thickens or gels")
        if (self.endpoint == "temperature") != (self.reaches_K is not None):
            raise RangeError(
                "pot life",
                "ends at a temperature" if self.reaches_K is None else "states a temperature reached",
                allowed='needs both endpoint = "temperature" and reaches, or neither',
                todo='write reaches = "50 degC", or another endpoint',
            )
        if self.reaches_K is not None:
            start = "check the temperature at which it was timed, too"
            require_between("reaches", self.reaches_K, self.temperature_K, 500.0, unit="K", open_low=True, todo=start)


@dataclass(frozen=True, slots=True)
class FilmPoint:
    """A stated life as a thin film at `temperature_K`, to the named endpoint."""

    time_s: float
    temperature_K: float
    endpoint: FilmEndpoint = "open"

    def __post_init__(self) -> None:
        require_positive("film time", self.time_s, unit="s")
        require_between("film temperature", self.temperature_K, 250.0, 400.0, unit="K")


@dataclass(frozen=True, slots=True)
class ViscosityPoint:
    """The mixed viscosity at one temperature."""

    viscosity_Pa_s: float
    temperature_K: float

    def __post_init__(self) -> None:
        require_positive("viscosity", self.viscosity_Pa_s, unit="Pa s")
        require_between("viscosity temperature", self.temperature_K, 250.0, 400.0, unit="K")


@dataclass(frozen=True, slots=True)
class CurePoint:
    """A stated time at a temperature, to demould or as a post-cure."""

    time_s: float
    temperature_K: float


@dataclass(frozen=True, slots=True)
class Datasheet:
    """One resin system as its maker states it.

    `ratio` is (resin, hardener) parts, by mass when `ratio_by` is "weight" and by volume otherwise.
    """

    id: str
    title: str
    chemistry: Chemistry
    resin: Component
    hardener: Component
    ratio: tuple[float, float]
    ratio_by: Literal["weight", "volume"]
    pot_lives: tuple[PotLifePoint, ...]
    films: tuple[FilmPoint, ...] = ()
    viscosities: tuple[ViscosityPoint, ...] = ()
    minimum_temperature_K: float | None = None
    demould: tuple[CurePoint, ...] = ()
    post_cure: tuple[CurePoint, ...] = ()
    glass_transition_K: float | None = None
    signal_word: str = ""
    cautions: tuple[str, ...] = ()
    source: str = ""
    price_per_kg: float | None = None
    """Price of a kilogram of mix, in the shop's own currency, where the file gives one."""
    is_demo: bool = False
    """Whether it came with the program, and stands for no can on anybody's shelf."""
    blends_with: tuple[str, ...] = ()
    """The ids of the resins whose hardeners its maker lets be blended with this one's."""
    blend_log: float = 0.0
    """Of a blend, how far its times may be from those worked out, as a standard deviation of their logarithm."""

    @property
    def densities_g_cm3(self) -> tuple[float, float] | None:
        """Return both components' densities; None where one is not stated."""
        resin, hardener = self.resin.density_g_cm3, self.hardener.density_g_cm3
        return None if resin is None or hardener is None else (resin, hardener)


def offered(sheets: Mapping[str, Datasheet], chosen: Datasheet | None = None) -> dict[str, Datasheet]:
    """Return the resins to propose: demo ones only beside a demo one that was chosen, and where there are no others.

    Parameters
    ----------
    sheets : The resins of a workshop, by their ids [-]
    chosen : What the plan's file names, or somebody did; None where nothing is chosen [-]
    """
    real = {name: sheet for name, sheet in sheets.items() if not sheet.is_demo}
    demo_too = chosen.is_demo if chosen is not None else not real
    return dict(sheets) if demo_too else real


HARDLY_CURES_K = 278.15
"""At 0 to 5 degC the cure of a cold-setting epoxy hardly starts (O. Moussa, A. P. Vassilopoulos and T. Keller, Int. J.
Adhesion & Adhesives 35 (2012) 9): the least warmth of a resin whose datasheet states none."""


def least_warmth(datasheet: Datasheet) -> tuple[float, str]:
    """Find the temperature below which a resin is not to be cured, and the words for why.

    The stated minimum, else 278.15 [K]; what happens below it, as a predicate [-].
    """
    stated_K = datasheet.minimum_temperature_K
    if stated_K is not None:
        return stated_K, "does not cure as its maker states"
    return HARDLY_CURES_K, "hardly starts to cure, and its datasheet does not allow it"


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
                    value=f"{_cure_words(cooler)} and {_cure_words(warmer)}",
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


def _cure_words(point: CurePoint) -> str:
    return f"{in_hours(point.time_s, 'g')} at {temperature(point.temperature_K, 'g')}"
