"""What is still to come of a day, from its log: the rest at the bench at today's pace, the cure of a part in press."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from math import inf, isfinite
from typing import Literal

from layup.bench.day import PressDay
from layup.chemistry.cure import HeatingPlan
from layup.chemistry.cure_course import CureCourse, CureMoment, set_on_part
from layup.chemistry.datasheet import least_warmth
from layup.chemistry.demould import HORIZON_S, setting_of
from layup.planning.crew import evened_s, pace_of
from layup.planning.night import OUT_BY_S, Night, NightOutlook, PartUnderPress, heatings, overnight
from layup.review.pace import pace_today
from layup.review.timeline import real_steps
from layup.session.lifetimes import mould_since
from layup.session.mass_balance import without_mix
from layup.session.state_parts import BatchState

SLOW = 1.1
"""Pace from which on a day is said to be slow (common practice, no source)."""
PLAN_CHANGES = ("session-started", "people-changed", "batch-lost", "step-skipped", "step-added", "mix-left")
"""What changes hands or batches otherwise than by the work: what was seen before that is old."""


def last_logged_s(day: PressDay, events: Collection[str] = PLAN_CHANGES) -> float:
    """Return when one of some events was last logged and not taken back; 0 for never."""
    records, undone = day.state.records, day.state.cancelled
    found = (record for record in reversed(records) if record.event in events and record.seq not in undone)
    return next((record.elapsed_s for record in found), 0.0)


def pace(day: PressDay, now_s: float) -> float | None:
    """Return real over planned time of today's work so far; None before anything tells of it."""
    state = day.state
    real = real_steps(state, None if state.contact_s is None else state.contact_s + pace_of(day.crew).stirring_s)
    planned_s = {step.number: step.planned_s for step in state.steps if step.planned_s > 0.0}
    took_s = {
        number: evened_s(day.crew, state.hands, *stretch) - _mixed_alone_s(day, *stretch, weighing=True)
        for number, stretch in real.items()
    }
    times = [(planned_s[number], took_s[number]) for number in real if number in planned_s]
    left = [day.planned_s(step) for step in state.steps if step.left]
    over_s = min(spent_s(day, now_s, weighing=False) - left[0], left[0]) if left else 0.0
    return pace_today(times, over_s, sum(left) + day.closing_s)


def _mixed_alone_s(day: PressDay, begin_s: float, end_s: float, *, weighing: bool) -> float:
    """Return for how long between two times somebody alone was stirring, or weighing too, so that nothing was laid."""
    crew, hands, spent_s = pace_of(day.crew), day.state.hands, 0.0
    for batch in day.state.batches:
        if batch.mixed_s is None or next((n for at_s, n in reversed(hands) if at_s <= batch.mixed_s), 2) > 1:
            continue
        until_s = batch.mixed_s + crew.stirring_s
        from_s = until_s - crew.mixing_s if weighing else batch.mixed_s
        spent_s += max(min(until_s, end_s) - max(from_s, begin_s), 0.0)
    return spent_s


@dataclass(frozen=True, slots=True)
class Outlook:
    """The rest of an open day at today's pace: times on the session's clock."""

    rate: float
    ready_s: float
    """When the press can be closed."""
    began_s: float
    """When the work on the step on the bench began."""
    ends_s: Mapping[int, float]
    """When each step that is left is done, by its number."""
    wanted_s: Mapping[int, float]
    """When the first of each batch that is not mixed yet is laid, by its number."""
    after_step_s: float
    """The work after the step on the bench, with what is mixed for it alone, the closing included."""
    without_mix: frozenset[int]
    """The steps of which some of the mix is nowhere."""
    cups: Mapping[int, tuple[int, ...]]
    """The batches in their cups that each step is laid from, by its number."""


def outlook_of_day(day: PressDay, now_s: float) -> Outlook:
    """Return the rest of the day at today's pace; alone nothing is laid while a batch is mixed."""
    state, rate, alone = day.state, pace(day, now_s) or 1.0, day.state.people < 2
    crew, left = pace_of(day.crew), [step for step in state.steps if step.left]
    serving = _serving(day, (step.number for step in left))
    began_s = now_s - spent_s(day, now_s, weighing=False)
    ends_s, wanted_s, at_s = dict[int, float](), dict[int, float](), began_s
    idle_s = max([state.bench_free_s, *(batch.lost_s for batch in state.batches if batch.lost_s is not None)])
    for place, step in enumerate(left):
        span_s = day.planned_s(step) * rate
        share, free_s, mixing_s = 0.0, idle_s, 0.0
        for batch, part in serving[step.number]:
            if batch.mixed_s is None and batch.number not in wanted_s:
                ahead = place > 0 or any(one.status == "in the cup" for one, _ in serving[step.number])
                wanted_s[batch.number] = at_s + share * span_s + mixing_s if ahead else free_s
                if alone:
                    at_s = at_s if ahead else now_s - share * span_s
                    mixing_s += crew.stirring_s if batch.status == "weighed" else crew.mixing_s
            free_s = max(free_s, batch.poured_out_s or 0.0)
            share = min(share + part, 1.0)
        at_s = max(at_s + mixing_s + span_s, now_s)
        ends_s[step.number] = at_s
    ready_s = max(at_s, now_s) + rate * day.closing_s
    return Outlook(
        rate=rate,
        ready_s=ready_s,
        began_s=began_s,
        ends_s=ends_s,
        wanted_s=wanted_s,
        after_step_s=ready_s - (ends_s[left[0].number] if left else now_s),
        without_mix=without_mix(state, day.balance) - {step.number for step in state.steps if not step.left},
        cups={
            number: tuple(batch.number for batch, _ in served if batch.status == "in the cup")
            for number, served in serving.items()
        },
    )


def _serving(day: PressDay, left: Iterable[int]) -> dict[int, list[tuple[BatchState, float]]]:
    """Return the batches that lay each step, each with its share, in the order in which they are laid."""
    found: dict[int, list[tuple[BatchState, float]]] = {number: [] for number in left}
    for batch in day.state.batches:
        for number, share in batch.serves if batch.lost_s is None else ():
            if number in found:
                found[number].append((batch, share))
    return found


def spent_s(day: PressDay, now_s: float, *, weighing: bool = True) -> float:
    """Return how long the step on the bench was worked on: none before its first cup is stirred.

    Alone nothing is laid while another cup is stirred, either. What weighing that cup took is known only as hardener
    goes in: a clock that is shown counts it, and so never runs back; a forecast leaves it out.
    """
    step = day.state.step_now
    if step is None:
        return 0.0
    first = next((batch for batch, _ in _serving(day, (step.number,))[step.number]), None)
    if first.mixed_s is None if first is not None else step.number in without_mix(day.state, day.balance):
        return 0.0
    stirred_s = 0.0 if first is None or first.mixed_s is None else first.mixed_s + day.stir_s
    begun_s = max(day.state.bench_free_s, stirred_s)
    return max(now_s - begun_s - _mixed_alone_s(day, begun_s, now_s, weighing=not weighing), 0.0)


def log_lines(day: PressDay, count: int) -> tuple[str, ...]:
    """Return the last entries of the journal, newest first."""
    state = day.state
    lines = []
    for record in reversed(state.records[-count:]):
        mark = " (taken back)" if record.seq in state.cancelled else ""
        lines.append(f"{day.clock_time(record.when_s)}  {record.describe_in(state)}{record.late_words}{mark}")
    return tuple(lines)


State = Literal["leave it closed", "perhaps", "may come out"]
SHAPES: dict[State, str] = {"leave it closed": "■", "perhaps": "◆", "may come out": "●"}

CASTING_BY_S = 6 * 3600.0
"""How far a casting is followed at least, which most days is planed by then (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Cure:
    """A part under press: its course since closing, the night to come, and heatings where the night is too cold."""

    part: PartUnderPress
    night: Night
    course: CureCourse
    heatings: tuple[HeatingPlan, ...]
    glass_s: float
    """From when on the mould holds a glass; inf where it never does in the course."""
    gel_s: float

    def at(self, since_s: float) -> CureMoment:
        """Return the resin at a time since closing, or at the end of what was followed."""
        return self.course.at(min(max(since_s, self.course.start.time_s), self.course.end.time_s))

    def state(self, since_s: float) -> State:
        """Say whether the part may leave the mould at a time since closing."""
        ready = self.night.ready
        if since_s >= ready.out_s.likely:
            return "may come out"
        return "perhaps" if since_s >= ready.out_s.low else "leave it closed"

    def early_words(self, since_s: float) -> str:
        """Say what speaks against taking the part out at a time since closing; empty where nothing does."""
        state = self.state(since_s)
        if state == "may come out":
            return ""
        return (
            f"▲ By the estimate: {state.upper()}, {'it is LIQUID still' if since_s < self.gel_s else 'it may be soft'}."
        )


def part_under_press(day: PressDay) -> PartUnderPress | None:
    """Return the part since closing, from what was logged; None while the press is open."""
    state, now_s = day.state, day.now_s()
    if state.closed_s is None:
        return None
    closed_s = state.closed_s
    alive = [life for life in day.alive.values() if _pressed(day, life.batch)]
    resin = day.calibration_for_cure
    setting, _ = setting_of(day.sheet, resin.kinetics)
    return PartUnderPress(
        setting=setting,
        calibration=resin,
        so_far=mould_since(state, closed_s) or day.air_K,
        now_s=(state.demoulded_s or now_s) - closed_s,
        conversion_start=min((life.state_at(closed_s)[0] for life in alive), default=0.0),
        minimum_K=least_warmth(day.sheet)[0],
        bears_K=day.plan.closing.hottest_K,
    )


def _pressed(day: PressDay, number: int) -> bool:
    batch = day.state.batch(number)
    return batch is not None and batch.pressed_s is not None


def outlook_of(day: PressDay) -> NightOutlook:
    """Return what was logged of the night to come."""
    night = day.state.night
    if night is None:
        return NightOutlook(out_by_s=CASTING_BY_S) if day.state.is_casting else NightOutlook()
    return NightOutlook(night_K=night.coldest_K, out_by_s=night.out_by_s or OUT_BY_S)


def out_likely_s(day: PressDay) -> float | None:
    """Return when a part that is still in its mould may come out, on the session's clock; None of any other."""
    part = part_under_press(day)
    if part is None or day.state.demoulded_s is not None:
        return None
    return (day.state.closed_s or 0.0) + overnight(part, outlook_of(day)).ready.out_s.likely


def work_out(part: PartUnderPress, outlook: NightOutlook, *, out: bool = False) -> Cure:
    """Work the cure out; it may take half a second, so off the screen. `out` means the part has left the mould."""
    night = overnight(part, NightOutlook() if out else outlook)
    ends = [part.now_s, night.out_by_s, night.ready.out_s.high, night.ready.out_s.likely]
    end_s = min(1.05 * max(time_s for time_s in ends if isfinite(time_s)), HORIZON_S)
    course = set_on_part(part.setting, night.mould, until_s=end_s, conversion_start=part.conversion_start)
    gel = part.setting.kinetics.conversion_gel
    gel_s = course.first_s(lambda moment: moment.conversion - gel)
    return Cure(
        part=part,
        night=night,
        course=course,
        heatings=() if out or night.makes_it else heatings(part, outlook),
        glass_s=course.glass_s(0.0),
        gel_s=end_s if gel_s == inf else gel_s,
    )


def out_of(cure: Cure, closed_s: float) -> tuple[float, float, float]:
    """Return when the part may come out: low edge, likely and high edge on the session's clock; inf for never."""
    return cure.night.ready.out_s.later(closed_s)
