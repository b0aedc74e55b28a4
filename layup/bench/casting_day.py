"""What a casting day knows beside its journal: the window of the next pour, each pour's colours, what is left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from layup.bench.day import PressDay
from layup.chemistry.demould import least_warmth
from layup.chemistry.ratio import split_mass
from layup.errors import LayupError
from layup.planning.budget import cast_loss_g
from layup.planning.castings import SEAL
from layup.planning.crew import pace_of
from layup.planning.plan import CastingWork, CastStep
from layup.planning.pours import SCRAPING_S, POURED_g_s, colour_weights, hardens_s, place_words, pours_left
from layup.session.batch_events import Replanned
from layup.session.fields import BatchPlan
from layup.session.mass_balance import ALL_OF_IT
from layup.session.state_parts import BatchState, StepState

WARM_ENOUGH_K = 0.5
"""How much cooler than wanted a core counts as warm (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Joining:
    """From when and until when the next pour may go on the last one, on the session's clock."""

    opens_s: float
    closes_s: float
    last: int
    """The batch that it goes on."""
    stated: bool


@dataclass(frozen=True, slots=True)
class Core:
    """How the core is, and how it is to be."""

    wanted_K: float
    is_K: float | None
    wanted_moisture: float
    moisture: float | None

    @property
    def is_warm(self) -> bool:
        """Whether it was measured, and warm enough."""
        return self.is_K is not None and self.is_K >= self.wanted_K - WARM_ENOUGH_K

    @property
    def is_dry(self) -> bool:
        """Whether it was measured, and dry enough."""
        return self.moisture is not None and self.moisture <= self.wanted_moisture


def work_of_core(day: PressDay) -> CastingWork:
    """Return how the core is made ready: as planned, else as is usual."""
    try:
        return day.plan.casting
    except LayupError:
        return CastingWork()


def core_of(day: PressDay) -> Core:
    """Return the core as it was last measured, and as it is to be: never below the resin's least warmth."""
    work, state = work_of_core(day), day.state
    try:
        least_K = least_warmth(day.sheet)[0]
    except LayupError:
        least_K = 0.0
    is_K = state.mould[-1][1] if state.mould else None
    return Core(max(work.core_K or 0.0, least_K), is_K, work.core_moisture, state.wood_moisture)


def sealer_dry_s(day: PressDay) -> float | None:
    """Return when the sealer is dry, once the channel is sealed and where that is stated."""
    wait_s = work_of_core(day).seal_wait_s
    sealed = next((step for step in day.state.steps if step.plan.name == SEAL and step.done_s is not None), None)
    return None if wait_s is None or sealed is None or sealed.done_s is None else sealed.done_s + wait_s


def cast_step(day: PressDay, number: int) -> CastStep | None:
    """Return a casting step as planned; None where the plan cannot be read, or the step is another."""
    try:
        step = day.plan.steps[number - 1]
    except (LayupError, IndexError):
        return None
    return step if isinstance(step, CastStep) else None


def joining(day: PressDay, number: int) -> Joining | None:
    """Return when the next pour of a step may go on its last; None before its first, and where nobody can say."""
    out = [one for one in day.state.batches if number in one.steps and one.poured_out_s is not None and not one.lost_s]
    last = max(out, key=lambda one: one.poured_out_s or 0.0, default=None)
    step = cast_step(day, number)
    if last is None or step is None or last.poured_out_s is None:
        return None
    if step.join_s is not None:
        begin_s, end_s = step.join_s
        return Joining(last.poured_out_s + begin_s, last.poured_out_s + end_s, last.number, stated=True)
    life = day.alive.get(last.number)
    if life is None:
        return None
    if step.join == "soft":
        return Joining(last.poured_out_s, life.gel_s.low, last.number, stated=False)
    core_K = core_of(day).is_K or day.air_K
    hard_s = life.mixed_s + hardens_s(day.sheet, core_K)
    return Joining(life.gel_s.high, max(hard_s, life.gel_s.high), last.number, stated=False)


def begins_at(day: PressDay, batch: BatchState, number: int) -> float:
    """Return how much of a step is filled before a batch, 0 to 1."""
    before = (one for one in day.state.batches if one.number < batch.number and number in one.steps)
    return sum(_fills(day, one, number) for one in before)


def _fills(day: PressDay, batch: BatchState, number: int) -> float:
    """Return how much of a step a batch fills: all that it is for, or what was poured of it before it was lost."""
    return batch.shares_of(number) if batch.lost_s is None else day.balance.of_batch(batch.number).laid_share


def pigments_of(day: PressDay, batch: BatchState) -> tuple[tuple[str, float], ...]:
    """Return the pigments that a batch takes, by name, in grams."""
    found: list[tuple[str, float]] = []
    for number, share in batch.planned_for:
        step = cast_step(day, number)
        if step is not None and step.loading is not None and step.pigments:
            weights = colour_weights(step, begins_at(day, batch, number), share)
            grams = [step.loading * batch.plan.mass_g * weight for weight in weights]
            found += [(name, each_g) for name, each_g in zip(step.pigments, grams, strict=True) if each_g > 0.0]
    return tuple(found)


def place_of(day: PressDay, batch: BatchState) -> str:
    """Return where a batch goes; empty where there is one place alone, or nobody can say."""
    places = [
        f"into {words}"
        for number, share in batch.planned_for
        if (step := cast_step(day, number)) is not None
        and (words := place_words(step, day.plan.pieces, begins_at(day, batch, number), share))
    ]
    return places[0] if places else ""


def tick_of(what: str, number: int, at: int = 0) -> str:
    """Return the name under which a pour's small acts are ticked: its colours, and its cup scraped out."""
    return f"{what} {number} {at}" if at else f"{what} {number}"


def weighing_s(day: PressDay) -> float:
    """Return how long the weighing of a pour takes."""
    pace = pace_of(day.crew)
    return pace.mixing_s - pace.stirring_s


def pouring_s(batch: BatchState) -> float:
    """Return how long the pouring of a batch takes."""
    return batch.plan.mass_g / POURED_g_s


# -- the rest --------------------------------------------------------------------------------------------------------


def left_to_pour(day: PressDay) -> Replanned:
    """Return the pours that are left, to be logged: what was lost is made up for, and no cup goes off before it is out.

    Raises LayupError where plan or resin cannot be read.
    """
    found: list[BatchPlan] = []
    number = max((batch.number for batch in day.state.batches if batch.status != "to mix"), default=0) + 1
    for step in day.state.steps:
        if step.plan.kind == "cast" and step.left:
            for share in _shares_left(day, step):
                mass_g = share * net_g(day, step.number) + cast_loss_g(day.plan, _cast(day, step.number))
                resin_g, hardener_g = split_mass(mass_g, day.parts)
                found.append(
                    BatchPlan(
                        batch=number,
                        mass_g=mass_g,
                        resin_g=resin_g,
                        hardener_g=hardener_g,
                        steps=(step.number,),
                        shares=(min(share, 1.0),),
                    )
                )
                number += 1
    return Replanned(batches=tuple(found))


def clocks_of_pours(day: PressDay, pours: Sequence[BatchPlan]) -> tuple[tuple[float, float], ...]:
    """Return of each pour that is left when its hardener goes in at the soonest, and by when its cup must be empty."""
    found, at_s, opens_s, firms_s = [], day.now_s(), 0.0, 0.0
    window = joining(day, pours[0].steps[0]) if pours else None
    last = None if window is None else day.state.batch(window.last)
    if window is not None and last is not None and last.poured_out_s is not None:
        opens_s, firms_s = window.opens_s, window.opens_s - last.poured_out_s
    for pour in pours:
        contact_s = max(at_s + weighing_s(day), opens_s - day.stir_s)
        out_s = contact_s + day.stir_s + pour.mass_g / POURED_g_s
        found.append((contact_s, contact_s + day.fresh_cup_s(pour.mass_g, day.mix_K)))
        at_s, opens_s = out_s + SCRAPING_S, out_s + firms_s
    return tuple(found)


def _cast(day: PressDay, number: int) -> CastStep:
    step = day.plan.steps[number - 1]
    assert isinstance(step, CastStep)
    return step


def net_g(day: PressDay, number: int) -> float:
    """Return what is cast of a step in all, without what stays in the cups [g]."""
    start = day.state.start
    planned = [batch for batch in (start.batches if start else ()) if number in batch.steps]
    return sum(batch.mass_g for batch in planned) - len(planned) * cast_loss_g(day.plan, _cast(day, number))


def _shares_left(day: PressDay, step: StepState) -> list[float]:
    start, loss_g = day.state.start, cast_loss_g(day.plan, _cast(day, step.number))
    each = next((batch.shares[0] for batch in (start.batches if start else ()) if step.number in batch.steps), 1.0)
    there = [one for one in day.state.batches if one.mixed_s is not None and step.number in one.steps]
    done = sum(_fills(day, one, step.number) for one in there)
    whole_g, least_g = net_g(day, step.number), day.scale.smallest_batch_g(day.parts)

    def lives(share: float) -> bool:
        mass_g = share * whole_g + loss_g
        return day.stir_s + mass_g / POURED_g_s <= day.fresh_cup_s(mass_g, day.mix_K)

    def weighs(share: float) -> bool:
        return share * whole_g + loss_g >= least_g

    return pours_left(done, each, lives, weighs)


def missing(day: PressDay, step: StepState) -> float:
    """Return how much of a casting step is nowhere: neither poured, nor in a cup, nor planned; 0 for nothing."""
    account = day.balance.of_step(step.number)
    lacks = 1.0 - account.laid_share - account.left_share
    return lacks if lacks > 1.0 - ALL_OF_IT else 0.0


def goes_off(day: PressDay, batch: BatchState) -> float:
    """Return for how long too long a pour would be in its cup, if it is mixed as planned; 0 for not."""
    try:
        fresh_s = day.fresh_cup_s(batch.plan.mass_g, day.mix_K)
    except LayupError:
        return 0.0
    return max(day.stir_s + pouring_s(batch) - fresh_s, 0.0)
