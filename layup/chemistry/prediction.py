"""How long a mix lives: in a cup or tray that heats itself, or as a film that has the part's temperature.

The slopes of a mix that heats itself and loses heat to its surroundings, for the march through its conversion.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, inf
from typing import Generic, NamedTuple

from layup.chemistry.film import film_time_s
from layup.chemistry.kinetics import FULLY_CURED, GAS_CONSTANT_J_MOL_K, REFERENCE_K, Kinetics, reduced_time, stretch
from layup.chemistry.numerics import require_between
from layup.chemistry.ode import STABLE, STEP_CAP, TOLERANCE, Node, Real, Slopes, Trajectory, trajectory
from layup.chemistry.temperature import COLDEST_K, HOTTEST_K, History, corners, ramps
from layup.chemistry.vessel import HeatClass, HeatLoss, Vessel, heat_class, heat_loss_of, semenov
from layup.errors import RangeError
from layup.units import length

# -- self heating ----------------------------------------------------------------------------------------------------

NO_LOSS = HeatLoss(inf, 0.0)


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
        """Return what decides it of one resin."""
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
    conversion_start: float


def predict(
    kinetics: Kinetics,
    vessel: Vessel,
    *,
    mass_g: float,
    start_K: float,
    ambient: float | History,
    conversion_start: float = 0.0,
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
    """
    require_between("conversion at the start", conversion_start, 0.0, FULLY_CURED, open_high=True)
    if vessel.kind == "film":
        return _film_life(kinetics, ambient, conversion_start)
    course = heated_course(
        kinetics, vessel, mass_g=mass_g, start_K=start_K, ambient=ambient, conversion_start=conversion_start
    )
    peak = course.peak()
    around_K = warmest_K(start_K, ambient, until_s=peak.time_s)
    psi = semenov(kinetics, vessel, mass_g, around_K, conversion_start)
    return Life(
        working_s=_time_at_s(course, kinetics, kinetics.conversion_working),
        gel_s=_time_at_s(course, kinetics, kinetics.conversion_gel),
        open_s=None,
        peak_K=peak.temperature_K,
        peak_s=peak.time_s,
        heat_class=heat_class(psi, peak.temperature_K),
        bound_K=around_K + kinetics.adiabatic_rise_K * (1.0 - conversion_start),
        psi_max=psi,
        conversion_start=conversion_start,
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
            value=f"{length(vessel.depth_m, '.3g')}",
            allowed=f"must be at least {vessel.depth_m * 1000 * steps / STEP_CAP:.2g} mm for this resin here",
            todo="treat it as a film",
        )


def _time_at_s(course: Trajectory, kinetics: Kinetics, conversion: float) -> float:
    """Return when the course reaches a conversion [s]; its start if it began beyond."""
    return course.at_y(stretch(conversion, kinetics.a0)).time_s


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
        conversion_start=conversion_start,
    )
