"""A batch off ratio, or one whose scale nobody read, does not go on the part without being asked about."""

import json
from pathlib import Path

import pytest
from app_driver import begin_day, logged, press, running, said, words
from app_driver import workshop as make_workshop

from layup.app.prompts import Choose
from layup.bench.scale_readings import ScaleReadings
from layup.files.durable import JOURNAL
from layup.review.review import review
from layup.session.archive import stored_session
from layup.session.batch_events import BatchPouredOut, StepDone


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return make_workshop(tmp_path)


LEAN = (*"302", "enter", "h", *"372", "enter", "b")
"""Keys at the scale: 302 g of resin, then 70 g of hardener, where 90.6 g were due."""


def poured_out(app) -> list[BatchPouredOut]:
    return [record for record in app.day.state.records if isinstance(record, BatchPouredOut)]


def card(app) -> str:
    return words(app, "#bench-main")


async def test_a_batch_off_ratio_stays_in_its_cup_until_somebody_says_yes_and_is_marked_wherever_it_is_shown(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, *LEAN)
        assert "OFF RATIO" in card(app), "the mark stands while it can still be put right"
        for leave in ("escape", "enter", "n"):
            await press(app, pilot, "o")
            assert isinstance(app.screen, Choose)
            assert "22.7 % too little hardener" in app.screen.title_text
            assert "ADD 21 g HARDENER" in app.screen.title_text
            assert "SCALE TO 393" in app.screen.title_text
            await press(app, pilot, leave)
            assert not poured_out(app), leave
            assert app.day.state.batch(1).status == "in the cup"
        assert "stays in its cup" in said(app)
        await press(app, pilot, "o", "y")
        assert app.day.state.batch(1).status == "on the part"
        assert "OFF RATIO" in card(app)
        assert "batch 1 on the part, OFF RATIO" in logged(app)
        folder = app.day.folder
    assert json.loads((folder / JOURNAL).read_text(encoding="utf-8").splitlines()[-1])["despite"] == "off ratio"
    (finding,) = [one for one in review(stored_session(folder)).findings if one.cause == "off ratio"]
    assert finding.certainty == "certain"
    assert any("OFF RATIO" in one.words for one in finding.evidence)


async def test_a_step_done_with_a_batch_off_ratio_is_asked_about_once_and_undo_takes_the_answer_back(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, *LEAN, "d")
        assert isinstance(app.screen, Choose)
        await press(app, pilot, "enter")
        assert app.day.state.steps[0].done_s is None
        await press(app, pilot, "d", "y", "u", "d")
        assert isinstance(app.screen, Choose), "undo took the answer back with the step"
        await press(app, pilot, "y")
        assert app.day.state.steps[0].done_s is not None
        assert "OFF RATIO" in logged(app)
        await press(app, pilot, "d", "y", "o")
        assert "is stirred until" in app.screen.title_text, "that it is still stirred is asked, and nothing else"
        await press(app, pilot, "y")
        assert app.screen is app.base, "answered for this reading"
        assert app.day.state.batch(1).status == "on the part"


async def test_put_right_it_goes_on_the_part_unasked_and_a_new_reading_is_judged_anew(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, *LEAN, "d", "y", "m", *"393", "enter", "b")
        assert "OFF RATIO" not in card(app)
        await press(app, pilot, "d", "y", "o")
        assert "is stirred until" in app.screen.title_text, "that it is still stirred is asked, and nothing else"
        await press(app, pilot, "y")
        assert app.day.state.batch(1).status == "on the part"
        assert app.screen is app.base


async def test_an_unread_batch_is_asked_about_and_marked_and_found_by_the_review(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter", "h", "b")
        assert "UNREAD" in card(app)
        await press(app, pilot, "o")
        assert "hardener was not read" in app.screen.title_text
        assert f"{app.day.readings(1).next_g:g} g" in app.screen.title_text
        await press(app, pilot, "escape")
        assert not poured_out(app)
        await press(app, pilot, "d", "y", "o", "y")
        assert any(isinstance(record, StepDone) for record in app.day.state.records)
        assert app.day.state.batch(1).status == "on the part"
        assert "UNREAD" in card(app)
        assert "UNREAD" in logged(app)
        folder = app.day.folder
    (finding,) = [one for one in review(stored_session(folder)).findings if one.cause == "ratio unread"]
    assert "Batch 1" in finding.words


async def test_a_sum_read_over_resin_that_nobody_read_leaves_the_batch_unread(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "h", "enter", "b", "o")
        assert "resin was not read" in app.screen.title_text
        await press(app, pilot, "y")
        assert "UNREAD" in card(app)


def test_a_correction_that_the_cup_cannot_hold_names_a_larger_cup():
    readings = ScaleReadings(1, (300.0, 90.0), (100.0, 30.0), cup_g=380.0, poured_g=(302.0, 70.0), clock_runs=True)
    assert "393 > 380 g cup: use a larger" in readings.doubt_words()
    assert "ADD 21 g HARDENER → SCALE TO 393" in readings.doubt_words()
