"""One case to plan: this part, this resin, this shop; and what the plan comes to.

A plan with some of what it states set anew, as people do on the day: crew, cup, fibre fraction, resin.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import isclose
from types import MappingProxyType

from layup.chemistry.calibration import Calibration
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.laminate import CURED_DENSITY_G_CM3, fibre_mass_fraction
from layup.planning.batches import split_batches
from layup.planning.budget import Budget, budget
from layup.planning.crew import Job, job_of
from layup.planning.life_table import CUP, LifeTable, VesselResin, life_table
from layup.planning.plan import FabricStep, FibreTarget, Plan, Shop
from layup.planning.schedule import Split

# -- case ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Case:
    """A plan with the resin it uses, calibrated, and the shop it is pressed in."""

    plan: Plan
    datasheet: Datasheet
    calibration: Calibration
    shop: Shop
    casting_resins: Mapping[str, Datasheet] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True)
class Settled:
    """A case with its grams, its clocks and its batches."""

    budget: Budget
    job: Job
    clocks: LifeTable
    split: Split


def settle(case: Case) -> Settled:
    """Work out the grams and the batches of a case.

    Parameters
    ----------
    case : Case
        Part, resin and shop [-]

    Returns
    -------
    Settled
        Budget with the losses of as many batches as it takes, the job, its clocks and its batches [g, s]

    Raises
    ------
    RangeError
        A number out of range, or a fibre fraction above the packing ceiling.
    InputError
        An outline without a length where cloth is cut, or a ratio by volume without densities.
    """
    grams = budget(case.plan, case.datasheet, casting_resins=case.casting_resins)
    job = job_of(case.plan, grams, case.datasheet)
    clocks = clocks_at(case, job, case.shop)
    split = split_batches(job, clocks)
    whole = budget(
        case.plan,
        case.datasheet,
        batches=max(len(split.batches), 1),
        left_over_g=split.left_over_g,
        casting_resins=case.casting_resins,
    )
    return Settled(whole, job, clocks, split)


def clocks_at(case: Case, job: Job, shop: Shop) -> LifeTable:
    """Return the clocks of a case's resin in a shop."""
    lightest, heaviest = job.masses_g
    dry = replace(shop, relative_humidity=None)  # lives do not depend on it, and the same shop is tabulated once
    return life_table(VesselResin(case.calibration, dry, CUP), lightest, heaviest)


# -- variant ---------------------------------------------------------------------------------------------------------


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
