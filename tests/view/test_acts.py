"""The next act: one at every moment, the most urgent that can be done."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from simulate.shop import Day, desk_for, workshop

from layup.bench.day import PressDay
from layup.bench.opening import begin
from layup.bench.view import bench_view
from layup.session.clock import ManualClock


@pytest.fixture
def day(tmp_path: Path) -> PressDay:
    """Return a day of two that begins now."""
    planner = desk_for(workshop(tmp_path), Day())
    assert planner.figures is not None
    return begin(planner, planner.figures, ManualClock(datetime(2026, 3, 7, 8, 0, tzinfo=UTC)))


def test_a_day_that_begins_is_told_to_weigh_its_first_batch_which_has_no_deadline_yet(day: PressDay) -> None:
    view = bench_view(day)
    planned_g = day.state.batches[0].plan.mass_g
    assert (view.act.words, view.act.number) == ("WEIGH BATCH 1", f"{planned_g:.0f} g")
    assert (view.act.deadline_s, view.act.urgency) == (None, "fresh")
    assert view.cups == view.parts == ()
