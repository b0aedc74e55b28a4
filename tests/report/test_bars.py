"""Bars, fans, strips and curves: exactly as wide as asked, true to scale, and never moving the wrong way."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layup.report.bars import (
    BAND,
    MARK,
    Span,
    bar,
    bars,
    column,
    columns,
    curve,
    fan,
    labels,
    line_plot,
    nice_step,
    strip,
    time_axis,
)

WIDTHS = st.integers(0, 160)
SHARES = st.floats(-2.0, 3.0)
MOMENTS = st.floats(-1e4, 1e5)
EIGHTHS = "▏▎▍▌▋▊▉█"


def filled(line):
    """Return how many eighths of a cell a bar fills."""
    return sum(EIGHTHS.index(cell) + 1 for cell in line if cell in EIGHTHS)


# --- A bar


@given(SHARES, WIDTHS)
def test_a_bar_is_as_wide_as_asked_and_fills_its_share(share, width):
    line = bar(share, width)
    assert len(line) == width
    assert line.rstrip() == line.replace(" ", "")
    if width:
        assert filled(line) == pytest.approx(min(max(share, 0.0), 1.0) * 8 * width, abs=1.0)


@given(SHARES, SHARES, WIDTHS)
def test_a_bar_never_shrinks_as_its_share_grows(one, other, width):
    assert filled(bar(min(one, other), width)) <= filled(bar(max(one, other), width))


@pytest.mark.parametrize(
    ("share", "shown"), [(-1, "    "), (0, "    "), (1e-6, "▏   "), (0.999, "███▉"), (1, "████"), (7, "████")]
)
def test_a_bar_is_empty_at_nothing_only_and_full_at_the_whole_only(share, shown):
    assert bar(share, 4) == shown


# --- A fan


@given(
    MOMENTS,
    MOMENTS,
    MOMENTS,
    MOMENTS,
    MOMENTS | st.just(float("inf")),
    MOMENTS,
    WIDTHS,
    st.sampled_from(["", "thick?"]),
)
def test_a_fan_is_as_wide_as_asked_whatever_its_moments(start, now, act_by, low, high, end, width, word):
    assert len(fan(start, now, act_by, low, high, end, width, word=word)) == width


@given(st.floats(0, 100), st.floats(0, 100), st.integers(20, 100))
def test_a_fan_fills_as_time_goes_by_and_its_marks_stay(one, other, width):
    before, after = (fan(0, now, 55, 60, 80, 100, width) for now in sorted((one, other)))
    assert filled(before) <= filled(after) + 8  # the mark takes a cell that was full
    assert before.index(MARK) == after.index(MARK) == column(55, 0, 100, width)


@given(st.integers(20, 100))
def test_the_band_of_a_fan_stands_between_its_edges(width):
    line = fan(0, 10, 55, 60, 80, 100, width)
    assert line.index(BAND) == pytest.approx(0.6 * width, abs=1)
    assert line.rindex(BAND) + 1 == pytest.approx(0.8 * width, abs=1)
    assert set(line[round(0.8 * width) + 1 :]) <= {" "}


def test_a_fan_reads_as_full_dots_band():
    assert fan(0, 30, 60, 70, 90, 100, 20) == "██████······┃·▓▓▓▓  "
    assert fan(0, 30, 70, 70, 90, 100, 20) == "██████········┃▓▓▓  "
    assert fan(0, 30, 60, 60, 100, 100, 20, word="thick?") == "██████······┃thick?▓"


def test_the_word_of_a_fan_stands_whole_in_its_band_or_not_at_all():
    assert "thick?" in fan(0, 10, 50, 60, 100, 100, 40, word="thick?")
    for now, width in ((10, 12), (70, 40), (100, 40)):
        assert not set("thick?") & set(fan(0, now, 50, 60, 100, 100, width, word="thick?"))


def test_a_band_too_narrow_to_see_is_still_one_cell():
    assert BAND in fan(0, 0, 20, 50, 50.1, 100, 20)
    assert BAND in fan(0, 0, 20, 99.9, 99.95, 100, 20)


# --- A strip


SPANS = st.lists(st.tuples(MOMENTS, MOMENTS, st.sampled_from(["", "cup", "part"])), max_size=5)


@given(SPANS, MOMENTS, MOMENTS, WIDTHS)
def test_a_strip_is_as_wide_as_asked(spans, start, end, width):
    line = strip([Span(min(a, b), max(a, b), "#", word) for a, b, word in spans], start, end, width)
    assert len(line) == width


@given(st.floats(0, 100), st.floats(0, 100), st.integers(1, 100))
def test_a_span_stands_where_its_time_is_and_is_never_lost(one, other, width):
    begin, end = sorted((one, other))
    line = strip([Span(begin, end, "#")], 0, 100, width)
    assert line.index("#") == column(begin, 0, 100, width)
    assert line.count("#") == pytest.approx((end - begin) / 100 * width, abs=2.0)  # each end falls into a cell


def test_what_lies_outside_a_strip_is_cut_or_left_out():
    assert (
        strip([Span(-50, 25, "a"), Span(75, 200, "b"), Span(-9, -5, "c"), Span(120, 130, "d")], 0, 100, 8) == "aa    bb"
    )


def test_a_word_stands_in_its_span_only_where_all_of_it_has_room():
    assert strip([Span(0, 50, "▓", "cup"), Span(50, 100, "░", "part")], 0, 100, 10) == "cup▓▓part░"
    assert strip([Span(0, 50, "▓", "cup"), Span(50, 100, "░", "part")], 0, 100, 8) == "cup▓░░░░"


# --- Words under an axis


@given(st.lists(st.tuples(st.floats(-10, 110), st.sampled_from(["now", "38 out", "47", "13:05"])), max_size=6), WIDTHS)
def test_labels_are_as_wide_as_asked_whole_and_in_place(marks, width):
    line = labels(marks, 0, 100, width)
    assert len(line) == width
    words = [word for _, word in marks]
    for word in line.replace("38 out", "38_out").split():
        assert word.replace("_", " ") in words
    if marks and 0 <= marks[0][0] <= 100 and len(marks[0][1]) <= width:
        at, word = marks[0]
        assert line[min(column(at, 0, 100, width), width - len(word)) :].startswith(word)


def test_the_first_label_has_the_room_where_two_would_touch():
    assert labels([(0, "now"), (50, "38 out"), (60, "gone"), (100, "47")], 0, 100, 20) == "now       38 out  47"
    assert labels([(10, "a"), (20, "b")], 0, 100, 10) == " a        "


# --- A curve


@given(st.lists(st.none() | st.floats(-1e6, 1e6), max_size=40), WIDTHS, st.integers(0, 8))
def test_a_curve_is_as_wide_and_as_high_as_asked(values, width, rows):
    lines = curve(values, width, rows)
    assert [len(line) for line in lines] == [width] * rows


def heights(lines):
    """Return the lowest dot of each column of dots, counted from below."""
    bits = ((0x40, 0x04, 0x02, 0x01), (0x80, 0x20, 0x10, 0x08))
    found = []
    for cells in zip(*lines, strict=True):
        for side in bits:
            dots = [
                4 * row + up
                for row, cell in enumerate(reversed(cells))
                for up, bit in enumerate(side)
                if cell != " " and (ord(cell) - 0x2800) & bit
            ]
            found.append(dots)
    return found


@given(st.lists(st.floats(0, 100), min_size=2, max_size=30), st.integers(1, 60), st.integers(1, 6))
def test_a_curve_of_rising_values_never_falls(values, width, rows):
    drawn = heights(curve(sorted(values), width, rows))
    assert all(drawn)
    tops = [max(dots) for dots in drawn]
    assert tops == sorted(tops)


def test_a_curve_has_its_ends_at_the_values_they_stand_for():
    drawn = heights(curve([0, 10], 20, 4))
    assert (min(drawn[0]), max(drawn[-1])) == (0, 15)
    halved = heights(curve([0, 5], 20, 4, low=0, high=10))
    assert max(halved[-1]) == 8
    assert max(max(dots) for dots in heights(curve([0, 50], 20, 4, low=0, high=10))) == 15


def test_where_a_curve_has_no_value_there_is_the_mark_of_it():
    lines = curve([None, None, 1, 2, None, None], 12, 2)
    assert lines[-1].startswith("×××")
    assert lines[-1].endswith("×××")
    assert "×" not in lines[0]
    assert curve([], 5, 2) == ("     ", "×××××")


def test_two_lines_of_a_plot_can_be_told_apart():
    flat = [[(0, 5), (10, 5)], [(0, 5), (10, 5)], [(0, 5), (10, 5)]]
    whole, broken, dotted = (
        line_plot([*([[]] * number), flat[number]], x_range=(0, 10), y_range=(0, 10), width=12, height=1)[0]
        for number in range(3)
    )
    dots = [sum((ord(cell) - 0x2800).bit_count() for cell in line if cell != " ") for line in (whole, broken, dotted)]
    assert dots == [24, 18, 12]


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
    st.integers(12, 140),
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
