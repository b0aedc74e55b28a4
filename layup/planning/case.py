"""One case to plan: this part, this resin, this shop; and what the plan comes to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from layup.chemistry.calibration import Calibration
from layup.chemistry.datasheet import Datasheet
from layup.planning.batches import split_batches
from layup.planning.budget import Budget, budget
from layup.planning.job import Job, job_of
from layup.planning.lives import CUP, Lives, Resin, lives
from layup.planning.schedule import Split
from layup.planning.stack import Plan, Shop


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
    clocks: Lives
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


def clocks_at(case: Case, job: Job, shop: Shop) -> Lives:
    """Return the clocks of a case's resin in a shop.

    Parameters
    ----------
    case : Case
        Part, resin and shop [-]
    job : Job
        What is to be split, for the batch masses it may take [-]
    shop : Shop
        The shop, which may differ from the case's own [-]

    Returns
    -------
    Lives
        Clocks for every batch mass that the job allows [s]
    """
    lightest, heaviest = job.masses_g
    dry = replace(shop, relative_humidity=None)  # lives do not depend on it, and the same shop is tabulated once
    return lives(Resin(case.calibration, dry, CUP), lightest, heaviest)
