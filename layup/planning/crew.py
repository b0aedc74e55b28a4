"""The work at the bench: what is laid in which order, how long it takes this crew, and where a batch may end.

How long a step may take, before anybody did it. A job to split: the work left, its crew, what one batch may weigh.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil

from layup.chemistry.datasheet import Datasheet
from layup.chemistry.mixing import parts_by_mass
from layup.planning.budget import Budget, Line, bonded_area_m2
from layup.planning.cuts import cloth_area_m2
from layup.planning.plan import BondStep, CastStep, Crew, FabricStep, Plan, Step

# -- bench -----------------------------------------------------------------------------------------------------------

MOST_PEOPLE = 20
"""So many at the bench are taken; more get in each other's way."""
FINEST = 32
"""A batch may end after about every 32nd part of the resin: nobody can stop a brush more finely than that."""


@dataclass(frozen=True, slots=True)
class DryWork:
    """A step, or what is left of it, that takes time and no resin; `work_s` is for one pair of hands."""

    step: int
    work_s: float


@dataclass(frozen=True, slots=True)
class Portion:
    """The smallest share of a step that is laid from one cup: from `begin` to `end` (0..1) of step `step`.

    `work_s` is for one pair of hands. `dry` is what follows before resin is needed again: if the batch ends here, its
    cup is empty by then.
    """

    step: int
    begin: float
    end: float
    laid_g: float
    work_s: float
    dry: tuple[DryWork, ...] = ()

    @property
    def after_s(self) -> float:
        """Return the dry work that follows [s]."""
        return sum(work.work_s for work in self.dry) if self.dry else 0.0


@dataclass(frozen=True, slots=True)
class Work:
    """Everything still to do, in bench order; `lead` is dry work to be done before the first resin."""

    portions: tuple[Portion, ...]
    lead: tuple[DryWork, ...] = ()

    @property
    def lead_s(self) -> float:
        """Return the dry work before the first resin [s]."""
        return sum(work.work_s for work in self.lead)

    @property
    def laid_g(self) -> float:
        """Return the mix to lay [g]."""
        return sum(portion.laid_g for portion in self.portions)


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast a crew lays, in pairs of hands: `full` with everybody, `beside` while one of them mixes."""

    full: float
    beside: float
    mixing_s: float
    stirring_s: float

    @property
    def batch_cost_s(self) -> float:
        """Return the time that mixing one more batch adds to the day [s]."""
        return self.mixing_s * (1.0 - self.beside / self.full)

    def wait_s(self, work_s: float) -> float:
        """Return how long the hands wait for the next batch [s], with `work_s` of work on this one."""
        return max(0.0, self.beside * self.mixing_s - work_s) / self.full

    def span_s(self, work_s: float, *, last: bool) -> float:
        """Return the time from the first laying of a batch to that of the next [s]; of the last, to the closing."""
        if last:
            return work_s / self.full
        return work_s / self.full + self.batch_cost_s + self.wait_s(work_s)

    def elapsed_s(self, done_s: float, work_s: float, *, last: bool) -> float:
        """Return when the first `done_s` of a batch's `work_s` are done [s]; the next is mixed at the end of it."""
        early = self.span_s(work_s, last=last) - (0.0 if last else self.mixing_s)
        if last or self.beside == 0.0 or done_s <= early * self.full:
            return done_s / self.full
        return early + (done_s - early * self.full) / self.beside


def pace_of(crew: Crew) -> Pace:
    """Return how fast a crew lays.

    h people lay as 1 + second_pair (h - 1) pairs of hands; nobody at the bench lays nothing. The next batch is mixed
    in the last `mixing_s` of the one on the bench, so that it is as young as can be when its turn comes; alone, once
    the bench is empty.

    >>> pace_of(Crew(people=3, second_pair=0.5)).full, pace_of(Crew(people=3, second_pair=0.5)).beside
    (2.0, 1.5)
    """
    stirring = crew.mixing_s / 2.0 if crew.stirring_s is None else crew.stirring_s
    return Pace(pairs_of_hands(crew, crew.people), pairs_of_hands(crew, crew.people - 1), crew.mixing_s, stirring)


def evened_s(crew: Crew, hands: Sequence[tuple[float, int]], begin_s: float, end_s: float) -> float:
    """Find how long those who began would have taken for the work that those present did between two times.

    The time between, each stretch as much longer as more hands worked in it than began the day.

    Parameters
    ----------
    hands : From when how many were there, the first from the start on [s]
    begin_s : When the work began [s]
    end_s : When it was over [s]
    """
    if len(hands) < 2:
        return end_s - begin_s
    full = [pairs_of_hands(crew, people) for _, people in hands]
    edges = [*(min(max(at_s, begin_s), end_s) for at_s, _ in hands[1:]), end_s]
    total_s, from_s = 0.0, begin_s
    for pairs, edge_s in zip(full, edges, strict=True):
        total_s += (edge_s - from_s) * pairs / full[0]
        from_s = edge_s
    return total_s


def pairs_of_hands(crew: Crew, people: int) -> float:
    """Return as how many pairs of hands so many people lay [-].

    Parameters
    ----------
    people : At the bench, none or more [-]
    """
    return 1.0 + crew.second_pair * (people - 1) if people else 0.0


def work_of(plan: Plan, lines: Sequence[Line], *, done: Mapping[int, float] | None = None) -> Work:
    """Cut the work of a plan into portions, each laid from one cup.

    A portion holds at most about 1/`FINEST` of the resin; it ends where a ply of a piece does, unless these are smaller
    still. A step's resin is laid evenly over its bench time. What was cast before press day takes no time.
    """
    left = [1.0 - (done or {}).get(number, 0.0) for number in range(len(plan.steps))]
    total = sum(line.mix_g * share for line, share in zip(lines, left, strict=True))
    lead: list[DryWork] = []
    portions: list[Portion] = []
    for number, (step, line, share) in enumerate(zip(plan.steps, lines, left, strict=True)):
        today = not (isinstance(step, CastStep) and step.before_press_day)
        grams, work = line.mix_g * share, step.bench_s * share if today else 0.0
        if grams <= 0.0 and work <= 0.0:
            continue
        if grams > 0.0:
            laid = plan.pieces * (step.layers if isinstance(step, FabricStep) else 1) * share
            plies, least = max(1, ceil(laid - 1e-9)), max(1, ceil(grams * FINEST / total - 1e-9))
            count = (
                plies * ceil(least / plies) if plies <= least else least
            )  # whole ones a ply, unless plies are smaller
            cuts = [1.0 - share * (count - i) / count for i in range(count + 1)]
            portions += [Portion(number, a, b, grams / count, work / count) for a, b in pairwise(cuts)]
        elif portions:
            portions[-1] = replace(portions[-1], dry=(*portions[-1].dry, DryWork(number, work)))
        else:
            lead.append(DryWork(number, work))
    return Work(tuple(portions), tuple(lead))


# -- guesses ---------------------------------------------------------------------------------------------------------

USUAL_MIN = {"fabric": (2.0, 20.0), "bond": (1.0, 8.0), "place": (2.0, 0.0), "cast": (5.0, 0.0)}
"""Minutes for one pair of hands: for one ply, face, thing or pour of one piece, and for each square metre of it.

Common practice, no source: a guess until a dry run.
"""


def usual_bench_s(plan: Plan, step: Step) -> float:
    """Guess how long a step takes one pair of hands, for all pieces, by its kind and its size.

    Whole minutes, one at least. Raises InputError for a strip or an overhang where the outline has no length.

    >>> from layup.planning.outline import Outline
    >>> from layup.planning.plan import FibreTarget
    >>> face = BondStep("base", 0.0, "base sheet", 60.0)
    >>> board = Outline(stated_area_m2=0.5)
    >>> usual_bench_s(Plan("board", "slow", 1, Crew(), FibreTarget("weight", 0.6), board, (face,)), face) / 60.0
    5.0
    """
    each_min, per_m2_min = USUAL_MIN[step.kind]
    count, area_m2 = 1, 0.0
    if isinstance(step, FabricStep):
        count, area_m2 = step.layers, cloth_area_m2(plan.outline, step)
    elif isinstance(step, BondStep):
        area_m2 = bonded_area_m2(plan.outline, step)
    elif isinstance(step, CastStep):
        count = step.stated_pours
    return 60.0 * max(round(plan.pieces * count * (each_min + per_m2_min * area_m2)), 1)


# -- job -------------------------------------------------------------------------------------------------------------


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
