"""The dry run by keys, from Stack and back, and a day at speed as the app marks it."""

import argparse
from pathlib import Path

import pytest
from app_driver import press, running, workshop
from textual.widgets import Static

from layup.app.shell import TopLine
from layup.bench.rehearsal import FastClock, Play
from layup.commands import rehearse
from layup.errors import InputError
from layup.session.clock import ManualClock


async def test_d_on_stack_begins_a_dry_run_and_its_end_changes_the_plan(tmp_path: Path) -> None:
    clock = ManualClock()
    async with running(workshop(tmp_path), clock=clock) as (app, pilot):
        await press(app, pilot, "d", "y")
        assert app.place.id == "bench"
        for place in "smbpl":
            await press(app, pilot, place)
            assert "DRY RUN" in str(app.base.query_one(TopLine).content), place
        await press(app, pilot, "b")
        for _ in range(14):
            clock.advance(300.0)
            app.tick()
            await press(app, pilot, "enter")
        assert app.day is not None
        assert app.day.state.closed_s is not None
        clock.advance(2.0)
        app.tick()
        await press(app, pilot, "enter", "y")
        assert app.day is None
        assert app.place.id == "stack"
        assert app.planner.figures.plan.crew.minutes_from.startswith("your dry run of")
        assert "from your dry run of" in str(app.base.query_one(TopLine).content)


async def test_a_day_at_speed_begins_at_once_and_says_play_on_every_screen(tmp_path: Path) -> None:
    clock = ManualClock()
    root = workshop(tmp_path)
    async with running(root, clock=FastClock(clock, 20.0), at_speed=Play(20.0, ["cold"])) as (app, pilot):
        assert app.day is not None
        for place in "smbpl":
            await press(app, pilot, place)
            assert "PLAY" in str(app.base.query_one(TopLine).content), place
        clock.advance(50.0)
        app.tick()
        assert "the shop is colder" in str(app.base.query_one("#said", Static).content)


@pytest.mark.parametrize(
    ("words", "what"), [(["--fast", "0.5"], "out of range"), (["--mishap", "cold"], "needs a day")]
)
def test_what_cannot_be_rehearsed_is_said(tmp_path: Path, words: list[str], what: str) -> None:
    parser = argparse.ArgumentParser()
    rehearse.add_arguments(parser)
    root = workshop(tmp_path)
    with pytest.raises(InputError, match=what):
        rehearse.run(parser.parse_args(["touring-skis", "--workshop", str(root), *words]))
