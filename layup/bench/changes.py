"""What is put right or changed on a running day, and what it does to the closing before it is taken.

Entries told afterwards; people who come or leave; steps left out, merged or added; mix left over in a cup.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass

from layup.bench.cup_dues import is_due
from layup.bench.day import PressDay, Said
from layup.bench.dues import next_at_press
from layup.bench.forecast import outlook_of_day, pace
from layup.bench.opening import new_batches, replanned, usable_g
from layup.errors import LayupError
from layup.planning.fit import FITS, FitWord
from layup.planning.replan import Need, ToMix, credited, shrunk
from layup.planning.schedule import TIGHT_S
from layup.session.batch_events import (
    CLOSED,
    BatchMixed,
    MixLeft,
    PourRead,
    Replanned,
    Retightened,
    ScaleZeroed,
    Tightened,
)
from layup.session.clock import told_s
from layup.session.day_events import PeopleChanged, StepAdded, StepMerged, StepSkipped
from layup.session.fields import BatchPlan
from layup.session.reader import Follower
from layup.session.records import as_logged, extend, refusal, retelling
from layup.session.state import Event, SessionState
from layup.session.state_parts import BatchState
from layup.units import mass, minutes, spare_of


def when_s(day: PressDay, text: str) -> float:
    """Return when something happened, as an age of the session, from "6 min ago", "08:41", "25 min", or minutes ago."""
    now_s, bare = day.now_s(), text.strip().replace(",", ".").replace(".", "", 1).isdigit()
    return told_s(f"{text} min ago" if bare else text, now_s, day.moment(now_s))


def when_question(day: PressDay, seq: int) -> str:
    """Ask when an entry happened."""
    record = day.state.record(seq)
    return f"When was that?\n{'' if record is None else record.describe_in(day.state)}"


def last_told(day: PressDay) -> int | None:
    """Return the number of the entry that "that was ... ago" means: the last one by hand and, where its reading alone
    started a batch's clock, that start."""
    seq = day.state.undoable or 0
    reading: Event | None = day.state.record(seq)
    start: Event | None = day.state.record(seq - 1)
    if isinstance(reading, PourRead) and isinstance(start, BatchMixed) and start.batch == reading.batch:
        return seq - 1
    return day.state.undoable


def that_was(day: PressDay, at_s: float, seq: int | None = None) -> Said:
    """Give the last entry, or the one of a number, the time at which it really happened; both stay in the log."""
    seq = last_told(day) if seq is None else seq
    if seq is None:
        return Said("not now: there is no entry yet", False)
    if at_s > day.now_s():
        return Said("not then: that time has not come yet", False)
    again = retelling(day.state, seq, at_s)
    if isinstance(again, str):
        return Said(f"not then: {again}", False)
    undo, event = again
    if isinstance(day.source, Follower):
        return day.log(undo, "")
    words = f"{minutes(day.now_s() - at_s)} ago, {day.clock_time(at_s)}: {event.describe_in(day.state)}"
    day.source.append(undo)
    day.source.append(event, at_s)
    return Said(f"NOT SAVED yet: {words}" if day.source.fault else words, True)


def zero_scale(day: PressDay, number: int) -> Said:
    """Go on after the scale was zeroed with the batch's cup on it: it now shows what is poured from here on."""
    readings = day.readings(number).zeroed()
    words = f"scale zeroed at {mass(readings.zero_g, 'g')}: it should show {mass(readings.next_g, 'g')}"
    return day.log(ScaleZeroed(batch=number, in_cup_g=readings.zero_g), words)


# -- people and steps ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ClosingTime:
    """When the press can be closed at today's pace and by when it must be; None where nothing is mixed to tell."""

    ready_s: float
    by_s: float | None
    verdict: FitWord | None
    """Whether the rest of the day fits; None where that cannot be worked out."""
    why: str = ""
    """What stands against it, where the spare of the press does not say it already: that spare is then no news."""

    @property
    def spare_s(self) -> float | None:
        """What is to spare; below zero it is too late."""
        return None if self.by_s is None else self.by_s - self.ready_s


@dataclass(frozen=True, slots=True)
class DayChange:
    """A change of the running day before it is taken: what it logs, the closing without and with it, and what else."""

    events: tuple[Event, ...]
    before: ClosingTime
    after: ClosingTime
    notes: tuple[str, ...] = ()


class _Supposed(Follower):
    """A session as it would be, to look at only."""

    def __init__(self, state: SessionState, now_s: float) -> None:
        self.state = state
        self._age_s = now_s

    def now_s(self) -> float:
        return self._age_s


def supposed(day: PressDay, events: Iterable[Event]) -> PressDay | str:
    """Return the day as it would be with some more events, or why they cannot be."""
    state, now_s = day.state, day.now_s()
    for event in events:
        if why := refusal(state, event):
            return why
        record = as_logged(state, event, None)
        state = extend(state, [record.model_copy(update={"elapsed_s": max(now_s, record.elapsed_s)})])
    return as_of(day, state, now_s)


def as_of(day: PressDay, state: SessionState, now_s: float) -> PressDay:
    """Return a day with another state, at another age, to look at only."""
    other = copy(day)
    other.source = _Supposed(state, now_s)
    return other


def closing_of(day: PressDay) -> ClosingTime:
    """Return when the press can be closed as the day stands, and whether the rest fits."""
    at_s, by_s = outlook_of_day(day, day.now_s()).ready_s, day.press_by_at_best_s
    try:
        rest = replanned(day)
    except LayupError:
        return ClosingTime(at_s, by_s, None)
    spare_s = None if by_s is None else by_s - at_s
    by_clock: FitWord = (
        "fits" if spare_s is None or spare_s >= TIGHT_S else "tight" if spare_s >= 0.0 else "does not fit"
    )
    worse = FITS.index(rest.verdict) > FITS.index(by_clock)
    return ClosingTime(at_s, by_s, rest.verdict if worse else by_clock, rest.why if worse else "")


def change_of(day: PressDay, event: PeopleChanged | StepSkipped | StepMerged | StepAdded) -> DayChange | str:
    """Return what a change of people or steps does to the closing, before it is taken; or why it cannot be.

    A step left out takes its mix out of the batches still to mix; one added with mix has them planned anew.
    """
    if isinstance(event, StepSkipped):
        notes = _in_hand_for(day, event.step)
        to_mix = sum(batch.shares_of(event.step) for batch in _to_mix(day))
        if to_mix > 0.0:
            less, lighter = _less_to_mix(day, {event.step: to_mix})
            return _effect(day, [event, less], notes + lighter)
        return _effect(day, [event], notes)
    after = supposed(day, [event])
    if isinstance(event, StepAdded) and event.mix_g and not isinstance(after, str):
        rest = replanned(after)
        if count := len(rest.split.batches):
            words = f"{count} batch{'es' if count > 1 else ''} to mix"
            return _effect(day, [event, new_batches(after, rest)], (words,))
        return _effect(day, [event], rest.advice[:1])
    return _effect(day, [event])


def _effect(day: PressDay, events: Sequence[Event], notes: tuple[str, ...] = ()) -> DayChange | str:
    """Return what some events do to the closing, or why they cannot be."""
    after = supposed(day, events)
    return after if isinstance(after, str) else DayChange(tuple(events), closing_of(day), closing_of(after), notes)


def people_changed(day: PressDay, by: int) -> tuple[str, DayChange | str]:
    """Return in words who is at the bench once somebody came or left, and what that does, or why it cannot be."""
    people = day.state.people + by
    title = f"{'Somebody came' if by > 0 else 'Somebody left'}: {people} at the bench"
    if day.state.closed_s is not None:
        return title, CLOSED
    if people < 1:
        return title, "one is at the bench at least"
    return title, change_of(day, PeopleChanged(people=people))


def _in_hand_for(day: PressDay, step: int) -> tuple[str, ...]:
    """Return the cups in hand with mix for a step, in words."""
    cups = {batch.number for batch in day.in_cup()}
    held = [one for one in day.balance.portions if one.step == step and one.batch in cups and one.poured_g > 0.0]
    return tuple(f"batch {one.batch} has {mass(one.poured_g * (1.0 - one.laid))} for it in its cup" for one in held)


def left_over(day: PressDay, number: int, left_g: float) -> DayChange | str:
    """Return what mix left over in a cup does, before it is said: it goes to the next steps, and so much less is mixed.

    Where it cannot, the notes say why, and the mix is for nothing: it is lost, or spread flat outside to set.
    """
    said = MixLeft(batch=number, left_in_cup_g=left_g)
    after = supposed(day, [said])
    if isinstance(after, str):
        return after
    batch = after.state.batch_by_number[number]
    why = _no_credit(day, batch)
    shares = dict[int, float]() if why else dict(credited(usable_g(after, batch), _needs(day)))
    why = _too_slow(day, number, shares) if shares else why or "nothing to come needs it"
    if why:
        return _effect(day, [said], (why,))
    less, notes = _less_to_mix(day, shares)
    laid = {"left_for": tuple(shares), "left_shares": tuple(shares.values())}
    return _effect(day, [said.model_copy(update=laid), less], notes)


def _no_credit(day: PressDay, batch: BatchState) -> str:
    """Return why mix left over must not go to a next step, or an empty text."""
    stands = day.doubt(batch.number)
    if stands is not None:
        return f"batch {batch.number} is {stands}: do not lay more of it"
    life, now_s = day.alive.get(batch.number), day.now_s()
    if life is None:
        return f"how long batch {batch.number} lasts is not known: do not count on it"
    if is_due(day, batch, now_s):
        return f"batch {batch.number} is {life.word(now_s, day.closing_s)}: lay no more of it"
    if not _needs(day):
        return "no batch is still to mix"
    return ""


def _too_slow(day: PressDay, number: int, takes: Mapping[int, float]) -> str:
    """Return that a cup cannot be empty in time where it takes on more work, or an empty text."""
    rate, life = pace(day, day.now_s()) or 1.0, day.alive[number]
    left = [step for step in day.state.steps if step.left]
    until = max((place for place, step in enumerate(left) if step.number in takes), default=0)
    spans_s = [rate * day.planned_s(step) * takes.get(step.number, 1.0) for step in left[: until + 1]]
    spent_s = day.now_s() - day.state.bench_free_s
    late_s = day.now_s() + max(spans_s[0] - spent_s, 0.0) + sum(spans_s[1:]) - life.empty_by_s
    by = day.clock_time(life.empty_by_s)
    return f"batch {number} must be empty by {by}: {minutes(late_s)} too early to lay it" if late_s > 0.0 else ""


def _to_mix(day: PressDay) -> list[BatchState]:
    return [batch for batch in day.state.batches if batch.status == "to mix"]


def _needs(day: PressDay) -> list[Need]:
    """Return the steps to come with what is still to be mixed for them."""
    mix_g, left = day.mix_g, [step for step in day.state.steps if step.left or step.merged_into is not None]
    needs = [
        Need(step.number, mix_g.get(step.number, 0.0), sum(batch.shares_of(step.number) for batch in _to_mix(day)))
        for step in left
        if step.done_s is None
    ]
    return [need for need in needs if need.to_mix > 0.0 and need.mix_g > 0.0]


def _less_to_mix(day: PressDay, taken: Mapping[int, float]) -> tuple[Replanned, tuple[str, ...]]:
    """Return the batches still to mix once shares of steps need not be laid by them, and what that does, in words."""
    smallest_g = day.scale.smallest_batch_g(day.parts)
    old = [ToMix(batch.number, batch.plan.mass_g, batch.planned_for) for batch in _to_mix(day)]
    new = {batch.batch: batch for batch in shrunk(old, day.mix_g, taken, smallest_g)}
    plans, words = [], []
    for batch in day.state.batches:
        number, plan = batch.number, batch.plan
        if batch.status == "weighed":
            plans.append(plan)
        elif batch.status == "to mix" and number not in new:
            words.append(f"batch {number} is not needed")
        elif batch.status == "to mix":
            lighter = new[number]
            plans.append(_lighter(plan, lighter))
            if lighter.mass_g < plan.mass_g:
                words.append(f"batch {number}: {mass(lighter.mass_g)}, not {mass(plan.mass_g)}")
            elif lighter.serves != batch.planned_for:
                words.append(f"batch {number} stays at {mass(plan.mass_g)}: the scale weighs no less")
    return Replanned(batches=tuple(plans)), tuple(words)


def _lighter(plan: BatchPlan, batch: ToMix) -> BatchPlan:
    share = batch.mass_g / plan.mass_g if plan.mass_g > 0.0 else 1.0
    return plan.model_copy(
        update={
            "mass_g": batch.mass_g,
            "resin_g": plan.resin_g * share,
            "hardener_g": plan.hardener_g * share,
            "steps": tuple(step for step, _ in batch.serves),
            "shares": tuple(each for _, each in batch.serves),
        }
    )


def change_words(day: PressDay, change: DayChange) -> tuple[str, ...]:
    """Return what a change does, the closing first: before -> after."""
    before, after = (day.clock_time(each.ready_s) for each in (change.before, change.after))
    said = f"closes {after}" if before == after else f"closes {after}, not {before}"
    spare_s, why = change.after.spare_s, change.after.why
    if spare_s is not None and not why:
        said += f": {spare_of(spare_s, 'TOO LATE')}"
    was = "" if change.before.verdict in (None, change.after.verdict) else f", was {change.before.verdict}"
    verdict = "" if change.after.verdict is None else f"{change.after.verdict.upper()}{was}{f': {why}' if why else ''}"
    return tuple(filter(None, (said, verdict, *change.notes)))


def take(day: PressDay, change: DayChange) -> Said:
    """Log a change; what cannot be any more since it was looked at is refused as a whole."""
    why = supposed(day, change.events)
    if isinstance(why, str):
        return Said(f"not now: {why}", False)
    said = Said("", False)
    for event in change.events:
        said = day.log(event, f"{change.events[0].describe_in(why.state)}: {change_words(day, change)[0]}")
        if not said.done:
            return said
    return said


# -- at the closed press ---------------------------------------------------------------------------------------------


def press_act_done(day: PressDay, key: str | None = None) -> Said:
    """Log the next act at the closed press, if it is the one meant: a round of tightening, or to go round again."""
    act = next_at_press(day, day.now_s())
    if act is None or key not in (None, act.key):
        return Said("not now: nothing is left to tighten" if act is None else f"not now: {act.words.lower()}", False)
    round_of_it = act.deadline_s is None
    return day.log(Tightened() if round_of_it else Retightened(), f"done: {act.words.lower()}")
