"""What is put right on a running day: entries told afterwards."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from simulate.shop import Day, desk_for, workshop

from layup.bench.changes import that_was, when_s
from layup.bench.day import PressDay
from layup.bench.forecast import log_lines
from layup.bench.opening import begin
from layup.errors import InputError
from layup.session.batch_events import BatchPouredOut, StepDone
from layup.session.clock import ManualClock


@pytest.fixture
def day(tmp_path: Path) -> PressDay:
    planner = desk_for(workshop(tmp_path), Day())
    assert planner.figures is not None
    return begin(planner, planner.figures, ManualClock(datetime(2026, 3, 7, 8, 0, tzinfo=UTC)))


def pass_s(day: PressDay, seconds: float) -> None:
    assert isinstance(day.clock, ManualClock)
    day.clock.advance(seconds)


def test_a_reading_without_the_key_starts_the_clock_a_usual_pour_before_it(day: PressDay):
    day.read_scale(1, "")
    pass_s(day, 240.0)
    said = day.read_scale(1, "")
    assert day.state.batch(1).mixed_s == pytest.approx(240.0 - 60.0)
    assert f"its clock runs since {day.clock_time(180.0)}: h was not pressed" in said.words


def test_a_reading_at_once_after_the_resin_starts_no_clock_before_the_resin_was_in(day: PressDay):
    pass_s(day, 600.0)
    day.read_scale(1, "")
    pass_s(day, 20.0)
    day.read_scale(1, "")
    assert day.state.batch(1).mixed_s == pytest.approx(600.0)


def test_a_forgotten_hardener_key_is_put_right_with_the_minutes_back(day: PressDay):
    day.read_scale(1, "")
    pass_s(day, 600.0)
    day.hardener_in(1)
    young = day.alive[1]
    pass_s(day, 60.0)
    day.read_scale(1, "")
    said = that_was(day, when_s(day, "7 min ago"), seq=day.state.undoable - 1)
    assert said.done
    assert day.state.batch(1).mixed_s == pytest.approx(240.0)
    assert day.alive[1].empty_by_s < young.empty_by_s - 300.0
    assert f"7 min ago, {day.clock_time(240.0)}: batch 1 hardener in" in said.words


def test_the_minutes_back_after_a_reading_alone_are_of_the_hardener_that_it_started(day: PressDay):
    day.read_scale(1, "")
    pass_s(day, 600.0)
    day.read_scale(1, "")
    reading_s = day.state.batch(1).weighed_s
    assert that_was(day, when_s(day, "8 min ago")).done
    assert (day.state.batch(1).mixed_s, day.state.batch(1).weighed_s) == (pytest.approx(120.0), reading_s)


def test_no_entry_goes_to_a_time_that_has_not_come_or_at_which_it_could_not_be(day: PressDay):
    day.read_scale(1, "")
    pass_s(day, 300.0)
    day.hardener_in(1)
    pass_s(day, 300.0)
    day.poured_out(1)
    assert that_was(day, 700.0).words == "not then: that time has not come yet"
    assert that_was(day, 200.0).words == "not then: batch 1 is not mixed yet - hardener in comes first"
    assert day.state.batch(1).poured_out_s == pytest.approx(600.0), "refused, it stays as it was"
    with pytest.raises(InputError, match="before the session began"):
        when_s(day, "11 min ago")


def test_a_late_entry_is_marked_in_the_log_at_the_time_it_happened(day: PressDay):
    pass_s(day, 600.0)
    first, second = day.state.steps[:2]
    assert day.log(StepDone(step=first.number), "", 300.0).done
    assert log_lines(day, 1)[0].startswith(day.clock_time(300.0))
    assert log_lines(day, 1)[0].endswith("(told 5 min afterwards)")
    assert day.log(BatchPouredOut(batch=1), "", 300.0).words.startswith("not then: batch 1 is not mixed yet")
    assert day.log(StepDone(step=second.number), "", 900.0).words == "not then: that time has not come yet"
