"""Laws of the pace that sessions teach: a step that took longer never makes the next plan faster."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from session_examples import mixed, stamped, start

from layup.files.workshop import Workshop, demo_root
from layup.planning.crew import pace_of
from layup.review.lessons import Lessons
from layup.review.pace import HASTY, SLOWEST, Worked, crew_lessons, own_times, pace_today, worked_in
from layup.session.batch_events import BatchPouredOut, PressClosed, StepDone
from layup.session.fields import StepPlan
from layup.session.records import fold
from layup.session.state import Event, SessionState

PLAN = Workshop(demo_root()).plan("touring-skis")
PACE = pace_of(PLAN.crew)
PLANNED_S = [step.bench_s / PACE.full for step in PLAN.steps]
COUNT = len(PLANNED_S)
MIXED_S = 60.0
"""When the first batch is mixed."""

ratios = st.one_of(st.floats(0.3, 3.0), st.floats(0.5, 1.6), st.floats(0.02, 40.0))
days = st.lists(ratios, min_size=COUNT, max_size=COUNT)


def day(times: Sequence[float], second_mix: int, lateness_s: float) -> SessionState:
    """Return a day on which each step took so many times its plan; a second batch is mixed before some step ends."""
    told: list[tuple[float, Event]] = [(MIXED_S, mixed(1)), (MIXED_S + 1.0, BatchPouredOut(batch=1))]
    at_s = MIXED_S + PACE.stirring_s
    for number, (planned_s, ratio) in enumerate(zip(PLANNED_S, times, strict=True), 1):
        at_s += max(planned_s * ratio, 1.0)
        if number == second_mix:
            told.append((at_s - min(lateness_s, 0.9 * planned_s * ratio), mixed(2)))
        told.append((at_s, StepDone(step=number)))
    told.append((at_s + 240.0, PressClosed()))
    told.sort(key=lambda one: one[0])
    steps = tuple(
        StepPlan(step=n, name=step.name, kind=step.kind, planned_s=planned_s)
        for n, (step, planned_s) in enumerate(zip(PLAN.steps, PLANNED_S, strict=True), 1)
    )
    begun = start(batches=2).model_copy(update={"steps": steps, "people": PLAN.crew.people})
    records = stamped([begun, *(event for _, event in told)])
    ends_s = [0.0, *(at_s for at_s, _ in told)]
    return fold(record.model_copy(update={"elapsed_s": at_s}) for record, at_s in zip(records, ends_s, strict=True))


def next_minutes(worked: Sequence[Worked]) -> list[float]:
    """Return the minutes of each step and of the closing, as the next plan has them."""
    plan = Lessons(crews=crew_lessons(worked)).plan(PLAN)
    return [*(step.bench_s / 60.0 for step in plan.steps), plan.closing.bench_s / 60.0]


other_days = st.lists(
    st.dictionaries(st.sampled_from(["fabric", "bond", "place", "closing"]), st.floats(log(HASTY), log(SLOWEST))),
    max_size=4,
)


more_of_it = st.one_of(st.floats(0.0, 1.0), st.floats(0.0, 6.0))


@given(days, st.integers(0, COUNT - 1), more_of_it, st.integers(1, COUNT), st.floats(0.0, 300.0), other_days)
@example([1.0] * 4 + [0.05] + [1.0] * (COUNT - 5), 4, 0.4, 1, 60.0, [])  # logged too soon, then in its own time
@example([1.0, 1.0, 0.4, 0.02] + [1.0] * (COUNT - 4), 3, 0.3, 1, 60.0, [])  # logged in one go, then on its own
@example([3.0] * COUNT, 3, 40.0, 1, 60.0, [{"bond": log(0.5)}])  # far beyond its bound
@settings(max_examples=150, deadline=None)
def test_a_step_that_took_longer_never_makes_the_next_plan_faster(
    times: list[float], step: int, more: float, second_mix: int, lateness_s: float, others: list[dict[str, float]]
) -> None:
    before = worked_in(day(times, second_mix, lateness_s), PLAN)
    slower = worked_in(day([ratio + more * (n == step) for n, ratio in enumerate(times)], second_mix, lateness_s), PLAN)
    assert before is not None
    assert slower is not None
    assume(before.log_ratios)  # a day that was not logged as it was worked teaches nothing that could be lowered
    assert slower.log_ratios.keys() == before.log_ratios.keys()
    for kind, value in before.log_ratios.items():
        assert slower.log_ratios[kind] >= value - 1e-9
    same = [Worked(PLAN.crew.people, one) for one in others]
    for quick, slow in zip(next_minutes([*same, before]), next_minutes([*same, slower]), strict=True):
        assert slow >= quick - 1e-9


@given(days, st.integers(0, COUNT - 1))
@settings(max_examples=60, deadline=None)
def test_one_step_however_slow_moves_its_kind_by_no_more_than_its_share_of_the_minutes(
    times: list[float], step: int
) -> None:
    found = [
        worked_in(day([ratio if n != step else wild for n, ratio in enumerate(times)], 1, 60.0), PLAN)
        for wild in (SLOWEST + 1.0, 400.0)
    ]
    assert found[0] is not None
    assert found[1] is not None
    assume(found[0].log_ratios)
    assert found[1].log_ratios == pytest.approx(found[0].log_ratios)


@given(days)
@example([1.0] * (COUNT - 2) + [SLOWEST, SLOWEST])  # at its bound a step counts in full
@settings(max_examples=60, deadline=None)
def test_a_day_teaches_no_pace_beyond_its_bounds_and_says_how_many_steps_it_counted_in_part(times: list[float]) -> None:
    worked = worked_in(day(times, 1, 60.0), PLAN)
    assert worked is not None
    for value in worked.log_ratios.values():
        assert HASTY - 1e-9 <= exp(value) <= SLOWEST + 1e-9
    if worked.log_ratios:
        wild = sum(not HASTY - 1e-9 <= ratio <= SLOWEST + 1e-9 for ratio in times)
        assert worked.left_out == 0
        assert worked.bounded >= wild - 1  # the one in which a batch was mixed may count for less than it took
    else:
        timed = [(planned_s, planned_s * ratio) for ratio, planned_s in zip(times, PLANNED_S, strict=True)]
        assert not all(own_times(timed))
        assert worked.left_out == len(timed) + 1


minutes_of_work = st.lists(st.tuples(st.floats(60.0, 1800.0), st.floats(30.0, 9000.0)), min_size=1, max_size=12)


@given(minutes_of_work, st.integers(0, 11), st.floats(0.0, 7200.0), st.floats(0.0, 7200.0), st.floats(60.0, 20_000.0))
def test_a_minute_lost_today_costs_the_rest_of_the_day_at_most_one_more_and_gives_none_back(
    times: list[tuple[float, float]], step: int, more_s: float, over_s: float, rest_s: float
) -> None:
    step %= len(times)
    slower = [(planned_s, took_s + more_s * (n == step)) for n, (planned_s, took_s) in enumerate(times)]
    before, after = pace_today(times, over_s, rest_s), pace_today(slower, over_s, rest_s)
    assume(before is not None and after is not None)
    assert before is not None
    assert after is not None
    bound_s = min(more_s, 1.5 * times[step][0])
    assert -1e-6 <= (after - before) * rest_s <= bound_s + 1e-6
    assert before >= 0.5
