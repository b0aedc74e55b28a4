"""Keys that change a running day show what they do to the closing before it is taken."""

from pathlib import Path

import pytest
from app_driver import begin_day, press, running, said
from app_driver import workshop as make_workshop

from layup.app.keys import ACTIONS
from layup.app.prompts import Ask, Choose
from layup.session.clock import ManualClock


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return make_workshop(tmp_path)


def asked(app) -> str:
    assert isinstance(app.screen, Ask | Choose)
    return app.screen.title_text


async def test_who_comes_and_leaves_and_a_step_left_out_are_asked_with_the_closing_they_make(shop):
    async with running(shop, clock=ManualClock()) as (app, pilot):
        await begin_day(app, pilot, "enter", "h", "enter", "b", "minus")
        assert asked(app).startswith("Somebody left: 1 at the bench\ncloses ")
        await press(app, pilot, "n")
        assert app.day.state.people == 2
        for yes in ("y", "enter"):
            await press(app, pilot, "minus", "y")
            assert app.day.state.people == 1
            await press(app, pilot, "minus")
            assert "one is at the bench at least" in said(app)
            await press(app, pilot, "plus", yes)
            assert app.day.state.people == 2
        skipped = app.day.state.step_now
        await press(app, pilot, "comma", "1", "1", "y")
        assert app.day.state.step_now.number != skipped.number


async def test_a_step_is_left_out_merged_and_added_by_its_key_in_a_list(shop):
    async with running(shop, clock=ManualClock()) as (app, pilot):
        await begin_day(app, pilot)
        steps = app.day.state.steps
        key = next(action.key for action in ACTIONS if action.name == "change_work")
        await press(app, pilot, "b", key, "1", "2")
        assert asked(app).startswith(f"Leave out: {steps[1].plan.name}\ncloses ")
        await press(app, pilot, "y")
        assert app.day.state.step(steps[1].number).skipped_s is not None
        await press(app, pilot, key, "2", "1", "y")
        assert app.day.state.step(steps[0].number).merged_into == steps[2].number
        await press(app, pilot, key, "3", "1", *"Patch", "enter", *"6", "enter", "enter")
        assert asked(app).startswith("Add: Patch, 6 min\ncloses ")
        await press(app, pilot, "y")
        added = app.day.state.step_now
        assert (added.plan.name, added.plan.planned_s, added.mix_g) == ("Patch", 360.0, 0.0)
        await press(app, pilot, key, "4" if app.day.in_cup() else "escape")
        await press(app, pilot, "u")
        assert app.day.state.step(added.number) is None


async def test_mix_left_in_a_cup_is_asked_in_grams_and_says_why_it_is_not_counted(shop):
    async with running(shop, clock=ManualClock()) as (app, pilot):
        await begin_day(app, pilot)
        app.day.read_scale(1, "")
        app.day.hardener_in(1)
        app.day.read_scale(1, "")
        key = next(action.key for action in ACTIONS if action.name == "change_work")
        await press(app, pilot, "b", key, "4")
        assert asked(app) == "Batch 1: how much is left in its cup?"
        await press(app, pilot, *["backspace"] * 5, *"60", "enter")
        assert "batch 1 is for step" in said(app)
        last = max(app.day.state.batch(1).plan.steps)
        while app.day.state.step_now.number != last:
            assert app.day.step_done().done
        before_g = app.day.state.batch(2).plan.mass_g
        await press(app, pilot, key, "4", *["backspace"] * 5, *"60", "enter")
        assert asked(app).startswith("Batch 1: 60 g left\ncloses ")
        assert "batch 2: " in asked(app)
        await press(app, pilot, "y")
        assert app.day.state.batch(2).plan.mass_g == pytest.approx(before_g - 40.0)
