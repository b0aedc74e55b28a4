"""Pictures made of characters: true to scale, and never wider than they are told to be."""

from dataclasses import replace

import pytest
from command_line import assert_no_wider
from hypothesis import example, given, settings
from hypothesis import strategies as st
from plan_examples import FAST, PLAN, SLOW

from layup.chemistry.calibration import calibrate
from layup.chemistry.life_band import predict_band
from layup.chemistry.prediction import Vessel, predict
from layup.planning.fit import fit_of
from layup.planning.plan import Crew, Shop
from layup.planning.planner import PlanResult
from layup.report.pictures import (
    LEGEND,
    batch_lines,
    course_picture,
    day_strips,
    life_table,
    window_picture,
    window_words,
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


# --- The plan


@settings(max_examples=80, deadline=None)
@given(WIDTHS)
def test_the_day_fits_the_width_and_shows_every_batch(planned, width):
    for what in planned:
        lines = day_strips(what.timeline, what.split, width=width)
        assert_no_wider("\n".join(line for line in lines if line != LEGEND), max(width, 9))
        for batch, line in zip(what.split.batches, lines, strict=False):
            assert line.startswith(f"{batch.number} {batch.mass_g:.0f} g ")
        assert sum(line.count("┃") for line in lines if line != LEGEND) == len(marked(what))


def marked(what):
    """Return the batches that have a mark: the one whose cup is tightest, or all where the press is."""
    limit = what.split.limit
    return [batch for batch in what.split.batches if limit.kind != "cup" or batch.number == limit.batch]


def mark_s(what):
    """Return where the mark stands."""
    cup = marked(what)[0]
    of_cup = what.split.limit.kind == "cup"
    return cup.emptied_s + cup.cup_margin_s if of_cup else what.timeline.press_by_s.low


def test_what_is_spare_lies_between_the_mark_and_what_must_be_done_by_it(planned):
    kinds = set()
    for what in planned:
        day, gutter, split = what.timeline, len("1 100 g "), what.split
        lines = day_strips(day, split, width=100)
        end_s = max(mark_s(what), day.closed_s) * 1.02
        at = split.batches.index(marked(what)[0])
        assert lines[at].index("┃") == gutter + int(mark_s(what) / end_s * (100 - gutter))
        words = " ".join(lines)
        assert f"closed {day.closed_s / 60:.0f} min" in words
        by = f"{mark_s(what) / 60:.0f}"
        kinds.add(split.limit.kind)
        if split.limit.kind != "cup":
            assert f"press by {by} min" in words
            continue
        assert f"empty by {by} min" in words
        if split.slack_s > 300.0:  # else the two have no room beside each other
            assert f" empty {int(by) - round(split.slack_s / 60)} " in words
        narrow = " ".join(day_strips(day, split, width=46))
        times = f"cup {marked(what)[0].number} empty {int(by) - round(split.slack_s / 60)}, by {by}"
        assert times in narrow, "whose time it is stands there in any width, and what is spare"
    assert kinds == {"cup", "part"}


def test_a_batch_is_in_its_cup_then_on_the_part_until_the_press_is_closed(planned):
    what = planned[0]
    day, cells = what.timeline, 2000
    end_s = max(mark_s(what), day.closed_s) * 1.02
    lines = day_strips(day, what.split, width=cells + len("1 100 g "))
    for batch, line in zip(what.split.batches, lines, strict=False):
        bar = line[len("1 100 g ") :].replace("cup", "▓▓▓").replace("part", "░░░░").replace("┃", "░")
        edges = {"▓": (batch.contact_s, batch.emptied_s), "░": (batch.emptied_s, None), "█": (None, day.closed_s)}
        for fill, (begin_s, finish_s) in edges.items():
            if begin_s is not None:
                assert bar.index(fill) == pytest.approx(begin_s / end_s * cells, abs=1)
            if finish_s is not None:
                assert bar.rindex(fill) + 1 == pytest.approx(finish_s / end_s * cells, abs=1)


def test_a_legend_names_what_no_word_in_the_strips_does(planned):
    what = planned[0]
    assert day_strips(what.timeline, what.split, width=100)[-1] != LEGEND
    assert day_strips(what.timeline, what.split, width=12)[-1] == LEGEND


@settings(max_examples=80, deadline=None)
@example(12, 309.5)
@given(WIDTHS, st.floats(250.0, 340.0))
def test_the_window_fits_the_width_and_points_at_today(planned, width, today_K):
    for what in planned:
        _, *lines, axis = window_picture(replace(what.window, today_K=today_K), width=width)
        assert [len(line) for line in (*lines, axis)] == [width] * 3
        mark = f"{today_K - 273.15:.0f} °C"
        left, right = what.window.samples[0].temperature_K, what.window.samples[-1].temperature_K
        if today_K < left - 1:
            assert axis.startswith(f"◀ {mark}")
        elif today_K > right + 1:
            assert axis.endswith(f"{mark} ▶")
        elif left <= today_K <= right:
            assert f"▲{mark}" in axis


@pytest.mark.parametrize("today_C", [5, 12, 20, 28])
def test_today_stands_below_its_own_spare(planned, today_C):
    """Where the plan works a column stands above the mark, and × where it does not."""
    window = replace(planned[0].window, today_K=today_C + 273.15)
    *_, lowest, axis = window_picture(window, width=93)
    sample = window.samples[today_C - 5]
    assert (lowest[axis.index("▲")] == "×") is (not sample.works)
    assert lowest.count("×") == 3 * sum(not sample.works for sample in window.samples)


def test_the_highest_column_is_the_most_there_is_to_spare(planned):
    window = planned[0].window
    head, top, *_ = window_picture(window, width=93, rows=4)
    most_s = max(sample.slack_s for sample in window.samples if sample.works)
    assert head == f"≤ {most_s / 60:.0f} min spare, shop °C"
    best = [at for at, sample in enumerate(window.samples) if sample.works and sample.slack_s == most_s]
    assert all(top[3 * at + 1] == "█" for at in best)


def test_the_words_of_a_window_tell_its_edges(planned):
    window = planned[0].window
    words = window_words(window)
    assert words.startswith(f"TEMPERATURE WINDOW {window.low_K - 273.15:.0f} to {window.high_K - 273.15:.0f} °C")
    late = tuple(replace(sample, slack_s=-60.0, works=False) for sample in window.samples)
    none = window_words(replace(window, samples=late, low_K=None, high_K=None, cold_limits=()))
    assert none == "TEMPERATURE WINDOW: none, it closes in time at no temperature."


def test_damp_air_alone_is_not_said_to_be_a_matter_of_time():
    damp = PlanResult(PLAN, SLOW, SLOW_CURE, Shop(307.15, relative_humidity=0.98)).window
    assert (damp.low_K, damp.high_K) == (None, None)
    in_time = [sample.temperature_K for sample in damp.samples if sample.slack_s is not None and sample.slack_s >= 0.0]
    assert in_time
    assert window_words(damp) == (
        f"TEMPERATURE WINDOW: none, it closes in time at {in_time[0] - 273.15:.0f} to {in_time[-1] - 273.15:.0f} °C, "
        "but: Below 37 °C today's air comes within 3 °C of its dew point: surfaces get damp."
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
)
def test_a_course_fits_its_width_in_every_vessel(vessel, mass_g, start_K, shop_K, width):
    lines = course_picture(SLOW_CURE, vessel, mass_g, start_K, shop_K, width=width)
    assert_no_wider("\n".join(lines[1:9]), max(width, 13))
    assert len(lines) == 2 * 8 + 4
    assert lines[0] == "conversion, likely and 80 % band"


def test_the_rows_of_the_limits_are_named():
    lines = course_picture(SLOW_CURE, Vessel.film(), 100.0, 293.15, 293.15, width=72)
    kinetics = SLOW_CURE.kinetics
    for name, limit in (("gelled", kinetics.conversion_gel), ("thick", kinetics.conversion_working)):
        row = next(i for i, line in enumerate(lines[1:9]) if line.strip().startswith(name))
        assert (7 - row) / 8 <= limit < (8 - row) / 8


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
