"""A job to split: the work left, the crew that does it, and what one batch may weigh."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from layup.chemistry.datasheet import Datasheet
from layup.chemistry.mixing import parts_by_mass
from layup.planning.bench import Pace, Work, pace_of, work_of
from layup.planning.budget import Budget
from layup.planning.stack import Plan


@dataclass(frozen=True, slots=True)
class Job:
    """Everything that decides the batches but the clocks.

    `ready_s` is when the first batch is laid, counted from the start of its weighing; `close_by_s` is when the press
    must be closed for the sake of mix that is on the part already, counted the same. With `padded`, a batch that would
    weigh less than `smallest_g` is mixed at that mass, and the rest of it is left over.
    """

    work: Work
    pace: Pace
    closing_s: float
    loss_g: float
    smallest_g: float
    largest_g: float
    parts: tuple[float, float]
    ready_s: float
    close_by_s: float = float("inf")
    padded: bool = False
    first_batch: int = 1
    """The number of its first batch."""

    @property
    def masses_g(self) -> tuple[float, float]:
        """Return the least and the most that a batch of this job can weigh [g]."""
        heaviest = min(self.largest_g, max(self.work.laid_g + self.loss_g, self.smallest_g))
        return min(self.smallest_g, heaviest), heaviest

    def mass_g(self, laid_g: float) -> float | None:
        """Return what a batch weighs that lays `laid_g` [g]; None if that is not allowed."""
        mass = laid_g + self.loss_g
        if mass < self.smallest_g:
            mass = self.smallest_g if self.padded else 0.0
        return mass if 0.0 < mass <= self.largest_g else None


def job_of(plan: Plan, budget: Budget, datasheet: Datasheet, *, done: Mapping[int, float] | None = None) -> Job:
    """Put together what is to be split into batches.

    Parameters
    ----------
    plan : Plan
        The part, its steps and its crew [-]
    budget : Budget
        The plan's grams [-]
    datasheet : Datasheet
        The laminating resin [-]
    done : Mapping[int, float] | None
        Share of each step already done, 0 to 1, by step number [-]

    Returns
    -------
    Job
        The work left, and the limits of one batch [g, s]

    Raises
    ------
    InputError
        A ratio by volume without densities.

    Notes
    -----
    A batch weighs at least what the scale keeps within 2 % of the ratio, at most what the largest cup and the scale
    hold.
    """
    parts = parts_by_mass(datasheet)
    work = work_of(plan, budget.lines, done=done)
    pace = pace_of(plan.crew)
    return Job(
        work=work,
        pace=pace,
        closing_s=plan.closing.bench_s,
        loss_g=plan.losses.per_batch_g,
        smallest_g=plan.scale.smallest_batch_g(parts),
        largest_g=min(plan.scale.capacity_g, plan.largest_cup_g or float("inf")),
        parts=parts,
        ready_s=pace.mixing_s,
    )
