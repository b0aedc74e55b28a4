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
from layup.report.pictures import (
    Span,
    bars,
    batch_lines,
    columns,
    course_picture,
    gantt,
    life_table,
    line_plot,
    nice_step,
    time_axis,
    window_picture,
)

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


# --- Bars


def test_a_bar_stands_where_its_span_is():
    lines = bars([("a", [Span(0, 5, "#")]), ("long", [Span(5, 10, "=")])], end=10, width=15)
    assert lines == ["a    #####     ", "long      ====="]


def test_a_later_span_covers_an_earlier_one_and_the_mark_covers_both():
    assert bars([("x", [Span(0, 10, "-"), Span(4, 6, "#")])], end=10, width=12, mark=5) == ["x ----#┃----"]


@pytest.mark.parametrize("end", [5.0, 5.001])
def test_a_span_too_short_to_see_is_still_one_character(end):
    assert bars([("x", [Span(5, end, "#")])], end=10, width=12) == ["x      #    "]


@given(
    st.lists(st.tuples(st.floats(0, 100), st.floats(0, 100)).map(sorted), max_size=4),
    WIDTHS,
    st.none() | st.floats(0, 100),
)
def test_bars_are_as_wide_as_asked(spans, width, mark):
    lines = bars([("row", [Span(begin, end, "#") for begin, end in spans])], end=100, width=width, mark=mark)
    assert [len(line) for line in lines] == [width]


# --- Axis


def test_a_tick_stands_below_the_moment_it_names():
    assert (
        time_axis(end_min=60, width=64, label_width=4) == "    0         10        20        30        40        50 min"
    )
    bar = bars([("abc", [Span(30, 60, "#")])], end=60, width=64)[0]
    assert bar.index("#") == time_axis(end_min=60, width=64, label_width=4).index("30")


@given(st.floats(1e-3, 1e5), st.integers(1, 160), st.integers(0, 30))
def test_the_axis_fits_and_its_numbers_are_whole(end_min, width, label_width):
    axis = time_axis(end_min=end_min, width=width, label_width=label_width)
    assert len(axis) <= max(width, label_width + 1)
    if axis:
        numbers = [float(word) for word in axis.removesuffix(" min").split()]
        assert numbers[0] == 0
        assert numbers == sorted(set(numbers))
        assert numbers[-1] <= end_min


@given(st.floats(1e-6, 1e9))
def test_a_nice_step_is_one_two_or_five_and_not_below_what_was_asked(rough):
    step = nice_step(rough)
    assert rough * 0.999 <= step <= 2.51 * rough
    assert any(step == pytest.approx(digit * 10.0**power) for digit in (1, 2, 5) for power in range(-7, 11))


# --- Columns and lines


def test_columns_are_as_high_as_their_values():
    assert columns([None, 0, -1, 0.5, 1, 2, 3, 4, 9], top=4, rows=2) == ["      ▄██", "   ▂▄████"]
    assert columns([4], top=4, rows=2) == ["█", "█"]
    assert columns([2], top=4, rows=2) == [" ", "█"]
    assert columns([1], top=4, rows=2) == [" ", "▄"]
    assert columns([None, 0, -3], top=4, rows=2) == ["   ", "   "]


def test_a_line_goes_from_corner_to_corner():
    lines = line_plot([[(0, 0), (10, 10)]], x_range=(0, 10), y_range=(0, 10), width=10, height=5)
    assert [len(line) for line in lines] == [10] * 5
    assert lines[-1][0] != " "
    assert lines[0][-1] != " "
    for row, line in enumerate(lines):
        assert len(line) - len(line.rstrip()) == pytest.approx(2 * row, abs=1)


def test_what_lies_outside_draws_nothing():
    lines = line_plot([[(20, 20), (30, 30)], [(-5, 5), (-1, 5)]], x_range=(0, 10), y_range=(0, 10), width=8, height=4)
    assert lines == [" " * 8] * 4


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
