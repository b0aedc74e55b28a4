"""How long a mix lives: in a cup or tray that heats itself, or as a film that has the part's temperature.

What holds the mix: a cup, a tray of a depth, or a film on the part; how slowly each loses its heat, and how dangerous a
mix's own heat is: Semenov's number for the whole of it, Frank-Kamenetskii's for its middle.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, pi
from typing import Generic, Literal, NamedTuple

from layup.chemistry.film import film_time_s
from layup.chemistry.kinetics import FULLY_CURED, GAS_CONSTANT_J_MOL_K, REFERENCE_K, Kinetics, reduced_time, stretch
from layup.chemistry.numerics import Real, require_between, require_positive, require_stated
from layup.chemistry.ode import STABLE, STEP_CAP, TOLERANCE, Node, Slopes, Trajectory, trajectory
from layup.chemistry.temperature import COLDEST_K, HOTTEST_K, History, corners, ramps
from layup.errors import RangeError
from layup.units import length

# -- vessel ----------------------------------------------------------------------------------------------------------

STATED_EXCESS_K = 20.0
"""How far above still air a wall is for which the film coefficient is stated."""
HOT_EXCESS_K = 100.0
"""How far above the shop a mix is where the straight law meets the wall's own heat balance once more."""


@dataclass(frozen=True, slots=True)
class Vessel:
    """A cup, a tray or a film; build it with `Vessel.cup`, `Vessel.tray` or `Vessel.film`.

    A cup without a diameter is as wide as the mix in it is high.
    """

    kind: Literal["cup", "tray", "film"]
    diameter_m: float | None = None
    depth_m: float | None = None

    def __post_init__(self) -> None:
        require_stated("cup diameter", self.diameter_m, unit="m", open_low=True)
        if self.kind == "tray" and self.depth_m is None:
            raise RangeError("tray", "needs the depth of mix in it", todo="measure how deep the mix stands")
        require_stated("tray depth", self.depth_m, unit="m", open_low=True)

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
    if vessel.kind == "film":
        raise RangeError("film", "has no middle", todo="a film takes the part's temperature")
    if vessel.depth_m is None:
        critical, radius_m = CYLINDER, 0.5 * vessel.width_m(mass_g / kinetics.density_g_cm3 * 1e-6)
    else:
        critical, radius_m = SLAB, 0.5 * vessel.depth_m
    fastest_per_s = kinetics.rate_per_s(kinetics.fastest_conversion(), temperature_K)
    heat_W_m3 = 1e6 * kinetics.heat_J_g * kinetics.density_g_cm3 * fastest_per_s
    sharpness_per_K = kinetics.activation_energy_J_mol / (GAS_CONSTANT_J_MOL_K * temperature_K**2)
    return sharpness_per_K * heat_W_m3 * radius_m**2 / kinetics.conductivity_W_m_K / critical


class SelfHeating(NamedTuple, Generic[Real]):
    """What decides how a mix warms itself, of one mix in floats or of many in arrays."""

    k_ref_per_s: Real
    over_R_K: Real
    """Ea/R."""
    rise_K: Real
    a0: Real
    m: Real
    n: Real
    loss: HeatLoss[Real]

    @classmethod
    def of(cls, kinetics: Kinetics, loss: HeatLoss[float]) -> SelfHeating[float]:
        over_R_K = kinetics.activation_energy_J_mol / GAS_CONSTANT_J_MOL_K
        rise_K = kinetics.adiabatic_rise_K
        return SelfHeating(kinetics.k_ref_per_s, over_R_K, rise_K, kinetics.a0, kinetics.m, kinetics.n, loss)


def heated(
    rate_per_s: Callable[[Real, Real], Real],
    a0: Real,
    rise_K: Real,
    loss: HeatLoss[Real],
    base_K: Real,
    slope_K_s: float = 0.0,
    *,
    exp: Callable[[Real], Real],
) -> Slopes[Real]:
    """Return the slopes of any rate law that heats itself and loses heat to its surroundings.

    dt/dy = (da/dy)/rate, dT/dy = (dH/cp) da/dy - x (1 + growth |x|)/tau dt/dy, x = T - T_amb(t),
    T_amb = base + slope t.
    """
    cooling_per_s, growth_per_K = 1.0 / loss.tau_s, loss.growth_per_K

    def slopes(y: Real, time_s: Real, temperature_K: Real) -> tuple[Real, Real]:
        growth = exp(y)
        below = 1.0 + a0 * growth
        per_y = a0 * (1.0 + a0) * growth / (below * below)
        time_slope = per_y / rate_per_s(a0 * (growth - 1.0) / below, temperature_K)
        excess_K = temperature_K - base_K - slope_K_s * time_s
        lost = excess_K * (1.0 + growth_per_K * abs(excess_K)) * cooling_per_s
        return time_slope, rise_K * per_y - lost * time_slope

    return slopes


def slopes_of(
    mix: SelfHeating[Real],
    base_K: Real,
    slope_K_s: float = 0.0,
    *,
    default_order: bool,
    exp: Callable[[Real], Real],
) -> Slopes[Real]:
    """Return the slopes dt/dy and dT/dy of a resin; the default law has a quicker form of its own."""
    a0, over_R_K, k_ref_per_s = mix.a0, mix.over_R_K, mix.k_ref_per_s
    at_reference = over_R_K / REFERENCE_K
    if not default_order:

        def rate_per_s(conversion: Real, temperature_K: Real) -> Real:
            shape = (a0 + conversion**mix.m) * (1.0 - conversion) ** mix.n
            rate: Real = k_ref_per_s * exp(at_reference - over_R_K / temperature_K) * shape
            return rate

        return heated(rate_per_s, a0, mix.rise_K, mix.loss, base_K, slope_K_s, exp=exp)
    time_scale = 1.0 / ((1.0 + a0) ** 2 * k_ref_per_s)
    heat_scale = mix.rise_K * a0 * (1.0 + a0)
    cooling_per_s, growth_per_K = 1.0 / mix.loss.tau_s, mix.loss.growth_per_K

    def slopes(y: Real, time_s: Real, temperature_K: Real) -> tuple[Real, Real]:
        growth = exp(y)
        below = 1.0 + a0 * growth
        time_slope = time_scale * below * exp(over_R_K / temperature_K - at_reference)
        excess_K = temperature_K - base_K - slope_K_s * time_s
        lost = excess_K * (1.0 + growth_per_K * abs(excess_K)) * cooling_per_s
        return time_slope, heat_scale * growth / (below * below) - lost * time_slope

    return slopes


# -- prediction ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Life:
    """How long one mix lives, counted from first contact of resin and hardener, and how hot it gets.

    `heat_class` is "warm", "hot" (too hot to hold) or "runaway"; near the edge the peak is chaotic, so tell people the
    class with `bound_K`, which nothing but a hot spot inside can exceed, and not the degrees.
    """

    working_s: float
    """Until it thickens."""
    gel_s: float
    open_s: float | None
    """A film's own limit; None in a cup or tray."""
    peak_K: float
    peak_s: float
    heat_class: HeatClass
    bound_K: float
    psi_max: float
    """Semenov's number at the hottest the surroundings and the start make it; 0 for a film."""


def predict(
    kinetics: Kinetics,
    vessel: Vessel,
    *,
    mass_g: float,
    start_K: float,
    ambient: float | History,
    conversion_start: float = 0.0,
    heated: Trajectory | None = None,
) -> Life:
    """Predict how long a mix lives and how hot it gets.

    Raises RangeError if a value is out of range, or the mix is too thin to be anything but a film.

    da/dt = k(T) f(a), dT/dt = (dH/cp) da/dt - x (1 + growth |x|)/tau, x = T - T_amb(t), to 1e-7 in times and 0.01 K in
    the peak of these equations. One temperature for the whole mix: the hot spot in a large cup can exceed it.

    >>> life = predict(Kinetics(4.80015e-4), Vessel.cup(), mass_g=300.0, start_K=295.15, ambient=295.15)
    >>> round(life.working_s / 60, 2), life.heat_class
    (35.8, 'runaway')

    Parameters
    ----------
    mass_g : Mass of mix in the vessel, above 0; a film's does not matter [g]
    start_K : Temperature of the mix at the start; a film takes the part's instead, 233 to 523 [K]
    ambient : The shop's temperature (a film: the part's), one or (time_s, temperature_K) points, 233 to 523 [K]
    conversion_start : Conversion at the start, 0 for a fresh mix, below 0.999 [-]
    heated : Its course, where that was followed already [-]
    """
    require_between("conversion at the start", conversion_start, 0.0, FULLY_CURED, open_high=True)
    if vessel.kind == "film":
        return _film_life(kinetics, ambient, conversion_start)
    course = heated or heated_course(
        kinetics, vessel, mass_g=mass_g, start_K=start_K, ambient=ambient, conversion_start=conversion_start
    )
    peak = course.peak()
    around_K = warmest_K(start_K, ambient, until_s=peak.time_s)
    psi = semenov(kinetics, vessel, mass_g, around_K, conversion_start)
    return Life(
        working_s=course.at_y(stretch(kinetics.conversion_working, kinetics.a0)).time_s,
        gel_s=course.at_y(stretch(kinetics.conversion_gel, kinetics.a0)).time_s,
        open_s=None,
        peak_K=peak.temperature_K,
        peak_s=peak.time_s,
        heat_class=heat_class(psi, peak.temperature_K),
        bound_K=around_K + kinetics.adiabatic_rise_K * (1.0 - conversion_start),
        psi_max=psi,
    )


def warmest_K(start_K: float, ambient: float | History, *, until_s: float) -> float:
    """Return the hottest that the start and the surroundings make a mix."""
    return max([start_K, *(shop_K for _, shop_K in corners(ambient, from_s=0.0, until_s=until_s))])


def heated_course(
    kinetics: Kinetics,
    vessel: Vessel,
    *,
    mass_g: float,
    start_K: float,
    ambient: float | History,
    conversion_start: float = 0.0,
    conversion_end: float | None = None,
    from_s: float = 0.0,
    until_s: float | None = 0.0,
    time_end_s: float = float("inf"),
    tolerance: float = TOLERANCE,
) -> Trajectory:
    """Return the course of a mix in a cup or tray."""
    require_between("start temperature", start_K, COLDEST_K, HOTTEST_K, unit="K")
    surroundings = ramps(ambient, from_s=from_s)
    loss = heat_loss_of(kinetics, vessel, mass_g)
    around_K = [start_K, *(ramp.at(ramp.start_s) for ramp in surroundings)]
    # a loss that grows with the excess answers to it twice as steeply as it grows
    cooling_per_s = (1.0 + 2.0 * loss.growth_per_K * (max(around_K) - min(around_K))) / loss.tau_s
    _check_thickness(kinetics, vessel, cooling_per_s, min(around_K))
    past = stretch(max(kinetics.conversion_gel, kinetics.conversion_film, kinetics.fastest_conversion()), kinetics.a0)

    def falling_for_good(node: Node[float]) -> bool:
        """Say whether nothing is left to see: past gel, and cooling where the rate can only fall."""
        return until_s is not None and node.y >= past and node.temperature_slope < 0.0 and node.time_s >= until_s

    mix, plain = SelfHeating.of(kinetics, loss), kinetics.is_default_order
    return trajectory(
        lambda ramp: slopes_of(mix, ramp.base_K, ramp.slope_K_s, default_order=plain, exp=exp),
        surroundings,
        y_start=stretch(conversion_start, kinetics.a0),
        y_end=stretch(FULLY_CURED if conversion_end is None else conversion_end, kinetics.a0),
        start_K=start_K,
        time_end_s=time_end_s,
        done=falling_for_good if conversion_end is None else None,
        cooling_per_s=cooling_per_s,
        tolerance=tolerance,
    )


def _check_thickness(kinetics: Kinetics, vessel: Vessel, cooling_per_s: float, coldest_K: float) -> None:
    """Refuse a tray so thin that its mix has no temperature of its own: the steps would have no end."""
    cooling_times = reduced_time(kinetics, kinetics.conversion_gel) / kinetics.rate_constant_per_s(coldest_K)
    steps = cooling_times * cooling_per_s / STABLE
    if steps > STEP_CAP and vessel.depth_m is not None:
        raise RangeError(
            "tray depth",
            "is so thin that the mix has the tray's own temperature",
            value=length(vessel.depth_m, ".3g"),
            allowed=f"must be at least {vessel.depth_m * 1000 * steps / STEP_CAP:.2g} mm for this resin here",
            todo="treat it as a film",
        )


def _film_life(kinetics: Kinetics, ambient: float | History, conversion_start: float) -> Life:
    """Return the life of a film, which takes the part's temperature and makes no heat of its own."""

    def until_s(conversion: float) -> float:
        return film_time_s(kinetics, ambient, conversion, conversion_start=conversion_start)

    peak_s, peak_K = max(corners(ambient, from_s=0.0, until_s=until_s(FULLY_CURED)), key=lambda point: point[1])
    return Life(
        working_s=until_s(kinetics.conversion_working),
        gel_s=until_s(kinetics.conversion_gel),
        open_s=until_s(kinetics.conversion_film),
        peak_K=peak_K,
        peak_s=peak_s,
        heat_class="warm",
        bound_K=peak_K,
        psi_max=0.0,
    )
