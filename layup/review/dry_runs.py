"""What dry runs tell: how long each step of one plan takes these people without resin, and so about with it.

Common practice, no source: to lay cloth and wet it out, or to coat a face, takes half as long again as to lay it out
dry. Where a press day taught a kind of step that is wetted, that counts and not this guess. Steps without resin, the
fetching of a cup and the closing take what they took.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import log
from statistics import fmean

from layup.planning.crew import pace_of
from layup.planning.plan import DAY_PACE, Plan
from layup.review.pace import own_times, spread_of
from layup.session.state import SessionState
from layup.units import day_and_month, in_minutes

WETTED = frozenset({"fabric", "bond"})
WETTING = 1.5
"""A step with resin over the same one dry (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class DryRun:
    """One dry run of a plan: seconds for one pair of hands of each step and of the closing, and of fetching a cup."""

    title: str
    day: date
    steps_s: Mapping[str, float]
    closing_s: float | None
    mixing_s: float | None

    @property
    def words(self) -> tuple[str, ...]:
        """Return the time of each step for one pair of hands, without resin, and of all."""
        rows = [*self.steps_s.items(), *([("closing", self.closing_s)] if self.closing_s else [])]
        rows += [("fetching a cup", self.mixing_s)] if self.mixing_s else []
        return (
            *(f"{name}: {in_minutes(took_s)}, one pair of hands, dry" for name, took_s in rows),
            f"all: {in_minutes(self.total_s)}",
        )

    @property
    def total_s(self) -> float:
        """Return the time of all that was done."""
        return sum(self.steps_s.values()) + (self.closing_s or 0.0)


def dry_run_in(state: SessionState, plan: Plan) -> DryRun | None:
    """Return what a dry run took; None where no step was ticked at a time of its own."""
    if state.start is None or state.started_at is None:
        return None
    full, before_s = pace_of(plan.crew).full, 0.0
    timed, fetched = [], []
    for step in sorted((one for one in state.steps if one.done_s is not None), key=lambda one: one.done_s or 0.0):
        took_s, before_s = (step.done_s or 0.0) - before_s, step.done_s or 0.0
        if step.number > len(plan.steps):
            fetched.append(took_s)
        elif step.skipped_s is None:
            timed.append((step, took_s))
    own = own_times([(step.planned_s, took_s) for step, took_s in timed])
    steps_s = {
        plan.steps[step.number - 1].name: took_s * full
        for (step, took_s), its_own in zip(timed, own, strict=True)
        if its_own
    }
    if not steps_s:
        return None
    closing_s = None if state.closed_s is None else (state.closed_s - before_s) * full
    mixing_s = fmean(fetched) if fetched else None
    return DryRun(state.start.title, state.started_at.astimezone().date(), steps_s, closing_s, mixing_s)


def with_dry_runs(plan: Plan, runs: Iterable[DryRun], pressed: Iterable[str]) -> Plan:
    """Return a plan with the minutes of its dry runs; `pressed` are the kinds of step that a press day taught."""
    own = [run for run in runs if run.title == plan.title]
    if not own:
        return plan
    known = frozenset(pressed)

    def wet_s(name: str, kind: str, planned_s: float) -> float:
        took_s = [run.steps_s[name] for run in own if name in run.steps_s]
        if not took_s or (kind in WETTED and kind in known):
            return planned_s
        return fmean(took_s) * (WETTING if kind in WETTED else 1.0)

    steps = tuple(replace(step, bench_s=wet_s(step.name, step.kind, step.bench_s)) for step in plan.steps)
    closing_s = [run.closing_s for run in own if run.closing_s]
    closing = replace(plan.closing, bench_s=fmean(closing_s)) if closing_s else plan.closing
    mixing_s = [run.mixing_s for run in own if run.mixing_s]
    crew = replace(
        plan.crew,
        mixing_s=max(fmean(mixing_s), plan.crew.stirring_s or 0.0) if mixing_s else plan.crew.mixing_s,
        day_pace=day_pace(own),
        minutes_from=f"your dry run of {', '.join(dict.fromkeys(day_and_month(run.day) for run in own))}",
    )
    return replace(plan, steps=steps, closing=closing, crew=crew)


def day_pace(runs: Sequence[DryRun]) -> float:
    """Return how far one run of a plan is from the next, as a logarithm, pulled to what is usual while they are few."""
    shared = set.intersection(*(set(run.steps_s) for run in runs))
    totals = [log(sum(run.steps_s[name] for name in shared)) for run in runs] if shared else []
    return min(spread_of([totals], DAY_PACE), 1.0)
