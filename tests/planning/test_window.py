"""The temperature window: cold limits, hot limits, and the interval between."""

from dataclasses import replace
from itertools import pairwise

import pytest
from plan_examples import FAST, PLAN, SLOW

from layup.chemistry.calibration import calibrate
from layup.chemistry.climate import dew_point_K
from layup.chemistry.datasheet import ViscosityPoint
from layup.errors import RangeError
from layup.planning.batches import split_batches
from layup.planning.plan import Shop
from layup.planning.planner import TOO_THICK_PA_S, PlanResult, clocks_in, cold_limits, temperature_window, too_cold

CASE = PlanResult(PLAN, FAST, calibrate(FAST), Shop(291.15))
JOB = CASE.job
WINDOW = temperature_window(CASE)


def test_slack_falls_as_the_shop_warms_while_the_number_of_batches_stays():
    pairs = [(a, b) for a, b in pairwise(WINDOW.samples) if a.batches == b.batches]
    assert len(pairs) > 15
    assert all(b.slack_s < a.slack_s for a, b in pairs)


def test_each_sample_is_the_plan_in_a_shop_of_that_temperature():
    sample = WINDOW.samples[10]
    assert sample.temperature_K == pytest.approx(288.15)
    there = replace(CASE, shop=Shop(sample.temperature_K))
    assert (sample.slack_s, sample.batches) == (there.split.slack_s, len(there.split.batches))


def test_the_hot_end_is_where_the_plan_stops_fitting():
    assert WINDOW.samples[-1].slack_s < 0
    for offset, fits in ((-0.01, True), (0.05, False)):
        clocks = clocks_in(CASE.in_part, JOB, [Shop(WINDOW.high_K + offset)])[0]
        assert split_batches(JOB, clocks).fits is fits


def test_the_cold_end_is_the_resins_own_minimum():
    assert WINDOW.low_K == pytest.approx(288.15)
    assert not WINDOW.samples[9].works
    assert WINDOW.samples[10].works
    (limit,) = WINDOW.cold_limits
    assert (limit.kind, limit.temperature_K) == ("minimum", 288.15)
    assert "15 °C" in limit.words


def test_damp_air_makes_the_shop_too_cold():
    case = replace(CASE, shop=Shop(291.15, relative_humidity=0.9))
    dew = next(limit for limit in cold_limits(case) if limit.kind == "dew")
    assert dew.temperature_K == pytest.approx(dew_point_K(291.15, 0.9) + 3.0)
    assert [limit.kind for limit in too_cold(case)] == ["dew"]
    assert too_cold(replace(CASE, shop=Shop(291.15, relative_humidity=0.5))) == ()


def test_a_cold_part_gets_damp_in_a_warm_shop():
    shop = Shop(295.15, relative_humidity=0.6, part_K=288.15)
    assert [limit.kind for limit in too_cold(replace(CASE, shop=shop))] == ["dew"]


def test_thick_resin_makes_the_shop_too_cold_unless_the_cans_are_warm():
    points = (ViscosityPoint(3.0, 288.15), ViscosityPoint(TOO_THICK_PA_S, 292.15), ViscosityPoint(0.8, 303.15))
    case = replace(CASE, datasheet=replace(FAST, viscosities=points))
    thick = next(limit for limit in cold_limits(case) if limit.kind == "thick")
    assert thick.temperature_K == pytest.approx(292.15, abs=1e-6)
    assert [limit.kind for limit in too_cold(case)] == ["thick"]
    assert too_cold(replace(case, shop=Shop(291.15, resin_K=298.15))) == ()


def test_a_resin_thin_at_all_its_stated_temperatures_is_never_too_thick():
    case = replace(CASE, datasheet=replace(FAST, viscosities=(ViscosityPoint(0.3, 293.15),)))
    assert all(limit.kind != "thick" for limit in cold_limits(case))


def test_a_plan_that_works_nowhere_has_no_interval():
    case = replace(CASE, plan=replace(PLAN, largest_cup_g=30.0))
    window = temperature_window(case)
    assert (window.low_K, window.high_K) == (None, None)
    assert all(sample.slack_s is None and sample.limit == "cup size" for sample in window.samples)


def test_a_slow_resin_works_up_to_the_hottest_shop_tried():
    case = PlanResult(PLAN, SLOW, calibrate(SLOW), Shop(293.15))
    window = temperature_window(case, hottest_K=298.15, samples=6)
    assert window.high_K == 298.15
    assert len(window.samples) == 6


def test_a_window_that_runs_backwards_is_refused():
    with pytest.raises(RangeError, match="hottest shop"):
        temperature_window(CASE, coldest_K=300.0, hottest_K=290.0)
    with pytest.raises(RangeError, match="temperatures to try"):
        temperature_window(CASE, samples=1)
