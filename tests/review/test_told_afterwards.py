"""A day told afterwards is reviewed, timed and learnt from as one that was logged as it went."""

import random
from pathlib import Path

import pytest
from simulate.mishaps import MISHAPS
from simulate.shop import Day, Script, Truth, desk_for, play, workshop, write

from layup.bench.opening import begin
from layup.review.pace import worked_in
from layup.review.review import review
from layup.session.archive import stored_session
from layup.session.clock import ManualClock


def on_paper(root: Path, day: Day, script: Script) -> Path:
    """Write a day in which nothing was logged at the bench, but all of it afterwards, the last thing first."""
    planner = desk_for(root, day)
    clock = ManualClock(day.start)
    press = begin(planner, script.figures, clock)
    journal = press.source
    clock.advance(script.closed_s + 7200.0)
    for at_s, event in sorted(script.events, key=lambda timed: -timed[0]):
        journal.append(event, at_s)
    assert not journal.state.misfits, journal.state.misfits
    press.close()
    return press.folder


@pytest.mark.parametrize("name", sorted(MISHAPS)[:2])
def test_a_day_entered_from_paper_is_reviewed_like_one_logged_at_the_bench(tmp_path: Path, name: str):
    mishap = MISHAPS[name]
    found = []
    for place, kept in (("bench", write), ("paper", on_paper)):
        root = workshop(tmp_path / place)
        figures = desk_for(root, mishap.day).figures
        assert figures is not None
        script = mishap.mishap(play(figures, mishap.day, Truth(), random.Random(3)))
        found.append(review(stored_session(kept(root, mishap.day, script))))
    bench, paper = found
    assert paper.track == bench.track
    assert paper.verdict == bench.verdict
    assert [one.words for one in paper.findings] == [one.words for one in bench.findings]
    assert worked_in(paper.stored.state, paper.stored.plan) == worked_in(bench.stored.state, bench.stored.plan)
