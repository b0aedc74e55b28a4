"""What dry runs tell: how long each step of one plan takes these people without resin, and so about with it.

Common practice, no source: to lay cloth and wet it out, or to coat a face, takes half as long again as to lay it out
dry. Where a press day taught a kind of step that is wetted, that counts and not this guess. Steps without resin, the
fetching of a cup and the closing take what they took. What was ticked too quickly to be its own time does not count.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import exp, hypot, log
from statistics import fmean

from layup.chemistry.uncertainty import EIGHTY_PERCENT
from layup.planning.crew import pace_of
from layup.planning.pace import BATCH_PACE, RUN_PACE, day_pace
from layup.planning.plan import Plan
from layup.review.pace import own_times, spread_of
from layup.session.state import SessionState
from layup.units import day_and_month, in_minutes

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
        """Return the time of all that was done."""
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
    ran_s = {name: [run.steps_s[name] for run in own if name in run.steps_s] for run in own for name in run.steps_s}

    def told(name: str, kind: str) -> bool:
        return name in ran_s and kind not in known

    steps = tuple(
        replace(step, bench_s=fmean(ran_s[step.name]) * (WETTING if step.kind in WETTED else 1.0))
        if told(step.name, step.kind)
        else step
        for step in plan.steps
    )
    closing_s = [run.closing_s for run in own if run.closing_s]
    closing = replace(plan.closing, bench_s=fmean(closing_s)) if closing_s else plan.closing
    mixing_s = [run.mixing_s for run in own if run.mixing_s]
    wetted_s = sum(step.bench_s for step in steps if step.kind in WETTED and told(step.name, step.kind))
    worked_s = closing.bench_s + sum(step.bench_s for step in steps if step.kind != "cast")
    pace = hypot(day_pace(len(own), run_pace(own)), WETTING_SD * wetted_s / max(worked_s, 1.0))
    days = f"your dry run of {', '.join(dict.fromkeys(day_and_month(run.day) for run in own))}"
    crew = replace(
        plan.crew,
        mixing_s=max(fmean(mixing_s), plan.crew.stirring_s or 0.0) if mixing_s else plan.crew.mixing_s,
        day_pace=min(pace, plan.crew.day_pace) if known else pace,
        batch_pace=batch_pace(own),
        minutes_from=f"{plan.crew.minutes_from} and {days}" if known else days,
    )
    return replace(plan, steps=steps, closing=closing, crew=crew)


def run_pace(runs: Sequence[DryRun]) -> float:
    """Return how far one run of a plan is from the next, as a logarithm, pulled to what is usual while they are few."""
    shared = set.intersection(*(set(run.steps_s) for run in runs))
    totals = [log(sum(run.steps_s[name] for name in shared)) for run in runs] if shared else []
    return min(spread_of([totals], RUN_PACE), 1.0)


def batch_pace(runs: Sequence[DryRun]) -> float:
    """Return how far single steps are from the pace of their run, pulled to what is usual while runs are few."""
    shared = sorted(set.intersection(*(set(run.steps_s) for run in runs)))
    whole = [log(sum(run.steps_s[name] for name in shared)) for run in runs] if shared else []
    steps = [[log(run.steps_s[name]) - all_ for run, all_ in zip(runs, whole, strict=True)] for name in shared]
    return min(spread_of(steps, BATCH_PACE), 1.0)


def spread_words(plan: Plan, runs: Iterable[DryRun]) -> tuple[str, ...]:
    """Say between what minutes each step of a plan is expected next time, by its passes of one pair of hands, dry."""
    own = runs_of(plan, runs)
    told = []
    for step in plan.steps:
        took_s = [run.steps_s[step.name] for run in own if step.name in run.steps_s]
        if len(took_s) > 1:
            logs = [log(each) for each in took_s]
            sd = spread_of([logs], hypot(RUN_PACE, BATCH_PACE)) * (1.0 + 1.0 / len(logs)) ** 0.5
            low_s, high_s = (exp(fmean(logs) + sign * EIGHTY_PERCENT * sd) for sign in (-1.0, 1.0))
            told.append(f"{step.name} {low_s / 60.0:.0f}-{in_minutes(high_s)}")
    return (f"next time, dry, 80 %: {', '.join(told)}",) if told else ()
