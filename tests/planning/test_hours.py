"""A day whose temperature changes: its course, the hour to begin at, and the evening that is too cold."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_examples import PLAN, SLOW

from layup.chemistry.calibration import calibrate
from layup.chemistry.datasheet import CurePoint, ViscosityPoint
from layup.chemistry.temperature import DAY_S, course_K, swing
from layup.errors import InputError, RangeError, StorageError
from layup.files.attachments import read_forecast
from layup.planning.choosing import best_hour, hours_of
from layup.planning.fit import fit_of
from layup.planning.plan import Shop
from layup.planning.planner import PlanResult

HOUR = 3600.0
SHEET = replace(
    SLOW,
    viscosities=(ViscosityPoint(1.6, 288.15), ViscosityPoint(0.7, 298.15)),
    demould=(CurePoint(24 * HOUR, 296.15),),
    glass_transition_K=355.15,
)
LAW = calibrate(SHEET)


def work_out(kelvin):
    return PlanResult(PLAN, SHEET, LAW, Shop(kelvin))


@pytest.fixture(scope="module")
def day():
    """A shop from 8 to 22 degC."""
    course = swing(281.15, 295.15)
    return course, hours_of(work_out, course, from_s=6 * HOUR, to_s=20 * HOUR)


def test_a_swing_is_coldest_at_six_and_warmest_at_three_and_comes_again():
    course = swing(277.15, 289.15)
    kelvins = dict(course)
    assert (kelvins[6 * HOUR], kelvins[15 * HOUR]) == pytest.approx((277.15, 289.15))
    assert min(kelvins.values()) == pytest.approx(277.15)
    assert max(kelvins.values()) == pytest.approx(289.15)
    assert course_K(course, 30 * HOUR) == pytest.approx(course_K(course, 6 * HOUR))
    assert course_K(course, 10.5 * HOUR) == pytest.approx(283.15, abs=0.1)


@given(
    st.lists(
        st.tuples(st.integers(0, 86_399), st.floats(263.0, 303.0)), min_size=1, max_size=8, unique_by=lambda p: p[0]
    ),
    st.floats(0.0, 5 * DAY_S),
)
def test_a_course_is_straight_between_its_points_over_midnight_too(points, at_s):
    """Independent: numpy's periodic interpolation."""
    points = sorted(points)
    times, kelvins = [p[0] for p in points], [p[1] for p in points]
    assert course_K(tuple(points), at_s) == pytest.approx(np.interp(at_s, times, kelvins, period=DAY_S), abs=1e-6)


def test_each_hour_is_as_the_plan_is_at_the_ends_of_what_it_goes_through(day):
    course, hours = day
    assert [hour.begin_s for hour in hours] == [each * HOUR for each in range(6, 21)]
    noon = hours[6]
    closed_s = work_out(course_K(course, noon.begin_s)).timeline.closed_s
    seen = [course_K(course, noon.begin_s + share * closed_s) for share in np.linspace(0.0, 1.0, 50)]
    assert noon.low_K == pytest.approx(min(seen), abs=0.05)
    assert noon.high_K == pytest.approx(max(seen), abs=0.05)
    for hour in hours:
        words = [fit_of(work_out(kelvin)).word for kelvin in (hour.low_K - 0.5, hour.high_K + 0.5)]
        assert ("does not fit" not in words) <= (hour.verdict != "does not fit")


def test_the_best_hour_fits_with_the_most_to_spare_and_the_evening_is_too_cold(day):
    _, hours = day
    best = best_hour(hours)
    assert best is not None
    assert 11 * HOUR <= best.begin_s <= 18 * HOUR
    fits = [hour for hour in hours if hour.verdict == best.verdict]
    assert best.slack_s == max(hour.slack_s for hour in fits)
    assert hours[0].verdict == "does not fit"
    assert hours[0].too_cold
    assert hours[0].why
    assert best_hour(hours[:1]) is None


def test_a_part_that_is_closed_into_a_cold_night_comes_out_later_than_in_an_even_shop(day):
    _, hours = day
    warm = hours_of(work_out, ((0.0, 295.15),), from_s=14 * HOUR, to_s=14 * HOUR)[0]
    at_two = next(hour for hour in hours if hour.begin_s == 14 * HOUR)
    assert warm.out_s < at_two.out_s


def as_expected(course):
    """Whether it is 6 degC at eight and 16 degC at three."""
    return [value for point in course for value in point] == pytest.approx([8 * HOUR, 279.15, 15 * HOUR, 289.15])


@pytest.mark.parametrize(
    "text", ["08:00 6 degC, 15:00 16 degC", "15:00 16 degC,08:00 6 degC", "08:00 42.8 degF, 15:00 289.15 K"]
)
def test_times_of_day_make_a_course_in_any_order_and_unit(text):
    assert as_expected(read_forecast(text))


def test_one_temperature_is_the_shop_s_all_day():
    assert {kelvin for _, kelvin in read_forecast("16 degC")} == {289.15}


@pytest.mark.parametrize(
    "body", ["time,shop [degC]\n08:00,6\n15:00,16\n", "2026-11-28 08:00,6 degC\n15:00,60.8 degF\n"]
)
def test_a_file_makes_the_same_course(tmp_path, body):
    (tmp_path / "shop.csv").write_text(body, encoding="utf-8")
    assert as_expected(read_forecast("shop.csv", folder=tmp_path))


@pytest.mark.parametrize(
    ("text", "error", "words"),
    [
        ("cold", InputError, "forecast: does not start with a number"),
        ("25:00 16 degC", InputError, r"is no time of day \(25:00\)"),
        ("08:00", InputError, "has a time without its temperature"),
        ("08:00 90 degC", RangeError, "is no temperature of a shop"),
        ("missing.csv", StorageError, "cannot be read"),
    ],
)
def test_what_is_no_course_is_refused(tmp_path, text, error, words):
    with pytest.raises(error, match=words):
        read_forecast(text, folder=tmp_path)


def test_an_hour_whose_part_is_out_in_time_goes_before_one_with_more_to_spare(day):
    _, hours = day
    hour = replace(hours[6], verdict="fits", slack_s=900.0, out_s=40 * HOUR, too_cold=False)
    late = replace(hour, begin_s=19 * HOUR, slack_s=5400.0, out_s=51 * HOUR)
    assert best_hour((hour, late)) is hour
    assert best_hour((hour, replace(late, out_s=47 * HOUR))).slack_s == 5400.0
    roomy = replace(hour, slack_s=4000.0, out_s=45 * HOUR)
    assert best_hour((roomy, replace(roomy, slack_s=1500.0, out_s=41 * HOUR))).out_s == 41 * HOUR


def test_a_log_of_each_second_is_taken_every_ten_minutes(tmp_path):
    rows = [f"{s // 3600:02d}:{s // 60 % 60:02d},{10.0 + s / 8640.0:.3f}" for s in range(0, 86_400, 60)]
    (tmp_path / "day.csv").write_text("\n".join(["time,temperature", *rows]), encoding="utf-8")
    course = read_forecast("day.csv", folder=tmp_path)
    assert len(course) == 144
    assert course_K(course, 43_200.0) == pytest.approx(288.15, abs=0.01)
