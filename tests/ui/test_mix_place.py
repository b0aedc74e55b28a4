"""Mix: one number that the scale must show, the clock that starts as hardener touches resin, and what is off ratio."""

from dataclasses import replace
from pathlib import Path

import pytest
from app_driver import at_each, begin_day, press, running, said, words
from app_driver import workshop as make_workshop
from gallery import text_in
from hypothesis import given
from hypothesis import strategies as st

from layup.app.shell import BigDigits
from layup.bench.scale_readings import POUR_S, ScaleReadings, usual_pour_s
from layup.planning.mix_sheet import verdict
from layup.session.clock import ManualClock
from layup.session.records import fold

CUP = ScaleReadings(1, (200.0, 60.0), (100.0, 30.0))
RESIN_IN = replace(CUP, poured_g=(200.0,))
OFF = replace(CUP, poured_g=(302.0, 98.0), cup_g=400.0, clock_runs=True)


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return make_workshop(tmp_path)


def digits(app) -> str:
    return app.query_one("#mix-digits", BigDigits).value


# -- the readings ------------------------------------------------------------------------------------------------------


def test_the_hardener_is_shown_as_the_sum_with_its_grams_and_what_is_good():
    assert (RESIN_IN.next_g, RESIN_IN.pour_g, RESIN_IN.good_g) == (260.0, 60.0, (259.0, 261.0))


def test_the_hardener_follows_the_resin_that_is_really_in():
    assert CUP.read("210").next_g == 273.0


@given(st.floats(20.0, 2000.0), st.floats(5.0, 120.0), st.sampled_from((0.1, 0.5, 1.0)), st.booleans())
def test_every_reading_that_is_called_good_is_on_ratio_and_the_next_ones_are_not(resin_g, parts, digit_g, tared):
    readings = replace(
        RESIN_IN, parts=(100.0, parts), poured_g=(round(resin_g),), readability_g=digit_g, tare_each=tared
    )
    good = readings.good_g
    if good is None:
        return
    for reading_g, word in ((good[0], True), (good[1], True), (good[0] - digit_g, False), (good[1] + digit_g, False)):
        if reading_g < readings.now_g:
            continue
        poured = readings.read(f"{reading_g:.1f}").poured_g
        assert (verdict(poured, readings.parts).word == "on ratio") is word


def test_an_addition_says_how_much_of_what_and_that_the_cup_is_too_small():
    assert OFF.add_words() == "ADD 25 g RESIN → SCALE TO 425"
    assert OFF.room_words == "425 > 400 g cup: use a larger"
    assert OFF.read("425").stage == "done"
    assert OFF.good_g == (419.0, 431.0)


def test_a_scale_zeroed_with_the_cup_on_it_counts_on_from_what_is_in():
    readings = RESIN_IN.zeroed()
    assert (readings.next_g, readings.pour_g, readings.good_g) == (60.0, 60.0, (59.0, 61.0))
    assert readings.read("60").poured_g == pytest.approx((200.0, 60.0))
    late = OFF.zeroed()
    assert late.next_g == pytest.approx(25.0)
    assert late.read("25").stage == "done"


@pytest.mark.parametrize(("typed", "asked"), [("260", False), ("200", False), ("199", True), ("0", True), ("", False)])
def test_a_reading_below_what_is_in_the_cup_is_a_scale_that_switched_off(typed, asked):
    assert bool(RESIN_IN.restarted(typed)) is asked
    assert not CUP.restarted(typed)


@pytest.mark.parametrize(
    ("readings", "typed", "asked"),
    [
        (CUP, "210", False), (CUP, "149", True), (CUP, "251", True),
        (RESIN_IN, "274", False), (RESIN_IN, "280", True), (RESIN_IN, "240", True), (RESIN_IN, "260", False),
    ],
)  # fmt: skip
def test_a_reading_is_asked_about_where_what_was_poured_is_a_quarter_off_not_where_the_sum_is(readings, typed, asked):
    assert bool(readings.odd(typed)) is asked


# -- the place ---------------------------------------------------------------------------------------------------------


async def test_enter_goes_from_resin_to_the_clock_to_the_hardener_to_the_verdict(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await begin_day(app, pilot)
        planned = app.day.state.batch(1).plan
        assert digits(app) == f"{planned.resin_g:.0f}"
        assert app.place.act_words() == "RESIN ON TARGET"
        assert "TARE CUP" in words(app, "#mix-tare")
        await press(app, pilot, *"280", "enter")
        assert digits(app) == "364"
        assert words(app, "#mix-side").splitlines()[:2] == ["= +84 g hardener", "363-365 is good"]
        assert words(app, "#mix-tare").strip() == "DO NOT TARE"
        assert app.place.act_words() == "HARDENER GOES IN"
        await press(app, pilot, "enter")
        assert app.day.state.batch(1).mixed_s == pytest.approx(app.day.now_s(), abs=1.0)
        assert words(app, "#keys").startswith("▶ ENTER HARDENER ON TARGET")
        clock.advance(50.0)
        await press(app, pilot, *"36")
        assert "328 g to go" in words(app, "#mix-bar")
        await press(app, pilot, "4")
        assert "on target" in words(app, "#mix-bar")
        await press(app, pilot, "enter")
        assert "✓ ON RATIO" in words(app, "#mix-head")
        assert digits(app) == "3:00"
        assert "✓ RESIN 280 g  ✓ HARDENER 84 g  ▸ STIR" in words(app, "#mix-steps")
        clock.advance(190.0)
        app.tick()
        assert "EMPTY CUP IN" in words(app, "#mix-head")
        assert "▓" in words(app, "#mix-clock")
        await press(app, pilot, "enter")
        assert app.place.id == "bench"


async def test_off_ratio_fills_the_panel_until_it_is_put_right(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter", "enter", *"390", "enter")
        panel = app.query_one("#mix-panel")
        assert panel.has_class("off")
        assert words(app, "#mix-head") == f"✗ {app.day.readings(1).add_words()}"
        assert digits(app) == f"{app.day.readings(1).next_g:g}"
        assert panel.background_colors[1] == app.query_one("#mix-steps").colors[3], "the panel is reversed"
        await press(app, pilot, "enter")
        assert not panel.has_class("off")
        assert "ON RATIO" in said(app)


async def test_a_reading_without_the_key_starts_the_clock_a_usual_pour_ago(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter")
        clock.advance(300.0)
        await press(app, pilot, *"365", "enter")
        day = app.day
        assert day.state.batch(1).mixed_s == pytest.approx(day.now_s() - POUR_S, abs=1.0)
        assert "its clock runs since" in said(app)


async def test_the_usual_pour_is_what_todays_pours_took(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await begin_day(app, pilot)
        assert usual_pour_s(app.day.state) == POUR_S
        await press(app, pilot, "enter", "enter")
        clock.advance(25.0)
        await press(app, pilot, "enter")
        assert usual_pour_s(app.day.state) == pytest.approx(25.0, abs=0.01)


async def test_a_scale_that_switched_off_is_tared_again_from_what_is_in_the_cup(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, *"280", "enter", "enter", "0", "enter")
        assert "Did the scale switch off?" in app.screen.title_text
        await press(app, pilot, "y")
        assert digits(app) == "84"
        assert words(app, "#mix-side").startswith("= +84 g hardener\n83-85 is good")
        with_offset = fold(app.day.state.records)
        assert with_offset.batch(1).zero_g == 280.0, "the journal keeps it: after a power cut the scale counts on"
        assert app.day.readings(1).next_g == 84.0
        await press(app, pilot, *"84", "enter")
        assert app.day.state.batch(1).mass_g == pytest.approx(364.0)
        assert "ON RATIO" in said(app)


async def test_number_tare_and_act_stand_whole_at_every_size_and_a_mistyped_reading_is_no_scale_that_switched_off(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "m")
        assert words(app, "#mix-title") == "No press day runs.   ▶ G  BEGIN IT", "the one next act with its key"
        await begin_day(app, pilot)
        await press(app, pilot, *"280", "enter", "enter")
        async for _ in at_each(app, pilot, ((40, 16), (80, 24), (120, 36), (160, 50))):
            shown = text_in(app, app.place.region)
            for wanted in ("DO NOT TARE", "= +84 g hardener", "BATCH 1/2"):
                assert wanted in shown
            big = app.query_one("#mix-digits", BigDigits)
            drawn = str(big.content).splitlines()
            assert drawn == ["364"] or len(drawn) in (5, 10, 15)
            assert len(drawn) <= big.size.height
            assert max(map(len, drawn)) <= big.size.width
        await press(app, pilot, *"36", "enter", "n", "4", "enter")
        assert app.day.state.batch(1).mass_g == pytest.approx(364.0)


async def test_a_large_screen_has_larger_digits_and_the_day_below_the_scale(shop):
    async with running(shop, size=(160, 50)) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "m", "enter")
        assert app.query_one("#mix-digits").size.height == 15
        shown = text_in(app, app.screen.region)
        assert "closed" in shown
        assert "Lower glass" in shown, "the steps to come"
        await press(app, pilot, "enter", "enter")
        assert text_in(app, app.query_one("#mix-clock").region).count("empty by") == 2, "in words and on its fan"
        await pilot.resize_terminal(80, 24)
        await press(app, pilot)
        assert app.query_one("#mix-digits").size.height == 5
        assert "Lower glass" not in text_in(app, app.screen.region)
