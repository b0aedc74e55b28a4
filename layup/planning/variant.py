"""A plan with some of what it states set anew, as people do on the day: crew, cup, fibre fraction, resin."""

from __future__ import annotations

from dataclasses import replace
from math import isclose

from layup.chemistry.datasheet import Datasheet
from layup.chemistry.laminate import CURED_DENSITY_G_CM3, fibre_mass_fraction
from layup.planning.stack import FabricStep, FibreTarget, Plan


def plan_with(
    plan: Plan, datasheet: Datasheet, *, people: int, largest_cup_g: float | None, fibre_fraction: float
) -> Plan:
    """Return a plan for another resin, crew, cup and fibre fraction.

    Parameters
    ----------
    plan : Plan
        As its file states it [-]
    datasheet : Datasheet
        The resin to use [-]
    people : int
        At the bench, 1 or more [-]
    largest_cup_g : float | None
        The most mix that a cup may hold; None for no limit [g]
    fibre_fraction : float
        Aimed at, by weight or by volume as the plan's own, 0 to 1 [-]

    Returns
    -------
    Plan
        The same steps; those with a fibre fraction of their own keep it [-]

    Raises
    ------
    RangeError
        A number out of its range.
    """
    target = FibreTarget(plan.target.by, fibre_fraction)

    def aimed(step: FabricStep) -> FabricStep:
        follows = isclose(step.fibre_mass_fraction, _by_mass(plan.target, step), rel_tol=0.02)
        return replace(step, fibre_mass_fraction=_by_mass(target, step)) if follows else step

    steps = plan.steps
    if target != plan.target:
        steps = tuple(aimed(step) if isinstance(step, FabricStep) else step for step in plan.steps)
    return replace(
        plan,
        resin_id=datasheet.id,
        target=target,
        crew=replace(plan.crew, people=people),
        largest_cup_g=largest_cup_g,
        steps=steps,
    )


def _by_mass(target: FibreTarget, step: FabricStep) -> float:
    """Return a target as a fraction by mass of one cloth."""
    if target.by == "weight":
        return target.value
    return fibre_mass_fraction(target.value, step.fibre_density_g_cm3, CURED_DENSITY_G_CM3)
