"""The dry run by keys, from Stack and back, and a day at speed as the app marks it."""

import argparse
from pathlib import Path

import pytest
from app_driver import begin_day, press, running, workshop
from textual.widgets import Static

from layup.app.prompts import Choose
from layup.app.shell import TopLine
from layup.bench.rehearsal import FastClock, Play
from layup.commands import rehearse
from layup.errors import InputError
from layup.files.workshop import Workshop, demo_root
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
        for place in "pb":
            await press(app, pilot, place)
            clock.advance(2.0)
            app.tick()
            assert app.place.act_words() == "end", "nothing else is left to do, here or there"
        await press(app, pilot, "enter", "escape")
        assert app.day is not None, "who thinks again leaves the question"
        await press(app, pilot, "enter", "enter")
        assert app.day is None
        assert app.place.id == "stack"
        assert app.planner.figures.plan.crew.minutes_from.startswith("your dry run of")
        assert "from your dry run of" in str(app.base.query_one(TopLine).content)


async def test_a_dry_run_is_ended_by_its_letter_while_leaving_and_not_asked_about_again(tmp_path: Path) -> None:
    async with running(workshop(tmp_path)) as (app, pilot):
        await press(app, pilot, "d", "y", "enter")
        assert app.day is not None
        await press(app, pilot, "q", "f")
        assert app.day is None
        assert app.place.id == "stack"


async def test_a_day_at_speed_begins_at_once_and_says_play_on_every_screen(tmp_path: Path) -> None:
    clock = ManualClock()
    root = workshop(tmp_path)
    play = Play(20.0, ["cold"], Workshop(demo_root()))
    async with running(root, clock=FastClock(clock, 20.0), at_speed=play) as (app, pilot):
        assert app.day is not None
        assert app.day.plan.crew.minutes_from == "press days", "a crew plays at its own pace"
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


async def test_a_dry_run_asked_for_beside_an_open_press_day_is_a_dry_run_of_its_own(tmp_path: Path) -> None:
    root, clock = workshop(tmp_path), ManualClock()
    async with running(root, clock=clock) as (app, pilot):
        await begin_day(app, pilot)
        assert app.day is not None
        real = app.day.folder
    before = (real / "journal.jsonl").read_bytes()
    async with running(root, clock=clock, plan="touring-skis", begins_with="dry_run") as (app, pilot):
        assert app.day is None, "the open press day is not gone on with"
        await press(app, pilot, "y")
        assert app.day is not None
        assert app.day.is_dry
        assert "DRY RUN" in str(app.base.query_one(TopLine).content)
        dry = app.day.folder
    assert dry != real
    async with running(root, clock=clock, plan="touring-skis", begins_with="dry_run") as (app, pilot):
        assert app.day is not None
        assert app.day.folder == dry, "the open dry run goes on"
    assert (real / "journal.jsonl").read_bytes() == before


async def test_leaving_a_day_for_play_promises_to_keep_nothing(tmp_path: Path) -> None:
    async with running(workshop(tmp_path), at_speed=Play(20.0)) as (app, pilot):
        await press(app, pilot, "q")
        assert isinstance(app.screen, Choose)
        told = " ".join(words for _, _, words in app.screen.choices)
        assert "nothing is kept" in told
        assert "every entry is kept" not in told
