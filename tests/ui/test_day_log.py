"""What the running day makes of its log: the pace of today, and what an undo says that it took back."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from simulate.shop import Day, desk_for, workshop

from layup.records.clock import ManualClock
from layup.records.event_words import told
from layup.records.events import StepDone, Undone
from layup.screens.bench_view import log_lines, pace
from layup.screens.day import PressDay
from layup.screens.opening import begin


@pytest.fixture
def day(tmp_path: Path) -> PressDay:
    desk = desk_for(workshop(tmp_path), Day())
    assert desk.figures is not None
    return begin(desk, desk.figures, ManualClock(datetime(2026, 3, 7, 8, 0, tzinfo=UTC)))


def step_done_after(day: PressDay, seconds: float) -> None:
    assert isinstance(day.clock, ManualClock)
    day.clock.advance(seconds)
    step = day.state.step_now
    assert step is not None
    assert day.log(StepDone(step=step.number), "").done


def test_steps_logged_within_seconds_leave_the_pace_of_today_unknown(day: PressDay) -> None:
    for seconds in (3.0, 5.0, 20.0):
        step_done_after(day, seconds)
    assert pace(day) is None


def test_steps_logged_late_in_one_go_are_no_pace_and_those_logged_in_time_are(day: PressDay) -> None:
    step_done_after(day, 2.0 * day.state.steps[0].plan.planned_s)
    slow = pace(day)
    assert slow is not None
    assert slow > 1.1
    for seconds in (3600.0, 1.0, 1.0):
        step_done_after(day, seconds)
    assert pace(day) == slow


def test_an_undo_names_what_it_takes_back_when_it_is_done_and_in_the_log(day: PressDay) -> None:
    step_done_after(day, 400.0)
    name = day.state.steps[0].plan.name
    assert day.undo().words == f"taken back: done: {name} (both stay in the log)"
    assert log_lines(day, 2)[0].endswith(f"taken back: done: {name}")
    assert log_lines(day, 2)[1].endswith(f"done: {name} (taken back)")
    redone = Undone(undone_seq=day.state.seq)
    assert day.log(redone, "").done
    assert told(day.state, redone) == f"brought back: done: {name}"
    assert told(day.state, Undone(undone_seq=999)) == "undo of entry 999"
