"""What sessions teach of a crew: how long its steps take, on press days and in dry runs.

A value of one session is the mean of all that it says of one thing, so that a long session counts as one. Spreads and
pulls are common practice without a source.

Outliers are bounded, not dropped: a step counts as no less than a quarter and no more than three times its planned
minutes, each by its share of them, and what lies beyond is said. So a step that took longer never makes the next plan
faster, and one that took far too long makes it slower by a known amount; of steps logged in one go the time of the
first makes up for the others. A session in which most minutes were not logged as they were worked teaches no pace.

Means of few values are pulled to what was known before: the fewer and the wilder they are, the more. Normal with known
variances, two levels: a group's kinds share the group's own mean, which shares the prior. Variances between sessions
are estimated, with a prior that counts as some sessions.

Dry runs (common practice, no source): to lay cloth and wet it out, or to coat a face, takes half as long again as to
lay it out dry. Where a press day taught a kind of step that is wetted, that counts and not this guess. Steps without
resin, the fetching of a cup and the closing take what they took. What was ticked too quickly to be its own time does
not count.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import zip_longest
from math import exp, hypot, log, sqrt
from statistics import fmean
from typing import NamedTuple

from layup.chemistry.uncertainty import EIGHTY_PERCENT
from layup.planning.crew import evened_s, pace_of
from layup.planning.plan import BATCH_PACE, RUN_PACE, Plan, day_pace
from layup.review.timeline import Stretch, real_steps
from layup.session.state import SessionState
from layup.units import day_and_month, in_minutes

# -- shrink ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PooledMean:
    """A mean with its standard deviation, how far single sessions stray from it, and how many it rests on."""

    mean: float
    sd: float
    spread: float
    sessions: int

    @property
    def next_sd(self) -> float:
        """The standard deviation of the next session's value."""
        return sqrt(self.sd**2 + self.spread**2)


def posterior_mean(prior_mean: float, prior_sd: float, values: Sequence[float], spread: float) -> PooledMean:
    """Return the mean of values, each with a standard deviation of `spread`, pulled to the prior."""
    weight = 1.0 / prior_sd**2 + len(values) / spread**2
    mean = (prior_mean / prior_sd**2 + sum(values) / spread**2) / weight
    return PooledMean(mean, 1.0 / sqrt(weight), spread, len(values))


def spread_of(groups: Iterable[Sequence[float]], prior: float) -> float:
    """Return the standard deviation within groups of values, pulled to `prior`, which counts as four values."""
    squares, free = 4.0 * prior**2, 4.0
    for values in groups:
        if values:
            mean = sum(values) / len(values)
            squares += sum((value - mean) ** 2 for value in values)
            free += len(values) - 1
    return sqrt(squares / free)


def posterior_means(
    kinds: Mapping[str, Sequence[float]], *, group_sd: float, kind_sd: float, spread: float
) -> dict[str, PooledMean]:
    """Return the mean of each kind, pulled to the mean of all kinds, and that to zero.

    A kind without values of its own gets what the others say of the group.
    """
    sds = {kind: sqrt(kind_sd**2 + spread**2 / len(values)) for kind, values in kinds.items() if values}
    weight = 1.0 / group_sd**2 + sum(1.0 / sd**2 for sd in sds.values())
    group = sum(sum(kinds[kind]) / len(kinds[kind]) / sd**2 for kind, sd in sds.items()) / weight
    group_sd_after = 1.0 / sqrt(weight)
    found = {}
    for kind, values in kinds.items():
        own = posterior_mean(group, kind_sd, values, spread)
        rest = (own.sd / kind_sd) ** 2  # how much of the group's mean is left in this kind's
        found[kind] = PooledMean(own.mean, sqrt(own.sd**2 + (rest * group_sd_after) ** 2), spread, len(values))
    return found


# -- pace ------------------------------------------------------------------------------------------------------------

KINDS = ("fabric", "bond", "place", "cast", "closing")
CREW_LOG_SD, KIND_LOG_SD, DAY_LOG_SD = 0.30, 0.20, 0.20
"""How far a crew is from a plan, a kind of step from its crew, and one day from the next, as logarithms."""
SLOWEST = 3.0
"""No step counts as more than so many times its plan: beyond that something happened that is no pace (common practice,
no source)."""
HASTY, AT_ONCE_S = 0.25, 20.0
"""Nobody does a step in a quarter of its time: it was logged by mistake, or late (common practice, no source).
If it came at once after the one before, that one's time was not its own either."""
STEADY_S = 600.0
"""Work that goes as planned before the crew's own pace of today is believed (common practice, no source)."""
MOST = 0.5
"""A session teaches a pace where this share of its planned minutes was logged as it was worked."""
LEFT_OUT = "logged within a quarter of the planned time, or in one go with the next, on a day mostly logged like that"
IN_PART = f"below a quarter of the plan, or beyond {SLOWEST:.0f} times it"
BOUNDS = f"a step counts as no less than a quarter and no more than {SLOWEST:.0f} times its planned minutes"


@dataclass(frozen=True, slots=True)
class Worked:
    """What one session says of its crew: for each kind of step, the logarithm of real over planned time."""

    people: int
    log_ratios: Mapping[str, float]
    left_out: int = 0
    """Steps that were timed but do not count as pace."""
    bounded: int = 0
    """Steps that count only as far as their bound."""


@dataclass(frozen=True, slots=True)
class CrewLesson:
    """How long each kind of step takes a crew of so many people, over what plans say, as logarithms."""

    people: int
    kinds: Mapping[str, PooledMean]
    sessions: int
    left_out: int = 0
    """Steps that do not count as pace, of all sessions."""
    bounded: int = 0
    """Steps that count only as far as their bound, of all sessions."""

    @property
    def left_out_words(self) -> str:
        """How many steps were left out or counted in part, and why; empty where none was."""
        told = (self.left_out, f"left out: {LEFT_OUT}"), (self.bounded, f"counted in part: {IN_PART}")
        return "; ".join(f"{many} time{'' if many == 1 else 's'} {words}" for many, words in told if many)

    def factor(self, kind: str) -> float:
        """Return by how much to multiply the planned time of a kind of step."""
        known = self.kinds.get(kind)
        return exp(known.mean) if known else 1.0


class _Timed(NamedTuple):
    """A step or the closing: planned, as it went, and without the time that hands spent mixing."""

    kind: str
    planned_s: float
    took_s: float
    laid_s: float

    @property
    def counted_s(self) -> float:
        """Its time within the bounds of what is a pace."""
        return min(max(self.laid_s, HASTY * self.planned_s), SLOWEST * self.planned_s)


def own_times(times: Sequence[tuple[float, float]]) -> tuple[bool, ...]:
    """Return of each (planned, real) time of steps in the order of being done whether it is the step's own.

    It is not where the step was logged far too soon, or in one go with the next.
    """
    hasty = [took_s < HASTY * planned_s for planned_s, took_s in times]
    at_once = [early and took_s <= AT_ONCE_S for early, (_, took_s) in zip(hasty, times, strict=True)]
    return tuple(not (early or also) for early, also in zip_longest(hasty, at_once[1:], fillvalue=False))


def pace_today(times: Sequence[tuple[float, float]], over_s: float, rest_s: float) -> float | None:
    """Return today's pace from the (planned, real) times of the steps done; None while none of them is a step's own.

    `over_s` is how far the step on the bench is over its plan, `rest_s` what is planned for all that is left. One plus
    what all of them are over, shared over the work done and `STEADY_S` more, or over the rest where that is longer:
    so a minute lost moves the closing by itself and at most by one more, however early it was lost. A step counts as
    half to twice its plan here; what it took beyond that has passed, and counts in full in every forecast, once.
    """
    if over_s <= 0.0 and not any(own_times(times)):
        return None
    overs_s = (min(max(took_s - planned_s, -planned_s / 2.0), planned_s) for planned_s, took_s in times)
    worked_s = sum(planned_s for planned_s, _ in times) + STEADY_S
    return 1.0 + (sum(overs_s) + max(over_s, 0.0)) / max(worked_s, rest_s)


def worked_in(state: SessionState, plan: Plan) -> Worked | None:
    """Return what a session says of its crew's pace; None where no step was timed.

    The hands that mix a batch do not lay: that share of a step is not counted to it. Planned is what the plan itself
    says, also on a day planned by lessons: else the next session would take back a lesson that was right.
    """
    if state.start is None:
        return None
    pace = pace_of(plan.crew)
    mixings = [
        Stretch(batch.mixed_s - (pace.mixing_s - pace.stirring_s), batch.mixed_s + pace.stirring_s)
        for batch in state.batches
        if batch.mixed_s is not None
    ]
    first_s = min((mixing.end_s for mixing in mixings), default=None)
    real = real_steps(state, first_s)
    planned_s = {step.number: step.plan.planned_s for step in state.steps}
    if state.start.lessons_used:
        files_s = {number: step.bench_s / pace.full for number, step in enumerate(plan.steps, 1)}
        planned_s |= {number: files_s[number] for number in files_s.keys() & planned_s.keys()}
    for step in state.steps:
        if step.merged_into is not None:
            planned_s[step.merged_into] += planned_s[step.number]

    kinds, timed = {step.number: step.plan.kind for step in state.steps}, []
    for number, stretch in real.items():
        took_s = evened_s(plan.crew, state.hands, *stretch)
        both = ((max(stretch.begin_s, mixing.begin_s), min(stretch.end_s, mixing.end_s)) for mixing in mixings)
        mixed_s = sum(max(end_s - begin_s, 0.0) for begin_s, end_s in both)
        # so much sooner all hands would have laid it, had none of them mixed
        laid_s = took_s - mixed_s * (1.0 - pace.beside / pace.full)
        timed.append(_Timed(kinds[number], planned_s[number], took_s, laid_s))
    if state.closed_s is not None and not any(step.left for step in state.steps) and real:
        took_s = evened_s(plan.crew, state.hands, max(stretch.end_s for stretch in real.values()), state.closed_s)
        timed.append(_Timed("closing", plan.closing.bench_s / pace.full, took_s, took_s))
    return _worked(state.start.people, [time for time in timed if time.planned_s > 0.0])


def _worked(people: int, timed: Sequence[_Timed]) -> Worked | None:
    """Return what the times of one session say, each within its bounds; None where there is none."""
    if not timed:
        return None
    own = own_times([(time.planned_s, time.took_s) for time in timed])
    own_s = sum(time.planned_s for time, its_own in zip(timed, own, strict=True) if its_own)
    if own_s < MOST * sum(time.planned_s for time in timed):
        return Worked(people, {}, left_out=len(timed))
    sums: dict[str, tuple[float, float]] = {}
    for time in timed:
        counted_s, planned_s = sums.get(time.kind, (0.0, 0.0))
        sums[time.kind] = counted_s + time.counted_s, planned_s + time.planned_s
    ratios = {kind: log(counted_s / planned_s) for kind, (counted_s, planned_s) in sums.items()}
    return Worked(people, ratios, bounded=sum(time.counted_s != time.laid_s for time in timed))


def crew_lessons(worked: Iterable[Worked]) -> dict[int, CrewLesson]:
    """Return what sessions teach of each size of crew: each kind of step pulled to its crew, the crew to its plans.

    How hard a mean is pulled does not follow from how far the values lie apart: else one slow day, by making all of
    them less sure, would pull a lesson back to the plan. How wide the band is does.
    """
    by_crew: dict[int, list[Worked]] = {}
    for session in worked:
        by_crew.setdefault(session.people, []).append(session)
    told = {
        people: {kind: [one.log_ratios[kind] for one in own if kind in one.log_ratios] for kind in KINDS}
        for people, own in by_crew.items()
    }
    day_sd = spread_of((values for kinds in told.values() for values in kinds.values()), DAY_LOG_SD)
    return {
        people: CrewLesson(
            people,
            _kinds(told[people], day_sd),
            sessions=sum(bool(one.log_ratios) for one in own),
            left_out=sum(one.left_out for one in own),
            bounded=sum(one.bounded for one in own),
        )
        for people, own in sorted(by_crew.items())
    }


def _kinds(kinds: Mapping[str, Sequence[float]], day_sd: float) -> dict[str, PooledMean]:
    """Return the means as usual days would have them, as sure as these days were alike."""
    means = posterior_means(kinds, group_sd=CREW_LOG_SD, kind_sd=KIND_LOG_SD, spread=DAY_LOG_SD)
    sure = posterior_means(kinds, group_sd=CREW_LOG_SD, kind_sd=KIND_LOG_SD, spread=day_sd)
    return {kind: replace(sure[kind], mean=mean.mean) for kind, mean in means.items()}


# -- dry runs ----------------------------------------------------------------------------------------------------------

WETTED = frozenset({"fabric", "bond"})
WETTING, WETTING_SD = 1.5, 0.15
"""A step with resin over the same one dry, and how far that is from one crew to the next, as a logarithm (common
practice, no source)."""
CLOSING = "closing"


@dataclass(frozen=True, slots=True)
class DryRun:
    """One dry run of a plan: seconds for one pair of hands of each step and of the closing, and of fetching a cup."""

    title: str
    day: date
    steps_s: Mapping[str, float]
    closing_s: float | None
    mixing_s: float | None
    too_quick: tuple[str, ...] = ()
    """What was ticked, and not counted."""

    @property
    def words(self) -> tuple[str, ...]:
        """Return the time of each step for one pair of hands, without resin, of all, and what does not count."""
        rows = [*self.steps_s.items(), *([(CLOSING, self.closing_s)] if self.closing_s else [])]
        rows += [("fetching a cup", self.mixing_s)] if self.mixing_s else []
        return (
            *(f"{name}: {in_minutes(took_s)}, one pair of hands, dry" for name, took_s in rows),
            *([f"all: {in_minutes(self.total_s)}"] if rows else []),
            *([f"too quick, not counted: {', '.join(self.too_quick)}"] if self.too_quick else []),
        )

    @property
    def counted(self) -> str:
        """How much of it counts, in one line."""
        if not self.steps_s:
            return "dry run too quick: not counted, its minutes change nothing"
        left_out = f"; {len(self.too_quick)} too quick: not counted" if self.too_quick else ""
        return f"dry run: {len(self.steps_s)} step{'s' * (len(self.steps_s) > 1)} counted{left_out}"

    @property
    def total_s(self) -> float:
        return sum(self.steps_s.values()) + (self.closing_s or 0.0)


def dry_run_in(state: SessionState, plan: Plan) -> DryRun | None:
    """Return what a dry run took; None where nothing was ticked."""
    if state.start is None or state.started_at is None:
        return None
    full = pace_of(plan.crew).full
    done = sorted((step for step in state.steps if step.took_s is not None), key=lambda one: one.done_s or 0.0)
    timed = [(step.plan.name, step.number, step.planned_s, step.took_s or 0.0) for step in done if not step.with_it_s]
    if state.closed_s is not None and done:
        timed.append((CLOSING, 0, plan.closing.bench_s / full, state.closed_s - (done[-1].done_s or 0.0)))
    if not timed:
        return None
    own = own_times([(planned_s, took_s) for _, _, planned_s, took_s in timed])
    counted = [(number, took_s) for (_, number, _, took_s), its_own in zip(timed, own, strict=True) if its_own]
    steps = len(plan.steps)
    fetched = [took_s for number, took_s in counted if number > steps]
    return DryRun(
        state.start.title,
        state.started_at.astimezone().date(),
        {plan.steps[number - 1].name: took_s * full for number, took_s in counted if 0 < number <= steps},
        next((took_s * full for number, took_s in counted if number == 0), None),
        fmean(fetched) if fetched else None,
        tuple(name for (name, _, _, _), its_own in zip(timed, own, strict=True) if not its_own),
    )


def runs_of(plan: Plan, runs: Iterable[DryRun]) -> list[DryRun]:
    """Return the dry runs of a plan that count."""
    return [run for run in runs if run.title == plan.title and run.steps_s]


def with_dry_runs(plan: Plan, runs: Iterable[DryRun], pressed: Iterable[str]) -> Plan:
    """Return a plan with the minutes of its dry runs; `pressed` are the kinds of step that a press day taught.

    Where a press day did, the crew's minutes are told from both, and the next day is as sure as the better of them.
    """
    own = runs_of(plan, runs)
    if not own:
        return plan
    known = frozenset(pressed) & WETTED
    ran_s = _passes_s(own)
    told = {step.name for step in plan.steps if step.name in ran_s and step.kind not in known}
    steps = tuple(
        replace(step, bench_s=fmean(ran_s[step.name]) * (WETTING if step.kind in WETTED else 1.0))
        if step.name in told
        else step
        for step in plan.steps
    )
    closing_s = [run.closing_s for run in own if run.closing_s]
    closing = replace(plan.closing, bench_s=fmean(closing_s)) if closing_s else plan.closing
    mixing_s = [run.mixing_s for run in own if run.mixing_s]
    wetted_s = sum(step.bench_s for step in steps if step.kind in WETTED and step.name in told)
    worked_s = closing.bench_s + sum(step.bench_s for step in steps if step.kind != "cast")
    run_pace, batch_pace = paces_of(own)
    pace = hypot(day_pace(len(own), run_pace), WETTING_SD * wetted_s / max(worked_s, 1.0))
    days = f"your dry run of {', '.join(dict.fromkeys(day_and_month(run.day) for run in own))}"
    crew = replace(
        plan.crew,
        mixing_s=max(fmean(mixing_s), plan.crew.stirring_s or 0.0) if mixing_s else plan.crew.mixing_s,
        day_pace=min(pace, plan.crew.day_pace) if known else pace,
        batch_pace=batch_pace,
        minutes_from=f"{plan.crew.minutes_from} and {days}" if known else days,
    )
    return replace(plan, steps=steps, closing=closing, crew=crew)


def _passes_s(runs: Iterable[DryRun]) -> dict[str, list[float]]:
    """Return by a step's name what it took in each run in which it counted."""
    found: dict[str, list[float]] = {}
    for run in runs:
        for name, took_s in run.steps_s.items():
            found.setdefault(name, []).append(took_s)
    return found


def paces_of(runs: Sequence[DryRun]) -> tuple[float, float]:
    """Return how far one run of a plan is from the next, and single steps from the pace of their run.

    As logarithms, pulled to what is usual while runs are few.
    """
    shared = sorted(set.intersection(*(set(run.steps_s) for run in runs)))
    whole = [log(sum(run.steps_s[name] for name in shared)) for run in runs] if shared else []
    steps = [[log(run.steps_s[name]) - all_ for run, all_ in zip(runs, whole, strict=True)] for name in shared]
    return min(spread_of([whole], RUN_PACE), 1.0), min(spread_of(steps, BATCH_PACE), 1.0)


def spread_words(plan: Plan, runs: Iterable[DryRun]) -> tuple[str, ...]:
    """Say between what minutes each step of a plan is expected next time, by its passes of one pair of hands, dry."""
    ran_s, told = _passes_s(runs_of(plan, runs)), []
    for step in plan.steps:
        logs = [log(each_s) for each_s in ran_s.get(step.name, ())]
        if len(logs) > 1:
            sd = spread_of([logs], hypot(RUN_PACE, BATCH_PACE)) * (1.0 + 1.0 / len(logs)) ** 0.5
            low_s, high_s = (exp(fmean(logs) + sign * EIGHTY_PERCENT * sd) for sign in (-1.0, 1.0))
            told.append(f"{step.name} {low_s / 60.0:.0f}-{in_minutes(high_s)}")
    return (f"next time, dry, 80 %: {', '.join(told)}",) if told else ()
