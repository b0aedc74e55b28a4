"""What holds the mix: a cup, a tray of a depth, or a film on the part; and how slowly each loses its heat.

How dangerous a mix's own heat is: Semenov's number for the whole of it, Frank-Kamenetskii's for its middle.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, pi
from typing import TYPE_CHECKING, Generic, Literal, NamedTuple, TypeVar

from layup.chemistry.kinetics import GAS_CONSTANT_J_MOL_K, Kinetics
from layup.chemistry.numerics import require_positive
from layup.errors import RangeError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


# -- vessel ----------------------------------------------------------------------------------------------------------

Real = TypeVar("Real", float, "NDArray[np.float64]")

VesselKind = Literal["cup", "tray", "film"]

STATED_EXCESS_K = 20.0
"""How far above still air a wall is for which the film coefficient is stated."""
HOT_EXCESS_K = 100.0
"""How far above the shop a mix is where the straight law meets the wall's own heat balance once more."""


@dataclass(frozen=True, slots=True)
class Vessel:
    """A cup, a tray or a film; build it with `Vessel.cup`, `Vessel.tray` or `Vessel.film`.

    A cup without a diameter is as wide as the mix in it is high.
    """

    kind: VesselKind
    diameter_m: float | None = None
    depth_m: float | None = None

    def __post_init__(self) -> None:
        if self.diameter_m is not None:
            require_positive("cup diameter", self.diameter_m, unit="m")
        if self.kind == "tray" and self.depth_m is None:
            raise RangeError("tray", "needs the depth of mix in it", todo="measure how deep the mix stands")
        if self.depth_m is not None:
            require_positive("tray depth", self.depth_m, unit="m")

    @classmethod
    def cup(cls, diameter_m: float | None = None) -> Vessel:
        """Return a cup, `diameter_m` wide [m], or as wide as the mix stands high where none is given."""
        return cls("cup", diameter_m=diameter_m)

    @classmethod
    def tray(cls, depth_m: float) -> Vessel:
        """Return a wide tray with mix `depth_m` deep [m]."""
        return cls("tray", depth_m=depth_m)

    @classmethod
    def film(cls) -> Vessel:
        """Return a film on the part, so thin that it has the part's own temperature."""
        return cls("film")

    def width_m(self, volume_m3: Real) -> Real:
        """Return the diameter of a cup [m] that holds `volume_m3` [m3] of mix: its own, or as wide as it is high."""
        wide_m: Real = (4.0 * volume_m3 / pi) ** (1.0 / 3.0)
        return wide_m if self.diameter_m is None else self.diameter_m + 0.0 * wide_m


class HeatLoss(NamedTuple, Generic[Real]):
    """How a vessel loses heat, in floats or in arrays: dT/dt = -x (1 + growth |x|)/tau, x above the surroundings."""

    tau_s: Real
    """Of a mix hardly warmer than its surroundings."""
    growth_per_K: Real


LOSS_FIELDS = (
    "density_g_cm3",
    "specific_heat_J_g_K",
    "film_coefficient_W_m2_K",
    "film_growth_per_K",
    "conductivity_W_m_K",
    "bottom_loss",
    "depth_share",
)
"""Of a rate law, as `heat_loss` takes them."""


def heat_loss(
    vessel: Vessel,
    mass_g: Real,
    density_g_cm3: Real,
    specific_heat_J_g_K: Real,
    film_coefficient_W_m2_K: Real,
    film_growth_per_K: Real,
    conductivity_W_m_K: Real,
    bottom_loss: Real,
    depth_share: Real,
) -> HeatLoss[Real]:
    """Return how a vessel loses heat, of floats or of arrays that fit each other; see `heat_loss_of`."""
    if vessel.kind == "film":
        raise RangeError("film", "has no heat of its own to lose", todo="a film takes the part's temperature")
    volume_m3 = mass_g / density_g_cm3 * 1e-6
    if vessel.depth_m is not None:
        area_m2 = (1.0 + bottom_loss) * volume_m3 / vessel.depth_m
    else:
        diameter_m = vessel.width_m(volume_m3)
        # side pi D H with H = 4V/(pi D^2), open top, and the share of the bottom that loses heat
        area_m2 = 4.0 * volume_m3 / diameter_m + (1.0 + bottom_loss) * (pi / 4.0 * diameter_m**2)
    inside_m2_K_W = depth_share * volume_m3 / area_m2 / conductivity_W_m_K
    cool_W_m2_K = film_coefficient_W_m2_K * (1.0 - STATED_EXCESS_K * film_growth_per_K)
    growth_W_m2_K2 = film_coefficient_W_m2_K * film_growth_per_K
    # the wall of a hot mix, w + r (h0 + h1 w) w = x, and what it passes on
    linear = 1.0 + inside_m2_K_W * cool_W_m2_K
    wall_K = 2.0 * HOT_EXCESS_K / (linear + (linear**2 + 4.0 * inside_m2_K_W * growth_W_m2_K2 * HOT_EXCESS_K) ** 0.5)
    cool_loss_W_m2_K = cool_W_m2_K / linear
    hot_loss_W_m2_K = (cool_W_m2_K + growth_W_m2_K2 * wall_K) * wall_K / HOT_EXCESS_K
    return HeatLoss(
        mass_g * specific_heat_J_g_K / (cool_loss_W_m2_K * area_m2),
        (hot_loss_W_m2_K / cool_loss_W_m2_K - 1.0) / HOT_EXCESS_K,
    )


def heat_loss_of(kinetics: Kinetics, vessel: Vessel, mass_g: float) -> HeatLoss[float]:
    """Return how slowly the vessel loses its heat: the time in which an inert mix cools to 1/e, faster while it is hot.

    U = 1/(1/h + s (V/A)/k_th): half the way out is through the mix, the rest through still air. A cup loses heat by its
    side, its open top and a share of its bottom; a tray by its top and the share. Free convection and radiation make h
    all but straight in the wall's excess w over the air, h = h_20 (1 + g (w - 20 K)), and so U in the mix's own excess
    x: tau = M cp/(U(0) A) with x (1 + growth x)/tau is exact at 0 and 100 K and within 4 % up to 150 K. Source:
    Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1323, with black-body radiation at emissivity 0.9.

    >>> [round(value, 5) for value in heat_loss_of(Kinetics(4.8e-4), Vessel.cup(), 100.0)]
    [2310.4281, 0.00369]
    """
    require_positive("mass of mix", mass_g, unit="g")
    return heat_loss(vessel, mass_g, *(getattr(kinetics, name) for name in LOSS_FIELDS))


# -- heat ------------------------------------------------------------------------------------------------------------

HeatClass = Literal["warm", "hot", "runaway"]

SEMENOV_CRITICAL = 1.0 / exp(1.0)
"""Above it a mix that never ran out would run away (Semenov)."""
SEMENOV_RUNAWAY = 0.55
"""Above it one that does run out visibly runs away."""
HOT_K = 333.15
"""60 C: too hot to hold. From memory, a band."""
BOILING_K = 373.15

SLAB, CYLINDER, SPHERE = 0.878458, 2.0, 3.321992
"""Frank-Kamenetskii's critical numbers, for the half thickness or the radius."""


def semenov(
    kinetics: Kinetics, vessel: Vessel, mass_g: float, temperature_K: float, conversion_start: float = 0.0
) -> float:
    """Return Semenov's number, how much faster heat is made than lost as the mix warms.

    psi = (dH/cp) tau k(T) max f(a) Ea/(R T^2), tau at the excess R T^2/Ea, where a critical mix stands. Source:
    Semenov, Z. Phys. 48 (1928) 571 (from memory).

    >>> round(semenov(Kinetics(4.8e-4), Vessel.tray(0.001), 100.0, 298.15), 3)
    0.19
    """
    require_positive("temperature", temperature_K, unit="K")
    fastest = kinetics.rate_per_s(max(conversion_start, kinetics.fastest_conversion()), temperature_K)
    loss = heat_loss_of(kinetics, vessel, mass_g)
    sharpness_per_K = kinetics.activation_energy_J_mol / (GAS_CONSTANT_J_MOL_K * temperature_K**2)
    return semenov_number(kinetics.adiabatic_rise_K, loss, fastest, sharpness_per_K)


def semenov_number(rise_K: Real, loss: HeatLoss[Real], fastest_per_s: Real, sharpness_per_K: Real) -> Real:
    """Return Semenov's number of floats or of arrays that fit each other; see `semenov`."""
    tau_s = loss.tau_s / (1.0 + loss.growth_per_K / sharpness_per_K)
    return rise_K * tau_s * fastest_per_s * sharpness_per_K


def heat_class(psi_max: float, peak_K: float) -> HeatClass:
    """Return the class of a mix's heat. "warm", "hot" (too hot to hold, or beyond the critical number) or "runaway".

    Parameters
    ----------
    psi_max : Semenov's number [-]
    peak_K : The predicted peak [K]
    """
    if psi_max > SEMENOV_RUNAWAY or peak_K >= BOILING_K:
        return "runaway"
    return "hot" if psi_max > SEMENOV_CRITICAL or peak_K >= HOT_K else "warm"


def middle_runs_away(kinetics: Kinetics, vessel: Vessel, mass_g: float, temperature_K: float) -> float:
    """Return how near the middle of a mix is to running away although its surface stays cool.

    delta = Ea/(R T^2) dH rho k(T) max f(a) r^2/k_th; critical 0.878 for a slab, 2 for a cylinder. Source:
    Frank-Kamenetskii, Diffusion and Heat Transfer in Chemical Kinetics (1969), chapter 7 (from memory).

    >>> round(middle_runs_away(Kinetics(4.80015e-4), Vessel.cup(), 100.0, 298.15), 1)
    4.4
    """
    require_positive("temperature", temperature_K, unit="K")
    require_positive("mass of mix", mass_g, unit="g")
    if vessel.kind == "film":
        raise RangeError("film", "has no middle", todo="a film takes the part's temperature")
    if vessel.depth_m is None:
        critical, radius_m = CYLINDER, 0.5 * vessel.width_m(mass_g / kinetics.density_g_cm3 * 1e-6)
    else:
        critical, radius_m = SLAB, 0.5 * vessel.depth_m
    heat_W_m3 = (
        kinetics.heat_J_g
        * kinetics.density_g_cm3
        * 1e6
        * kinetics.rate_per_s(kinetics.fastest_conversion(), temperature_K)
    )
    sharpness_per_K = kinetics.activation_energy_J_mol / (GAS_CONSTANT_J_MOL_K * temperature_K**2)
    return sharpness_per_K * heat_W_m3 * radius_m**2 / kinetics.conductivity_W_m_K / critical
