"""What the running day makes of its log: the pace of today, and what an undo says that it took back."""

from pathlib import Path

import pytest
from simulate.shop import begun, workshop

from layup.bench.day import PressDay
from layup.bench.forecast import log_lines, outlook_of_day, pace
from layup.session.batch_events import BatchMixed, StepDone
from layup.session.clock import ManualClock
from layup.session.day_events import Undone


@pytest.fixture
def day(tmp_path: Path) -> PressDay:
    return begun(workshop(tmp_path), ManualClock())


def step_done_after(day: PressDay, seconds: float) -> None:
    assert isinstance(day.clock, ManualClock)
    day.clock.advance(seconds)
    step = day.state.step_now
    assert step is not None
    assert day.log(StepDone(step=step.number), "").done


def test_steps_logged_within_seconds_leave_the_pace_of_today_unknown(day: PressDay) -> None:
    for seconds in (3.0, 5.0, 20.0):
        step_done_after(day, seconds)
    assert pace(day, day.now_s()) is None


def test_steps_logged_late_in_one_go_move_the_pace_of_today_by_no_more_than_their_plan(day: PressDay) -> None:
    step_done_after(day, 2.0 * day.state.steps[0].plan.planned_s)
    slow = pace(day, day.now_s())
    assert slow is not None
    assert slow > 1.0
    for seconds in (3600.0, 1.0, 1.0):
        step_done_after(day, seconds)
    planned_s = [step.plan.planned_s for step in day.state.steps]
    after = pace(day, day.now_s())
    assert after is not None
    over_s = planned_s[0] + planned_s[1] - (planned_s[2] + planned_s[3]) / 2.0
    rest_s = sum(planned_s[4:]) + day.closing_s
    assert after == pytest.approx(1.0 + over_s / max(sum(planned_s[:4]) + 600.0, rest_s))


def closing_moved_s(day: PressDay, steps: int, late_s: float) -> tuple[float, float]:
    """Return by how much a step that takes so much longer moves the closing: before it is logged as done, and after."""
    for batch in day.state.batches:
        grams = {"resin_g": batch.plan.resin_g, "hardener_g": batch.plan.hardener_g}
        assert day.log(BatchMixed(batch=batch.number, start_K=293.15, **grams), "").done
    for step in day.state.steps[:steps]:
        step_done_after(day, step.plan.planned_s)
    on_bench_s = day.state.steps[steps].plan.planned_s
    as_planned_s = outlook_of_day(day, day.now_s() + on_bench_s).ready_s
    clock = day.clock
    assert isinstance(clock, ManualClock)
    clock.advance(on_bench_s + late_s)
    running_s = outlook_of_day(day, day.now_s()).ready_s
    step_done_after(day, 0.0)
    return running_s - as_planned_s, outlook_of_day(day, day.now_s()).ready_s - as_planned_s


@pytest.mark.parametrize("steps", [1, 3, 6])
@pytest.mark.parametrize("late_min", [1.0, 3.0, 53.0])
def test_a_late_step_moves_the_closing_by_all_that_it_is_late_and_at_most_by_its_own_minutes_more(
    day: PressDay, steps: int, late_min: float
) -> None:
    late_s = late_min * 60.0
    planned_s = day.state.steps[steps].plan.planned_s
    for moved_s in closing_moved_s(day, steps, late_s):
        assert late_s - 1e-6 <= moved_s <= late_s + min(late_s, planned_s) + 1e-6


def test_an_undo_names_what_it_takes_back_when_it_is_done_and_in_the_log(day: PressDay) -> None:
    step_done_after(day, 400.0)
    name = day.state.steps[0].plan.name
    assert day.undo().words == f"taken back: done: {name} (both stay in the log)"
    assert log_lines(day, 2)[0].endswith(f"taken back: done: {name}")
    assert log_lines(day, 2)[1].endswith(f"done: {name} (taken back)")
    redone = Undone(undone_seq=day.state.seq)
    assert day.log(redone, "").done
    assert redone.describe_in(day.state) == f"brought back: done: {name}"
    assert Undone(undone_seq=999).describe_in(day.state) == "undo of entry 999"
