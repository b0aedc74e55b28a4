"""Where the mix of each batch is, step by step: on the part, lost, or still in its cup. Poured = laid + lost + left.

The one account that replanning, Bench, the review and the part as built go by. A batch's mix is shared out to the steps
that it serves as its plan lays it, what stays in its cup and brush included; where somebody said what is left in its
cup, all else of it is on the part, and this goes to the steps it is for. Journals without `laid_g` in a lost batch are
read by the steps done: these took all of its mix for them, the others none. With it, what stands against laying a
batch, what sessions poured of each lot, and what is left in the cans.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from math import isfinite
from typing import NamedTuple

from layup.chemistry.datasheet import Datasheet
from layup.chemistry.mixing import off_ratio
from layup.errors import InputError, LayupError, StorageError
from layup.files.durable import STOCK
from layup.files.workshop import Can, Workshop, load_stock
from layup.planning.budget import budget
from layup.planning.checklist import CanLeft, Stock
from layup.planning.crew import Pace, pairs_of_hands
from layup.planning.mix_sheet import Component, ratio_word
from layup.planning.plan import BondStep, PlaceStep, Plan, Step
from layup.planning.schedule import Split
from layup.session.archive import Sessions, Summary
from layup.session.fields import BatchPlan, Doubt, StepPlan, batch_plan
from layup.session.state import SessionState
from layup.session.state_parts import BatchState, StepState, done_with
from layup.session.text import clean

# -- mass balance ----------------------------------------------------------------------------------------------------

ALL_OF_IT = 0.99
"""A step with this share of its mix has all of it: shares are rounded."""


@dataclass(frozen=True, slots=True)
class BatchShare:
    """What one batch holds of one step's mix; `step` is None for a batch that names no step."""

    batch: int
    step: int | None
    share: float
    """How much of the step it was planned to lay."""
    poured_g: float
    laid: float
    """How much of that is on the part, 0 to 1."""
    lost: bool
    """Whether the rest of it is lost; else it is still in its cup, or yet to be mixed."""


class Account(NamedTuple):
    """Portions added up, in grams of mix and in shares of a step."""

    poured_g: float
    laid_g: float
    lost_g: float
    left_g: float
    laid_share: float
    left_share: float
    """In cups, and in batches yet to be mixed."""


@dataclass(frozen=True, slots=True)
class MassBalance:
    """The mix of a session, portion by portion."""

    portions: tuple[BatchShare, ...]

    def of_batch(self, number: int) -> Account:
        """Return where the mix of one batch is."""
        return _added(portion for portion in self.portions if portion.batch == number)

    def of_step(self, number: int) -> Account:
        """Return where the mix for one step is, of all batches."""
        return _added(portion for portion in self.portions if portion.step == number)


def _added(portions: Iterable[BatchShare]) -> Account:
    poured, laid, lost, left, laid_share, left_share = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for portion in portions:
        on_part_g = portion.poured_g * portion.laid
        poured += portion.poured_g
        laid += on_part_g
        laid_share += portion.share * portion.laid
        if portion.lost:
            lost += portion.poured_g - on_part_g
        else:
            left += portion.poured_g - on_part_g
            left_share += portion.share * (1.0 - portion.laid)
    return Account(poured, laid, lost, left, laid_share, left_share)


def mix_by_step_g(plan: Plan, sheet: Datasheet, state: SessionState) -> dict[int, float]:
    """Return the mix that each step lays, by its number in the session: those of the plan, and those added today."""
    added = {step.number: step.mix_g for step in state.steps if step.mix_g is not None}
    return {line.step + 1: line.mix_g for line in budget(plan, sheet).lines} | added


def plan_today(plan: Plan, state: SessionState) -> tuple[Plan, tuple[int, ...]]:
    """Return a plan as the day has changed it, and the number in the session of each of its steps.

    Steps left out are gone, those added stand in their places. What the session has no step for, as it was cast
    before, stands first: it takes no time today. Raises InputError where the plan is not that of the session.
    """
    last = max((step.number for step in state.steps if step.mix_g is None), default=0)
    if last > len(plan.steps):
        raise InputError(
            plan.title, "has fewer steps than its session", value=f"{len(plan.steps)}, step {last} is logged"
        )
    steps = [(number, step) for number, step in enumerate(plan.steps, 1) if state.step(number) is None]
    for one in state.steps:
        if one.skipped_s is None:
            steps.append((one.number, plan.steps[one.number - 1] if one.mix_g is None else _as_step(one, plan, state)))
    return replace(plan, steps=tuple(step for _, step in steps)), tuple(number for number, _ in steps)


def step_plans(plan: Plan, pace: Pace) -> tuple[StepPlan, ...]:
    """Return the steps of a plan that are done on the day, as the journal keeps them."""
    return tuple(
        StepPlan(
            step=number,
            name=clean(step.name),
            kind=step.kind,
            planned_s=step.bench_s / pace.full,
        )
        for number, step in enumerate(plan.steps, 1)
        if not (plan.lays and step.kind == "cast" and step.before_press_day)
    )


def batch_plans(split: Split, numbers: Sequence[int]) -> tuple[BatchPlan, ...]:
    """Return the batches of a split as the journal keeps them; `numbers` are those of the plan's steps."""
    return tuple(
        batch_plan(
            batch.number,
            batch.mass_g,
            batch.parts_g,
            tuple(numbers[share.step] for share in batch.shares),
            tuple(min(share.end - share.begin, 1.0) for share in batch.shares),
        )
        for batch in split.batches
    )


def _as_step(added: StepState, plan: Plan, state: SessionState) -> Step:
    """Return a step added today as one of the plan; its time is of those who began, a plan's of one pair of hands."""
    bench_s = added.plan.planned_s * pairs_of_hands(plan.crew, state.hands[0][1])
    if not added.mix_g:
        return PlaceStep(added.plan.name, bench_s)
    uptake_g = added.mix_g * (1.0 - plan.losses.squeezed) / plan.pieces
    return BondStep(added.plan.name, bench_s, "added", uptake_g, area_m2=1.0)


def mass_balance(state: SessionState, mix_g: Mapping[int, float]) -> MassBalance:
    """Return where all mix is; `mix_g` is what each step lays, by its number."""
    return MassBalance(tuple(portion for batch in state.batches for portion in _portions(batch, state.steps, mix_g)))


def wants_mix(state: SessionState) -> frozenset[int]:
    """Return the steps that some batch was planned to lay something of, at the start or since, and that were not left
    out."""
    begun = (BatchState(plan) for plan in state.begun_with)
    found = {step for batch in (*begun, *state.batches) for step, share in batch.serves if share > 0.0}
    found |= {step.number for step in state.steps if step.mix_g}
    return frozenset(found - {step.number for step in state.steps if step.skipped_s is not None})


def without_mix(state: SessionState, balance: MassBalance) -> frozenset[int]:
    """Return the steps that want mix and for which some of it is nowhere: neither laid, nor in a cup, nor planned."""
    sums = {step: balance.of_step(step) for step in wants_mix(state)}
    return frozenset(step for step, sums_of in sums.items() if sums_of.laid_share + sums_of.left_share < ALL_OF_IT)


def laid_by_steps_g(batch: BatchState, steps: Sequence[StepState], mix_g: Mapping[int, float]) -> float:
    """Return what is on the part of a batch by the steps done alone: what to suggest where it is lost now."""
    done = done_with(batch, steps)
    now = replace(batch, lost_s=0.0, lost_laid_g=None, done_when_lost=done)
    return _added(_portions(now, (), mix_g)).laid_g


def _portions(batch: BatchState, steps: Sequence[StepState], mix_g: Mapping[int, float]) -> list[BatchShare]:
    out = {step.number for step in steps if step.skipped_s is not None}
    left_g = 0.0 if batch.left_g is None else batch.left_g
    own_for = [each for each in batch.planned_for if batch.left_g is None or each[0] not in out]
    own = _shared_out(own_for, batch.poured_g - left_g, mix_g)
    left = [] if batch.left_g is None else _shared_out(batch.left_for, left_g, mix_g)
    serves, grams = [(step, share) for step, share, _ in (*own, *left)], [each_g for *_, each_g in (*own, *left)]
    laid = _laid(batch, [step for step, _ in serves], grams, steps, len(own))
    return [
        BatchShare(batch.number, None if step in out else step, share, each_g, on_part, batch.lost_s is not None)
        for (step, share), each_g, on_part in zip(serves, grams, laid, strict=True)
    ]


def _shared_out(
    serves: Sequence[tuple[int, float]], grams: float, mix_g: Mapping[int, float]
) -> list[tuple[int | None, float, float]]:
    """Return steps with their shares, and the grams of some mix that each of them takes."""
    found: list[tuple[int | None, float]] = [*serves] or [(None, 1.0)]
    weights = [share * mix_g.get(step or 0, 0.0) for step, share in found]
    if sum(weights) <= 0.0:
        weights = [share for _, share in found] if any(share for _, share in found) else [1.0] * len(found)
    return [
        (step, share, grams * (weight / sum(weights))) for (step, share), weight in zip(found, weights, strict=True)
    ]


def _laid(
    batch: BatchState, serves: list[int | None], grams: list[float], steps: Sequence[StepState], own: int
) -> list[float]:
    """Return how much of each portion is on the part; the first `own` of them are what it was planned for.

    A cup that was emptied has laid all of it; one in use what its steps done took. Of a lost one it is what was said,
    the steps done by then first and then in bench order; where nobody said, the steps done by then, all of each.
    """
    if batch.mixed_s is None:
        return [0.0] * len(serves)
    if batch.lost_s is None:
        done = done_with(batch, steps)
        since = {step.number for step in steps if step.done_s is not None and step.done_s >= batch.left_s}
        all_own = batch.left_g is not None
        taken = [all_own or step in done for step in serves[:own]] + [step in since for step in serves[own:]]
        return [1.0 if batch.poured_out_s is not None or each else 0.0 for each in taken]
    done = batch.done_when_lost
    if batch.lost_laid_g is None:
        return [1.0 if step in done and place < own else 0.0 for place, step in enumerate(serves)]
    laid, rest_g = [0.0] * len(serves), batch.lost_laid_g
    for place in sorted(range(len(serves)), key=lambda place: serves[place] not in done):
        taken_g = min(rest_g, grams[place])
        laid[place] = taken_g / grams[place] if grams[place] > 0.0 else 0.0
        rest_g -= taken_g
    return laid


# -- doubts ----------------------------------------------------------------------------------------------------------


def poured_off_ratio(batch: BatchState, parts: Sequence[float]) -> float | None:
    """Return how far off ratio a batch was mixed (+0.1: 10 % too much hardener); None where its masses cannot tell."""
    if batch.mixed_s is None or not batch.resin_g or not batch.hardener_g:
        return None
    try:
        off = off_ratio((batch.resin_g, batch.hardener_g), parts)
    except LayupError:
        return None
    return off if isfinite(off) else None


def doubt(batch: BatchState, parts: Sequence[float]) -> Doubt | None:
    """Return what stands against laying a mixed batch, by its last readings: the one rule for asking and for marks."""
    if batch.mixed_s is None:
        return None
    off = poured_off_ratio(batch, parts)
    if off is not None and ratio_word(off) == "off ratio":
        return "off ratio"
    return "unread" if off is None or unread(batch) else None


def unread(batch: BatchState) -> tuple[str, ...]:
    """Return the components of a mixed batch that were never read on the scale."""
    known = (("resin", batch.resin_read), ("hardener", batch.hardener_read))
    return tuple(name for name, read in known if not read)


# -- cans --------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Poured:
    """What a session poured of one component, from the lot that it named; an empty `lot` where it named none."""

    resin: str
    component: Component
    lot: str
    mass_g: float
    day: date


def stock_of(workshop: Workshop, today: date) -> Stock | None:
    """Return what is left in the cans, or what is wrong with the account of them; None where nobody keeps one."""
    path = workshop.root / STOCK
    if not path.is_file():
        return None
    try:
        cans, problems = load_stock(path, resin_ids=workshop.resin_ids(), today=today)
        summaries = Sessions(workshop, keep=False).all()
    except StorageError as error:
        return Stock(trouble=f"{STOCK} {error.wrong}.")
    if cans is None:
        wrong = sum(not problem.warning for problem in problems)
        return Stock(trouble=f"{STOCK} has {wrong} problem{'s' * (wrong > 1)}: see 'layup check'.")
    return stock_left(cans, [each for summary in summaries for each in _poured(summary)], today)


def _poured(summary: Summary) -> list[Poured]:
    """Return what a session took from the cans."""
    if not summary.started_at:
        return []
    day = datetime.fromisoformat(summary.started_at).astimezone().date()
    return [Poured(summary.resin, *taken, day) for taken in summary.poured]


def stock_left(cans: Sequence[Can], poured: Iterable[Poured], today: date) -> Stock:
    """Take off what sessions poured: from the cans of the lot that they named, the one opened first before the others.

    A session that named no lot is taken from the cans that were open on its day. A lot that no can has is one that is
    gone: nothing is taken off for it.
    """
    left_g = [can.mass_g for can in cans]
    order = sorted(range(len(cans)), key=lambda at: cans[at].opened or date.max)
    for one in sorted(poured, key=lambda one: (not one.lot, one.day)):  # those that name their lot first
        may, rest_g = [at for at in order if _is_from(one, cans[at])], one.mass_g
        for at in may:
            taken_g = rest_g if at == may[-1] else min(rest_g, max(left_g[at], 0.0))
            left_g[at] -= taken_g
            rest_g -= taken_g
    return Stock(
        tuple(
            CanLeft(can.resin, can.component, can.lot, mass_g, can.caution(today), can.expired(today))
            for can, mass_g in zip(cans, left_g, strict=True)
        )
    )


def _is_from(poured: Poured, can: Can) -> bool:
    if (poured.resin, poured.component) != (can.resin, can.component):
        return False
    return poured.lot == can.lot if poured.lot else can.opened is not None and can.opened <= poured.day
