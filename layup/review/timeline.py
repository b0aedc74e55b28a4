"""A session on one time axis: its steps and batches as planned and as they went, each batch's limits, and the margins.

All times are seconds since the session started. The plan's clock is laid over the session's at first contact, where
hardener met resin in the first batch.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf
from typing import NamedTuple

from layup.chemistry.calibration import Calibration
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.looks import LookWord
from layup.chemistry.mixing import parts_by_mass
from layup.chemistry.uncertainty import Band
from layup.errors import LayupError
from layup.planning.clocks import Due
from layup.planning.crew import pace_of
from layup.planning.plan import Plan, Shop
from layup.planning.planner import PlanResult
from layup.session.lifetimes import Lifetime, careful, first_K, lives_until
from layup.session.mass_balance import mass_balance, mix_by_step_g, poured_off_ratio, unread
from layup.session.state import SessionState
from layup.session.state_parts import BatchState, Sight
from layup.units import minutes

SAME_MASS = 0.02
"""A batch that was planned again to within this share is the batch of the plan."""


def passed(due_s: Band, at_s: float) -> float:
    """Return how far over something is: 1 at the early end of its band, 2 at the late end."""
    return 1.0 + (at_s - due_s.low) / max(due_s.high - due_s.low, 60.0)


def spread_open(open_until_s: Band, laid_s: float) -> bool:
    """Return whether mix was still open when it was laid; what was not is a matter of its cup."""
    return open_until_s.likely > laid_s + 60.0


def spare_words(time_s: float | None) -> str:
    """Return time to spare in words; below zero it was over, and of nothing known a dash."""
    if time_s is None:
        return "-"
    return minutes(time_s) if time_s >= 0.0 else f"{minutes(-time_s)} over"


def signed_minutes(time_s: float) -> str:
    """Return the same where there is no room for a word: below zero with a minus."""
    return minutes(time_s) if time_s >= 0.0 else f"-{minutes(-time_s)}"


def looked(seen: Sight, contact_s: float) -> str:
    """Say by which look a batch was over: how it was found by then, or when after first contact somebody saw it so."""
    if seen.not_later:
        return f"{seen.word} by then"
    return f"because you saw it at {minutes(seen.at_s - contact_s)} ({seen.word})"


class Stretch(NamedTuple):
    begin_s: float
    end_s: float

    @property
    def took_s(self) -> float:
        return self.end_s - self.begin_s


@dataclass(frozen=True, slots=True)
class BatchTrack:
    """One batch: planned and real. `cup` and `part` are when it thickens in its cup and closes on the part.

    What was seen of it counts before what was foretold: an end that was seen is the limit.
    """

    number: int
    planned_g: float
    mass_g: float
    planned: Stretch | None
    """In its cup, as planned: from first contact until it is empty."""
    contact_s: float | None
    emptied_s: float | None
    lost_s: float | None
    laid_g: float
    """What of it went onto the part and stayed there."""
    off_ratio: float | None
    unread: tuple[str, ...]
    """The components that were never read on the scale."""
    start_K: float | None
    cup: Band | None
    cup_by: Due | None
    """When the cup had to be emptied."""
    part: Band | None
    cup_left_s: float | None
    """What the cup had to spare when it was empty or lost; below zero where it should have been empty."""
    part_left_s: float | None
    """What was left on the part when the press closed; None also of mix that was no longer open when it was laid."""
    emptied_K: float | None
    """How warm it was by then, as the model follows it."""
    observations: tuple[tuple[float, LookWord], ...]
    cup_due: Band | None = None
    """When it was foretold to thicken in its cup, whatever was seen."""
    cup_seen: Sight | None = None
    """The first look at which it was no longer runny in its cup."""
    part_seen: Sight | None = None
    """The look that ended it on the part before that was due, or as which it was lost there."""

    @property
    def used(self) -> bool:
        """Whether it, or some of it, went onto the part and stayed there."""
        return self.laid_g > 0.0

    @property
    def laid_open(self) -> bool:
        """Whether it was still open when it was laid; what was not is a matter of its cup."""
        return self.used and self.part is not None and spread_open(self.part, self.emptied_s or 0.0)

    @property
    def went(self) -> str:
        """Where it went, in a word."""
        if self.lost_s is not None:
            return "partly lost" if self.used else "lost"
        return "onto the part" if self.used else "not logged"

    @property
    def left_cup_s(self) -> float | None:
        """When it left its cup: onto the part, or as lost."""
        return self.lost_s if self.emptied_s is None else self.emptied_s

    @property
    def held_s(self) -> float | None:
        """How long it was in its cup; None where it was not mixed, or nobody logged its end."""
        return None if self.contact_s is None or self.left_cup_s is None else self.left_cup_s - self.contact_s


@dataclass(frozen=True, slots=True)
class StepTrack:
    """One step of the bench order, planned and real; `real` is None where it was not logged as done."""

    number: int
    name: str
    kind: str
    planned: Stretch
    real: Stretch | None
    instead: str = ""
    """What became of it where it was no step of its own: left out, or laid with another."""

    @property
    def over_s(self) -> float | None:
        """How much longer than planned it took."""
        return None if self.real is None else self.real.took_s - self.planned.took_s


@dataclass(frozen=True, slots=True)
class Track:
    """The whole session on its axis."""

    batches: tuple[BatchTrack, ...]
    steps: tuple[StepTrack, ...]
    contact_s: float | None
    """First contact of the first batch."""
    planned_closed_s: float | None
    closed_s: float | None
    end_s: float
    """Where the axis ends: the closed press, or the last thing that happened at the bench."""
    result: PlanResult | None
    """The plan worked out again as it was begun; None where it cannot be."""
    shop: Shop
    """The shop as the plan took it."""

    @property
    def press_by(self) -> Band | None:
        """When the press had to be closed: the first to close of all batches that were open when they were laid."""
        return min((batch.part for batch in self.batches if batch.part and batch.laid_open), default=None)

    @property
    def tightest(self) -> tuple[float, str] | None:
        """What the day had to spare, by the cup or the part that had least; below zero what it lacked."""
        cups = [(batch.cup_left_s, f"cup {batch.number}") for batch in self.batches if batch.used]
        parts = [(batch.part_left_s, "the part") for batch in self.batches]
        return min(((left_s, where) for left_s, where in (*cups, *parts) if left_s is not None), default=None)

    def lives(self, batch: BatchTrack) -> tuple[Stretch, ...]:
        """Return from when to when a batch was in its cup, then on the part; nothing of one that was not mixed."""
        if batch.contact_s is None:
            return ()
        left_s = self.end_s if batch.left_cup_s is None else batch.left_cup_s
        return Stretch(batch.contact_s, left_s), *([Stretch(left_s, self.end_s)] if batch.used else [])

    def spare_s(self) -> tuple[tuple[float, float], ...]:
        """Return (time, what is left until the first limit of all mix in hand), as corners of a line."""
        edges = {edge for batch in self.batches for edge in (batch.contact_s, batch.left_cup_s)}
        corners = sorted(edge for edge in edges | {self.end_s} if edge is not None and edge <= self.end_s)
        line: list[tuple[float, float]] = []
        for begin_s, end_s in pairwise(corners):
            limits = [limit for batch in self.batches if (limit := _limit_at(batch, begin_s)) is not None]
            if limits:
                line += [(begin_s, min(limits) - begin_s), (end_s, min(limits) - end_s)]
        return tuple(line)


def on_line(line: Sequence[tuple[float, float]], at_s: float) -> float | None:
    """Return the value of a line with corners at a moment, just before it where it jumps; None outside it."""
    for (from_s, value), (to_s, other) in pairwise(line):
        if from_s <= at_s <= to_s and to_s > from_s:
            return value + (other - value) * (at_s - from_s) / (to_s - from_s)
    return None


def _limit_at(batch: BatchTrack, time_s: float) -> float | None:
    """Return the limit that counts for a batch just after a time, if it is in hand."""
    if batch.contact_s is None or time_s < batch.contact_s:
        return None
    if batch.lost_s is not None and time_s >= batch.lost_s and not batch.used:
        return None
    if batch.left_cup_s is None or time_s < batch.left_cup_s:
        return None if batch.cup_by is None else batch.cup_by.by_s
    return None if batch.part is None else batch.part.low


def track(
    state: SessionState, plan: Plan, sheet: Datasheet, calibration: Calibration, beside: PlanResult | None = None
) -> Track:
    """Lay a session on its time axis, beside its plan, or beside another that it was not begun with."""
    humidity = state.humidity[0][1] if state.humidity else None
    shop = Shop(first_K(state.air), relative_humidity=humidity if humidity else None)
    result = beside or _as_begun(PlanResult(plan, sheet, calibration, shop), state)
    pace, zero_s = pace_of(plan.crew), 0.0  # where the plan's clock starts, so that its first contact is the session's
    if (contact_s := state.contact_s) is not None:
        first = result.split.batches[:1] if result else ()
        zero_s = contact_s - (first[0].contact_s if first else pace.mixing_s - pace.stirring_s)
    cups = result.split.batches if result else ()
    planned = {cup.number: Stretch(zero_s + cup.contact_s, zero_s + cup.emptied_s) for cup in cups}
    balance = mass_balance(state, mix_by_step_g(plan, sheet, state))
    on_part = lives_until(state, calibration, inf if state.closed_s is None else state.closed_s)
    batches = tuple(
        replace(
            _batch(batch, state, calibration, on_part.get(batch.number)),
            planned=planned.get(batch.number),
            laid_g=balance.of_batch(batch.number).laid_g,
            off_ratio=poured_off_ratio(batch, parts_by_mass(sheet)),
        )
        for batch in state.batches
    )
    steps, planned_closed_s = _steps(plan, state, result, state.contact_s, zero_s)
    left = [time_s for batch in batches for time_s in (batch.contact_s, batch.left_cup_s) if time_s is not None]
    left += [step.real.end_s for step in steps if step.real]
    return Track(
        batches=batches,
        steps=steps,
        contact_s=state.contact_s,
        planned_closed_s=planned_closed_s,
        closed_s=state.closed_s,
        end_s=state.closed_s if state.closed_s is not None else max(left, default=0.0),
        result=result,
        shop=shop,
    )


def _as_begun(result: PlanResult, state: SessionState) -> PlanResult | None:
    """Work the plan out again; None where it no longer comes to the batches that the session began with."""
    try:
        masses = [batch.mass_g for batch in result.split.batches]
        _ = result.budget
    except LayupError:
        return None
    begun = state.begun_with
    if len(masses) != len(begun):
        return None
    same = all(abs(mass - plan.mass_g) <= SAME_MASS * plan.mass_g for mass, plan in zip(masses, begun, strict=True))
    return result if same else None


def _batch(batch: BatchState, state: SessionState, calibration: Calibration, part: Lifetime | None) -> BatchTrack:
    """Return a batch as it went, in its cup and, where it lives there, on the part."""
    in_cup, laid, cup, part_left_s = batch, batch.on_part(), None, None
    if batch.poured_out_s is not None:  # as if it had stayed in its cup, with what was seen of it there
        seen = tuple(one for one in batch.observations if one[0] <= batch.poured_out_s)
        in_cup = replace(batch, poured_out_s=None, pressed_s=None, lost_s=None, lost_why="", observations=seen)
    with suppress(LayupError):  # where the model ends
        cup = None if batch.mixed_s is None else careful(in_cup, state, calibration)
    left_cup_s = batch.lost_s if batch.poured_out_s is None else batch.poured_out_s
    emptied_K = None if cup is None or left_cup_s is None else cup.state_at(left_cup_s)[1]
    part = None if laid.poured_out_s is None else part
    if part is not None and state.closed_s is not None and spread_open(part.over_s, batch.poured_out_s or 0.0):
        part_left_s = part.over_s.low - state.closed_s
    by = None if cup is None else cup.due(0.0)
    looks = (one for one in in_cup.sights if left_cup_s is None or one.at_s <= left_cup_s)  # none of a lost one later
    return BatchTrack(
        number=batch.number,
        planned_g=batch.plan.mass_g,
        mass_g=batch.mass_g,
        planned=None,
        contact_s=batch.mixed_s,
        emptied_s=batch.poured_out_s,
        lost_s=batch.lost_s,
        laid_g=0.0,
        off_ratio=None,
        unread=() if batch.mixed_s is None else unread(batch),
        start_K=batch.start_K,
        cup=None if cup is None else cup.over_s,
        cup_by=by,
        part=None if part is None else part.over_s,
        cup_left_s=None if by is None or left_cup_s is None else by.by_s - left_cup_s,
        part_left_s=part_left_s,
        emptied_K=emptied_K,
        observations=batch.observations,
        cup_due=None if cup is None else cup.course.working_s.later(cup.mixed_s),
        cup_seen=next((sight for sight in looks if sight.word != "runny"), None),
        part_seen=part.seen or next((s for s in laid.sights if s.not_later), None) if part else None,
    )


def _steps(
    plan: Plan, state: SessionState, result: PlanResult | None, contact_s: float | None, zero_s: float
) -> tuple[tuple[StepTrack, ...], float | None]:
    """Return the steps planned and real, and when the plan closes the press."""
    pace = pace_of(plan.crew)
    day = result.timeline if result else None
    rows = {} if day is None else {row.step: row.spans for row in day.steps}
    lay_s = None if contact_s is None else contact_s + pace.stirring_s
    real = real_steps(state, lay_s)
    at_s = zero_s + pace.mixing_s
    merged = {step.number: step.merged_into for step in state.steps if step.merged_into is not None}
    found: list[StepTrack] = []
    for step in state.steps:
        spans = rows.get(step.number - 1)
        planned = Stretch(at_s, at_s + step.plan.planned_s)
        if spans:  # from the step before, as a real one is timed: waiting for its mix counts
            planned = Stretch(at_s if found else zero_s + spans[0].begin_s, zero_s + spans[-1].end_s)
        at_s = planned.end_s
        with_it = [one.planned.begin_s for one in found if one.number in merged and merged[one.number] == step.number]
        planned = Stretch(min([planned.begin_s, *with_it]), planned.end_s)
        instead = "" if step.merged_into is None else f"with step {step.merged_into}"
        instead = instead if step.skipped_s is None else "left out"
        own = StepTrack(step.number, step.plan.name, step.plan.kind, planned, real.get(step.number), instead)
        found.append(own)
    if contact_s is None:
        return tuple(found), None
    return tuple(found), zero_s + day.closed_s if day else at_s + plan.closing.bench_s / pace.full


def is_running(state: SessionState) -> bool:
    """Return whether a session was begun, and neither closed its press nor ended; a day from memory never runs."""
    over = state.closed_s is not None or state.ended_s is not None or state.recalled is not None
    return state.start is not None and not over


def real_steps(state: SessionState, lay_s: float | None) -> dict[int, Stretch]:
    """Return each step from when the bench was free for it, the first from when its resin was ready.

    One left out, or done with another, has no time of its own.
    """
    found = {}
    for step in sorted(state.steps, key=lambda step: step.done_s or 0.0):
        if step.began_s is None or step.done_s is None:
            continue
        waits = lay_s is not None and step.began_s < lay_s < step.done_s
        found[step.number] = Stretch(lay_s if waits and lay_s is not None else step.began_s, step.done_s)
    return found
