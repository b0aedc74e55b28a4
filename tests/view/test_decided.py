"""When a day was decided: known by construction on days that are scripted for it."""

import random
import re
from dataclasses import replace
from pathlib import Path

import pytest
from simulate.mishaps import WARM, changed, cup_left_standing, later
from simulate.shop import Script, Truth, desk_for, play, workshop, write

from layup.bench.replay import NO_WAY, Decided, Replay, decided, ways_left
from layup.files.workshop import Workshop
from layup.planning.crew import pace_of
from layup.review.review import review
from layup.session.archive import stored_session
from layup.session.batch_events import BatchPouredOut
from layup.session.clock import ManualClock


def script() -> Script:
    figures = desk_for(Path(), WARM).figures
    assert figures is not None
    return play(figures, WARM, Truth(step_noise=0.0), random.Random(1))


def turned(root: Path, day: Script) -> tuple[Decided | None, Replay]:
    folder = write(workshop(root), WARM, day)
    replay = Replay(folder, Workshop(root), ManualClock())
    return decided(replay, review(stored_session(folder))), replay


def test_a_day_in_time_was_never_decided(tmp_path: Path):
    assert turned(tmp_path, script())[0] is None


def test_a_press_that_would_not_shut_decided_the_day_when_the_closing_no_longer_fitted(tmp_path: Path):
    """All is laid; from then on nothing but closing is left; two helpers more are the most that the planner knows."""
    late = later(script(), script().closed_s - 1.0, 180 * 60.0)
    late = replace(late, closed_s=late.closed_s + 180 * 60.0)
    found, replay = turned(tmp_path, late)
    assert found is not None
    replay.view_at(found.way_s)
    day = replay.day
    four = pace_of(replace(day.crew, people=day.state.people + 2)).full
    last_s = (day.press_by_s or 0.0) - day.plan.closing.bench_s / four
    assert found.at_s - 60.0 <= last_s < found.at_s
    assert (found.why, found.way) == (NO_WAY, "two helpers more, 4 people in all")
    replay.view_at((day.press_by_s or 0.0) - day.closing_s - 1.0)
    assert next(ways_left(day)) == "close the press"


def test_a_cup_left_standing_decided_the_day_at_the_latest_when_it_was_spread(tmp_path: Path):
    """Until then it could be carried outside, and mixed anew while the part was open."""
    day = cup_left_standing(script())
    poured_s = next(at_s for at_s, event in day.events if isinstance(event, BatchPouredOut) and event.batch == 1)
    found, _ = turned(tmp_path, day)
    assert found is not None
    assert found.at_s <= poured_s
    assert re.search(r"cups? 1\b", found.way)


def test_a_batch_far_off_ratio_decided_the_day_when_it_went_on_the_part(tmp_path: Path):
    def change(at_s, event):
        if event.event in ("pour-read", "batch-mixed") and event.batch == 2 and event.hardener_g:
            return [(at_s, event.model_copy(update={"hardener_g": round(event.hardener_g * 1.3)}))]
        return [(at_s, event)]

    day = changed(script(), change)
    poured_s = next(at_s for at_s, event in day.events if isinstance(event, BatchPouredOut) and event.batch == 2)
    found, _ = turned(tmp_path, day)
    assert found is not None
    assert found.at_s == pytest.approx(poured_s, abs=1.0)
    assert found.why == "batch 2 went on the part off ratio"
    assert found.way.startswith(("cup 2 outside", "go on"))
