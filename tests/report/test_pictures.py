"""Pictures made of characters: true to scale, and never wider than they are told to be."""

from dataclasses import replace

import pytest
from command_line import assert_no_wider
from hypothesis import example, given, settings
from hypothesis import strategies as st
from plan_examples import FAST, PLAN, SLOW

from layup.chemistry.band import predict_band
from layup.chemistry.calibration import calibrate
from layup.chemistry.prediction import predict
from layup.chemistry.vessel import Vessel
from layup.planning.fit import fit_of
from layup.planning.plan import Crew, Shop
from layup.planning.planner import PlanResult
from layup.report.pictures import batch_lines, course_picture, gantt, life_table, window_picture

WIDTHS = st.integers(12, 140)
SLOW_CURE, FAST_CURE = calibrate(SLOW), calibrate(FAST)


@pytest.fixture(scope="module")
def planned():
    """Return a plan that fits and one that does not."""
    fitting = PlanResult(PLAN, SLOW, SLOW_CURE, Shop(293.15))
    hurried = PlanResult(replace(PLAN, crew=Crew(people=1)), FAST, FAST_CURE, Shop(303.15))
    answers = fitting, hurried
    assert [fit_of(answer).works for answer in answers] == [True, False]
    return answers


# --- The plan


@settings(max_examples=80, deadline=None)
@given(WIDTHS)
def test_the_day_fits_the_width_and_shows_every_batch(planned, width):
    for what in planned:
        day = what.timeline
        rows = [*day.batches, day.closing]
        lines = gantt(day, width=width)
        assert_no_wider("\n".join(lines), max(width, len("Close the press") + 2))
        for row, line in zip(rows, lines, strict=False):
            assert line.startswith(f"{row.label} ")
            assert line.count("┃") == 1
        assert "┃ press by" in lines[-1]


def test_the_mark_stands_where_the_press_must_be_closed(planned):
    for what in planned:
        day = what.timeline
        line = gantt(day, width=100)[0]
        gutter = len("Close the press ")
        end_s = max(day.press_by_s, day.closed_s) * 1.05
        assert line.index("┃") == gutter + int(day.press_by_s / end_s * (100 - gutter))


@settings(max_examples=80, deadline=None)
@example(12, 309.5)
@given(WIDTHS, st.floats(250.0, 340.0))
def test_the_window_fits_the_width_and_points_at_today(planned, width, today_K):
    for what in planned:
        lines = window_picture(replace(what.window, today_K=today_K), width=width)[1:]
        assert_no_wider("\n".join(lines), max(width, len("◀ today -23 °C")))
        mark = lines[-1].strip()
        assert f"today {today_K - 273.15:.0f} °C" in mark
        left, right = what.window.samples[0].temperature_K, what.window.samples[-1].temperature_K
        if today_K < left - 1:
            assert mark.startswith("◀")
        elif today_K > right + 1:
            assert mark.endswith("▶")
        elif left <= today_K <= right:
            assert "▲" in mark


@pytest.mark.parametrize("today_C", [5, 12, 20, 28, 35])
def test_today_stands_above_its_own_number_on_the_axis(planned, today_C):
    *_, works, axis, mark = window_picture(replace(planned[0].window, today_K=today_C + 273.15), width=80)
    samples = planned[0].window.samples
    column = mark.index("▲")
    assert works[column] == ("━" if samples[today_C - 5].works else "x")
    if today_C % 5 == 0:
        assert axis[column:].startswith(f"{today_C}")


def test_the_words_of_a_window_tell_its_edges(planned):
    window = planned[0].window
    words = window_picture(window, width=80)[0]
    assert words.startswith(f"TEMPERATURE WINDOW {window.low_K - 273.15:.0f} to {window.high_K - 273.15:.0f} °C")
    late = tuple(replace(sample, slack_s=-60.0, works=False) for sample in window.samples)
    none = window_picture(replace(window, samples=late, low_K=None, high_K=None, cold_limits=()), width=80)[0]
    assert none == "TEMPERATURE WINDOW: none, it closes in time at no temperature."


def test_damp_air_alone_is_not_said_to_be_a_matter_of_time():
    damp = PlanResult(PLAN, SLOW, SLOW_CURE, Shop(307.15, relative_humidity=0.98)).window
    assert (damp.low_K, damp.high_K) == (None, None)
    in_time = [sample.temperature_K for sample in damp.samples if sample.slack_s is not None and sample.slack_s >= 0.0]
    assert in_time
    assert window_picture(damp, width=80)[0] == (
        f"TEMPERATURE WINDOW: none, it closes in time at {in_time[0] - 273.15:.0f} to {in_time[-1] - 273.15:.0f} °C, "
        "but: Below 37 °C today's air comes within 3 K of its dew point: surfaces get damp."
    )


def test_every_batch_has_its_line(planned):
    for what in planned:
        head, *lines = batch_lines(what.split)
        assert len(lines) == len(what.split.batches)
        for line, batch in zip(lines, what.split.batches, strict=True):
            assert line.split()[:3] == [str(batch.number), f"{batch.mass_g:.0f}", "g"]
            assert len(line) <= len(head)


# --- The course of a mix


@settings(max_examples=20, deadline=None)
@given(
    st.sampled_from([Vessel.cup(), Vessel.film(), Vessel.tray(0.008)]),
    st.floats(20.0, 2000.0),
    st.floats(278.15, 313.15),
    st.floats(278.15, 313.15),
    st.integers(1, 120),
    st.integers(2, 12),
)
def test_a_course_fits_its_width_in_every_vessel(vessel, mass_g, start_K, shop_K, width, height):
    lines = course_picture(SLOW_CURE, vessel, mass_g, start_K, shop_K, width=width, height=height)
    assert_no_wider("\n".join(lines[1 : 1 + height]), max(width, 13))
    assert len(lines) == 2 * height + 4
    assert lines[0] == "conversion, likely and 80 % band"


def test_the_rows_of_the_limits_are_named():
    lines = course_picture(SLOW_CURE, Vessel.film(), 100.0, 293.15, 293.15, width=72, height=10)
    kinetics = SLOW_CURE.kinetics
    for name, limit in (("gelled", kinetics.conversion_gel), ("thick", kinetics.conversion_working)):
        row = next(i for i, line in enumerate(lines[1:11]) if line.strip().startswith(name))
        assert (9 - row) / 10 <= limit < (10 - row) / 10


@settings(max_examples=15, deadline=None)
@given(st.floats(50.0, 800.0), st.floats(283.15, 303.15))
def test_a_table_holds_what_the_model_says(mass_g, shop_K):
    table = life_table(SLOW_CURE, Vessel.cup(), mass_g, shop_K)
    for kelvin, row in zip(table.temperatures_K, table.pot_life_min, strict=True):
        for mass, minutes in zip(table.masses_g, row, strict=True):
            life = predict(SLOW_CURE.kinetics, Vessel.cup(), mass_g=mass, start_K=kelvin, ambient=kelvin)
            assert minutes == pytest.approx(life.working_s / 60)


def test_a_films_table_tells_how_long_it_stays_open():
    table = life_table(SLOW_CURE, Vessel.film(), 100.0, 293.15)
    band = predict_band(SLOW_CURE, Vessel.film(), mass_g=5.0, start_K=293.15, ambient=293.15)
    assert table.masses_g == ()
    assert table.pot_life_min[2] == pytest.approx((band.life.open_s / 60,))


def test_a_table_has_no_number_where_the_model_does_not_reach():
    table = life_table(SLOW_CURE, Vessel.cup(), 100.0, 235.0)
    assert table.pot_life_min[0] == (None,) * 5
    assert all(minutes for minutes in table.pot_life_min[-1])
