"""The rest of the day at today's pace: when each batch is wanted, when the press can be closed; the day and its log."""

from __future__ import annotations

from layup.bench.day import PressDay
from layup.planning.crew import pace_of
from layup.review.pace import pace_today
from layup.review.timeline import real_steps
from layup.session.mass_balance import without_mix
from layup.session.text import shortened


def unserved(day: PressDay) -> tuple[str, ...]:
    """Return the steps that want mix and for which some of it is in no batch: lost, and not planned anew."""
    dry = without_mix(day.state, day.balance)
    return tuple(step.plan.name for step in day.state.steps if step.number in dry)


def step_started_s(day: PressDay) -> float:
    done = [step.done_s for step in day.state.steps if step.done_s is not None]
    return max(done, default=0.0)


def pace(day: PressDay, now_s: float) -> float | None:
    """Return real over planned time of today's work so far; None before anything tells of it."""
    state = day.state
    contact_s = min((batch.mixed_s for batch in state.batches if batch.mixed_s is not None), default=None)
    lay_s = None if contact_s is None else contact_s + pace_of(day.crew).stirring_s
    real = real_steps(state, lay_s)
    planned_s = {step.number: step.plan.planned_s for step in state.steps if step.plan.planned_s > 0.0}
    times = [(planned_s[number], stretch.took_s) for number, stretch in real.items() if number in planned_s]
    left = [step.plan.planned_s for step in state.steps if step.done_s is None]
    begun_s = max((at_s for at_s in (lay_s, *(one.end_s for one in real.values())) if at_s is not None), default=now_s)
    over_s = min(now_s - begun_s - left[0], left[0]) if left else 0.0
    return pace_today(times, over_s, sum(left) + day.closing_s)


def ready_s(day: PressDay, now_s: float) -> float:
    """Return when the press can be closed if the rest goes at today's pace."""
    rate = pace(day, now_s) or 1.0
    left = [step.plan.planned_s for step in day.state.steps if step.done_s is None]
    first_left_s = max(left[0] * rate - (now_s - step_started_s(day)), 0.0) if left else 0.0
    return now_s + first_left_s + rate * (sum(left[1:]) + day.closing_s)


def step_lines(day: PressDay, now_s: float, *, width: int, rows: int) -> tuple[str, ...]:
    """Return the day as a table: each step, planned and real minutes, and when it is or should be done.

    Where it takes more than `rows`, the steps done longest ago are left out.
    """
    state, rate = day.state, pace(day, now_s) or 1.0
    room = max(width - 27, 12)
    lines = [f"     {'step':<{room}} {'batch':>5} {'plan':>4} {'took':>4} {'done':>5}"]
    at_s, here = now_s, 1
    for step in state.steps:
        batches = "+".join(str(batch.number) for batch in state.batches if step.number in batch.plan.steps)
        took, mark = "", " "
        if step is state.step_now:
            here = len(lines) - 1
        if step.done_s is not None:
            mark, done = "x", day.clock_time(step.done_s)
            took = "" if step.took_s is None else f"{step.took_s / 60:.0f}"
        else:
            spent_s = 0.0
            if step is state.step_now:
                spent_s = now_s - step_started_s(day)
                mark, took = "▸", f"{spent_s / 60:.0f}"
            at_s += max(rate * step.plan.planned_s - spent_s, 0.0)
            done = day.clock_time(at_s)
        name, plan_min = shortened(step.plan.name, room), step.plan.planned_s / 60
        lines.append(f"{mark} {step.number:>2} {name:<{room}} {batches:>5} {plan_min:>4.0f} {took:>4} {done:>5}")
    if state.closed_s is None:
        at_s += rate * day.closing_s
        lines.append(
            f"     {'close the press':<{room}} {'':>5} {day.closing_s / 60:>4.0f} {'':>4} {day.clock_time(at_s):>5}"
        )
    first = min(max(len(lines) - rows + 1, 1), max(here, 1))
    return (lines[0], *lines[first : first + rows - 1])


def log_lines(day: PressDay, count: int) -> tuple[str, ...]:
    """Return the last entries of the journal, newest first."""
    state = day.state
    lines = []
    for record in reversed(state.records[-count:]):
        mark = " (taken back)" if record.seq in state.cancelled else ""
        lines.append(f"{day.clock_time(record.when_s)}  {record.describe_in(state)}{record.late_words}{mark}")
    return tuple(lines)
