"""One piece in its press: pressure, force, the row of clamps over it, and the fibre fraction to expect."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from layup.chemistry.caul import UNEVEN
from layup.chemistry.closing import (
    CAULS,
    Clamping,
    Fraction,
    bag_pressure_Pa,
    bed_give_m,
    bed_of_caul,
    clamping,
    fibre_fraction_under_pressure,
    press_force_N,
    row_of_clamps,
)
from layup.chemistry.laminate import fibre_volume_fraction, ply_thickness_m
from layup.chemistry.ranges import require_positive
from layup.errors import InputError
from layup.planning.budget import CURED_DENSITY_G_CM3
from layup.planning.outline import area_m2, needed_length_m
from layup.planning.stack import FabricStep, Plan

USUAL_PRESSURE_PA = 100_000.0
"""Pressure where the plan states none: one atmosphere (common practice, no source)."""
USUAL_LEFT_PA = 10_000.0
"""What a shop's pump leaves in a bag (common practice, no source)."""
USUAL_CAUL, USUAL_CAUL_M = "birch plywood", 0.030
USUAL_CLOTH = "stitched"


@dataclass(frozen=True, slots=True)
class Pressing:
    """One piece under its pressure."""

    method: str
    area_m2: float
    pressure_Pa: float
    wanted_Pa: float | None
    """The plan's target, which a bag may miss."""
    cloth: str
    laminate_m: float
    """All plies of one piece, as planned."""
    planned_fraction: float | None
    """Mean fibre fraction by volume that the plan's cloth aims at; None without cloth."""

    @property
    def force_N(self) -> float:
        """Return the force on one piece [N]."""
        return press_force_N(self.pressure_Pa, self.area_m2)

    @property
    def fraction(self) -> Fraction:
        """Return the fibre fraction by volume to expect."""
        return fibre_fraction_under_pressure(self.cloth, self.pressure_Pa)

    @property
    def in_a_row(self) -> bool:
        """Return whether clamps or bolts stand in a row over it."""
        return self.method in ("clamps", "bolts")


def pressing(
    plan: Plan,
    *,
    method: str | None = None,
    wanted_Pa: float | None = None,
    altitude_m: float = 0.0,
    left_Pa: float = USUAL_LEFT_PA,
    cloth: str = USUAL_CLOTH,
) -> Pressing:
    """Find the pressure on one piece of a plan.

    Parameters
    ----------
    plan : Plan
        The part and how it is closed [-]
    method : str or None
        "clamps", "bolts", "bladder" or "bag"; None takes the plan's [-]
    wanted_Pa : float or None
        Pressure wanted; None takes the plan's, and 100 kPa where it states none [Pa]
    altitude_m : float
        Of the shop, for a bag [m]
    left_Pa : float
        What the pump leaves in a bag [Pa]
    cloth : str
        Kind of cloth: "mat", "woven", "stitched" or "unidirectional" [-]

    Returns
    -------
    Pressing
        Area, pressure, and what the plan aims at [m^2, Pa]

    Raises
    ------
    RangeError
        For a value outside its range.
    """
    method = method or plan.closing.method
    wanted_Pa = plan.closing.target_pressure_Pa if wanted_Pa is None else wanted_Pa
    pressure_Pa = USUAL_PRESSURE_PA if wanted_Pa is None else wanted_Pa
    steps = [step for step in plan.steps if isinstance(step, FabricStep)]
    return Pressing(
        method=method,
        area_m2=plan.closing.area_m2 or area_m2(plan.outline),
        pressure_Pa=bag_pressure_Pa(altitude_m, left_Pa) if method == "bag" else pressure_Pa,
        wanted_Pa=wanted_Pa,
        cloth=cloth,
        laminate_m=sum(map(_thickness_m, steps)),
        planned_fraction=_planned_fraction(steps),
    )


def clamp_row(
    plan: Plan,
    press: Pressing,
    *,
    caul: str = USUAL_CAUL,
    caul_m: float = USUAL_CAUL_M,
    uneven: float = UNEVEN,
    clamps: int | None = None,
    rating_N: float | None = None,
) -> Clamping:
    """Find the row of clamps or bolts over one piece.

    Parameters
    ----------
    plan : Plan
        The part [-]
    press : Pressing
        Its pressure [-]
    caul : str
        What the caul is made of, a name of `CAULS` [-]
    caul_m : float
        Thickness of the caul [m]
    uneven : float
        Share of the pressure that may be missing at the worst place [-]
    clamps : int or None
        How many there are; None takes the plan's, and as many as evenness and rating ask where it states none [-]
    rating_N : float or None
        The most that one clamp may give [N]

    Returns
    -------
    Clamping
        Number, spacing and evenness [m]

    Raises
    ------
    InputError
        For a plan that lays no cloth, or whose outline has no length.
    RangeError
        For a value outside its range.
    """
    if press.laminate_m == 0.0:
        todo = "clamps cannot be spaced for it"
        raise InputError(plan.title, "lays no cloth, so nothing gives under the caul", todo=todo)
    bed = bed_of_caul(
        needed_length_m(plan.outline, "a caul"),
        caul_m,
        CAULS[caul].modulus_Pa,
        press.pressure_Pa,
        bed_give_m(press.cloth, press.laminate_m),
    )
    count = plan.closing.clamps if clamps is None else clamps
    if count is not None:
        return row_of_clamps(bed, count)
    at_least = 2 if rating_N is None else ceil(press.force_N / require_positive("rating", rating_N, unit="N"))
    return clamping(bed, uneven, max(2, at_least))


def _thickness_m(step: FabricStep) -> float:
    return step.layers * ply_thickness_m(
        step.areal_weight_g_m2, step.fibre_mass_fraction, step.fibre_density_g_cm3, CURED_DENSITY_G_CM3
    )


def _planned_fraction(steps: list[FabricStep]) -> float | None:
    if not steps:
        return None
    parts = [
        _thickness_m(step)
        * fibre_volume_fraction(step.fibre_mass_fraction, step.fibre_density_g_cm3, CURED_DENSITY_G_CM3)
        for step in steps
    ]
    return sum(parts) / sum(map(_thickness_m, steps))
