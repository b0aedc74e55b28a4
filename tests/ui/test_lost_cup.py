"""A half-used cup is lost: what of it is on the part counts the same for the new plan, Bench and the review."""

from pathlib import Path

import pytest
from app_driver import begin_day, bench, logged, press, running, said
from app_driver import workshop as make_workshop

from layup.app.prompts import Ask, Choose
from layup.bench.opening import day_state
from layup.chemistry.looks import LOOKS
from layup.review.review import review
from layup.session.archive import stored_session
from layup.session.batch_events import BatchLost
from layup.session.clock import ManualClock


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return make_workshop(tmp_path)


MIXED = ("enter", "h", "enter", "b")


def lost(app) -> BatchLost:
    return next(record for record in reversed(app.day.state.records) if isinstance(record, BatchLost))


async def test_a_half_used_cup_is_lost_and_planned_anew_and_nothing_lacks_mix(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, *MIXED, "d", "y", "d", "y")
        cup = app.day.state.batch(1)
        await press(app, pilot, "x", "1")
        assert isinstance(app.screen, Ask)
        assert f"{cup.poured_g:.0f} g: how much of it stays on the part?" in app.screen.title_text
        usual_g = float(app.screen.first_value)
        assert 0.0 < usual_g < cup.poured_g
        await press(app, pilot, "enter", "y")
        assert lost(app).laid_g == pytest.approx(usual_g, abs=0.5)
        done = day_state(app.day).done
        assert done[1] == done[2] == 1.0, "whole grams on the screen take nothing from a step that is done"
        assert "without resin" not in bench(app)
        assert f"{usual_g:.0f} g of it on the part" in logged(app)
        assert app.day.press_by_s is not None, "what is on the part is open, and closes"
        while app.day.next_to_mix() is not None:
            await press(app, pilot, "b", "w", "enter", "h", "enter", "b")
            clock.advance(300)
            await press(app, pilot, "o")
        while app.day.state.step_now is not None:
            clock.advance(60)
            await press(app, pilot, "d")
        await press(app, pilot, "c")
        assert app.day.state.closed_s is not None, "nothing is missing, so nothing is asked"
        folder = app.day.folder
    assert not [one for one in review(stored_session(folder)).findings if one.cause == "starved"]


async def test_a_cup_counts_for_the_new_plan_with_what_is_left_in_it_or_is_said_to_be_laid_of_it(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, *MIXED)
        (full,) = day_state(app.day).in_cup
        await press(app, pilot, "d", "y", "d", "y")
        (used,) = day_state(app.day).in_cup
        laid_g = app.day.balance.of_batch(1).laid_g
        assert laid_g > 0.0
        loss = app.day.plan.losses.per_batch_g / app.day.state.batch(1).mass_g
        assert used.left_g == pytest.approx(full.left_g - laid_g * (1.0 - loss))
        whole_g = app.day.state.batch(1).poured_g
        await press(app, pilot, "x", "1", *["backspace"] * 5, *"900", "enter")
        assert isinstance(app.screen, Ask), "more than the cup held is refused"
        await press(app, pilot, *["backspace"] * 3, *"0", "enter", "n")
        assert lost(app).laid_g == 0.0
        assert "without resin" in bench(app)
        done = day_state(app.day).done
        assert done[1] == 0.0, "the step is done, but none of its mix is there"
        await press(app, pilot, "u", "x", "1", *["backspace"] * 5, *"50", "percent_sign", "enter", "n")
        assert lost(app).laid_g == pytest.approx(0.5 * whole_g)
        assert "50 %" not in said(app)


async def test_a_cup_said_to_gel_seconds_after_it_was_mixed_is_asked_about_and_enter_alone_loses_none(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter", "h", "enter")
        clock.advance(4)
        await press(app, pilot, "x", "enter")
        assert app.day.state.batch(1).lost_s is None
        assert not isinstance(app.screen, Choose), "Enter takes the choice that loses nothing"
        await press(app, pilot, "b", "x", "1")
        assert "gelled, after 4 s? Foretold" in app.screen.title_text
        asked = app.screen.title_text
        await press(app, pilot, "enter", "e", "4")
        assert asked == app.screen.title_text, "as a look it is asked the same, with what it does to the closing"
        await press(app, pilot, "enter")
        assert app.day.state.batch(1).lost_s is None
        assert "SCRAPE" not in bench(app)
        await press(app, pilot, "x", "1", "y")
        assert isinstance(app.screen, Ask)
        await press(app, pilot, "enter", "n")
        assert lost(app).why == "gelled in the cup"


async def test_how_a_batch_looks_is_asked_with_each_word_under_its_number(shop):
    async with running(shop, clock=ManualClock()) as (app, pilot):
        await begin_day(app, pilot, "enter", "h", "enter")
        await press(app, pilot, "b", "e")
        assert [(key, word) for key, word, _ in app.screen.choices] == [
            (str(at), word) for at, word in enumerate(LOOKS, 1)
        ]


async def test_a_cup_that_gels_as_foretold_or_later_is_not_asked_about(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter", "h", "enter")
        for over_s in (0.0, 7200.0):
            clock.advance(app.day.alive[1].over_s.likely - app.day.now_s() + over_s)
            await press(app, pilot, "x", "1")
            assert isinstance(app.screen, Ask), over_s
            await press(app, pilot, "escape")
