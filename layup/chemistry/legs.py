"""The stages of a batch, each followed as one leg of its course."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, inf

from layup.chemistry.film import film_time_s
from layup.chemistry.history import History, corners, dose_s, temperature_at_K
from layup.chemistry.integrate import Trajectory
from layup.chemistry.kinetics import Kinetics, conversion_after, stretch, unstretch
from layup.chemistry.prediction import heated_course
from layup.chemistry.vessel import HeatLoss, Vessel, heat_loss_of


@dataclass(frozen=True, slots=True)
class Stage:
    """Where the mix is from `from_s` on (counted from first contact), and the temperature around it.

    Times in `ambient` count from first contact too; a film's `ambient` is the part's own temperature.
    """

    vessel: Vessel
    from_s: float
    ambient: float | History


@dataclass(frozen=True, slots=True)
class Leg:
    """One stage as it was followed, up to `end_s`."""

    stage: Stage
    end_s: float
    conversion_start: float
    loss: HeatLoss[float] | None
    heated: Trajectory | None
    """None for a film, as its loss."""


def follow_stage(
    kinetics: Kinetics,
    stage: Stage,
    leaves_s: float | None,
    until_s: float,
    mass_g: float,
    conversion: float,
    temperature_K: float,
    tolerance: float,
) -> Leg:
    """Follow one stage until the mix leaves it, or as the last one until nothing is left to see.

    Parameters
    ----------
    kinetics : Kinetics
        The calibrated resin [-].
    stage : Stage
        Where the mix is [-].
    leaves_s : float | None
        When it leaves; None for the last stage [s].
    until_s : float
        How far to follow the last stage at least [s].
    mass_g : float
        Mass of mix, above 0 [g].
    conversion : float
        Conversion as the stage begins [-].
    temperature_K : float
        Temperature as the stage begins [K].
    tolerance : float
        Error allowed in one step, relative in time [-].

    Returns
    -------
    Leg
        The stage as it was followed [-].
    """
    if stage.vessel.kind == "film":
        if leaves_s is None:
            limit = max(kinetics.conversion_working, kinetics.conversion_gel, kinetics.conversion_film)
            last_s = film_time_s(kinetics, stage.ambient, limit, conversion_start=conversion, from_s=stage.from_s)
            leaves_s = max(until_s, last_s)
        return Leg(stage, leaves_s, conversion, None, None)
    heated = heated_course(
        kinetics,
        stage.vessel,
        mass_g=mass_g,
        start_K=temperature_K,
        ambient=stage.ambient,
        conversion_start=conversion,
        from_s=stage.from_s,
        until_s=until_s if leaves_s is None else None,
        time_end_s=inf if leaves_s is None else leaves_s,
        tolerance=tolerance,
    )
    end_s = max(until_s, heated.last.time_s) if leaves_s is None else leaves_s
    return Leg(stage, end_s, conversion, heat_loss_of(kinetics, stage.vessel, mass_g), heated)


def state_at(kinetics: Kinetics, leg: Leg, time_s: float) -> tuple[float, float]:
    """Return the state in one leg; once fully cured, the mix only cools.

    Parameters
    ----------
    kinetics : Kinetics
        The calibrated resin [-].
    leg : Leg
        The leg [-].
    time_s : float
        A time within it [s].

    Returns
    -------
    tuple[float, float]
        Conversion [-] and temperature [K].
    """
    if leg.heated is None or leg.loss is None:
        age_s = dose_s(leg.stage.ambient, kinetics.activation_energy_J_mol, from_s=leg.stage.from_s, until_s=time_s)
        conversion = conversion_after(kinetics, kinetics.k_ref_per_s * age_s, conversion_start=leg.conversion_start)
        return conversion, temperature_at_K(leg.stage.ambient, time_s)
    last = leg.heated.last
    if time_s <= last.time_s:
        node = leg.heated.at_time(time_s)
        return unstretch(node.y, kinetics.a0), node.temperature_K
    above_K = last.temperature_K - temperature_at_K(leg.stage.ambient, last.time_s)
    # dx/dt = -x (1 + g |x|)/tau, a Bernoulli equation
    left = exp(-(time_s - last.time_s) / leg.loss.tau_s)
    left /= 1.0 + leg.loss.growth_per_K * abs(above_K) * (1.0 - left)
    return unstretch(last.y, kinetics.a0), temperature_at_K(leg.stage.ambient, time_s) + above_K * left


def reached_s(kinetics: Kinetics, legs: Sequence[Leg], conversion: float) -> float:
    """Return when the legs reach a conversion: their start if they began beyond it, their end if they never do.

    Parameters
    ----------
    kinetics : Kinetics
        The calibrated resin [-].
    legs : Sequence[Leg]
        One after the other [-].
    conversion : float
        Conversion to reach, 0 to below 1 [-].

    Returns
    -------
    float
        Time [s].
    """
    for leg in legs:
        if conversion <= leg.conversion_start:
            return leg.stage.from_s
        if leg.heated is None:
            reached_s = film_time_s(
                kinetics,
                leg.stage.ambient,
                conversion,
                conversion_start=leg.conversion_start,
                from_s=leg.stage.from_s,
            )
            if reached_s <= leg.end_s:
                return reached_s
        elif stretch(conversion, kinetics.a0) <= leg.heated.last.y:
            return leg.heated.at_y(stretch(conversion, kinetics.a0)).time_s
    return legs[-1].end_s


def peak_of(leg: Leg) -> tuple[float, float]:
    """Return the hottest state of one leg.

    Parameters
    ----------
    leg : Leg
        The leg [-].

    Returns
    -------
    tuple[float, float]
        Temperature [K] and time [s].
    """
    if leg.heated is None:
        time_s, temperature_K = max(
            corners(leg.stage.ambient, from_s=leg.stage.from_s, until_s=leg.end_s), key=lambda point: point[1]
        )
        return temperature_K, time_s
    node = leg.heated.peak()
    return node.temperature_K, node.time_s
