"""The night after closing: the forecast, whether the part makes it, and the heating that gets it there."""

from dataclasses import replace
from itertools import pairwise
from math import inf

import numpy as np
import pytest
from cure_by_scipy import scipy_demould_s
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_examples import SLOW

from layup.chemistry.calibration import calibrate
from layup.chemistry.cure import demould_time_s
from layup.chemistry.cure_course import set_on_part
from layup.chemistry.datasheet import CurePoint
from layup.chemistry.demould import setting_of
from layup.chemistry.temperature import temperature_at_K
from layup.errors import RangeError
from layup.planning.night import (
    FALL_S,
    OUT_BY_S,
    NightOutlook,
    PartUnderPress,
    forecast,
    heat_makes_it,
    heatings,
    no_warmer,
    overnight,
)

HOUR = 3600.0
SHEET = replace(
    SLOW,
    demould=(CurePoint(36 * HOUR, 291.15), CurePoint(24 * HOUR, 296.15), CurePoint(6 * HOUR, 318.15)),
    glass_transition_K=355.15,
)
CALIBRATION = calibrate(SHEET)
SETTING, _ = setting_of(SHEET, CALIBRATION.kinetics)


def part(shop, *, now_s=0.0, start=0.0, minimum_K=288.15):
    return PartUnderPress(SETTING, CALIBRATION, shop, now_s=now_s, conversion_start=start, minimum_K=minimum_K)


def test_a_night_without_a_forecast_stays_as_warm_as_it_was():
    assert forecast(294.15) == ((0.0, 294.15),)
    logged = ((0.0, 294.15), (HOUR, 290.15))
    assert forecast(logged, now_s=2 * HOUR) == logged


def test_a_forecast_begins_where_the_log_ends_and_falls_in_eight_hours():
    logged = ((-HOUR, 293.15), (HOUR, 295.15))
    mould = forecast(logged, now_s=3 * HOUR, night_K=279.15)
    assert mould == (*logged, (3 * HOUR, 295.15), (3 * HOUR + FALL_S, 279.15))
    assert temperature_at_K(mould, 3 * HOUR + FALL_S / 2) == pytest.approx(287.15)


@given(
    st.lists(st.tuples(st.floats(60.0, 20 * HOUR), st.floats(275.0, 330.0)), min_size=1, max_size=6).map(
        lambda rows: tuple(zip(np.cumsum([row[0] for row in rows]).tolist(), [row[1] for row in rows], strict=True))
    )
)
@settings(max_examples=60, deadline=None)
def test_a_sparse_log_is_never_read_as_warmer_than_a_straight_line_nor_beyond_its_readings(readings):
    mould = no_warmer(readings)
    times = np.linspace(readings[0][0], readings[-1][0], 97)
    for time_s in times:
        cautious, straight = temperature_at_K(mould, time_s), temperature_at_K(readings, time_s)
        assert cautious <= straight + 1e-6
        assert cautious >= min(kelvin for _, kelvin in readings) - 1e-6
    for point in readings:
        assert temperature_at_K(mould, point[0]) == pytest.approx(point[1])


def test_readings_an_hour_apart_or_closer_are_joined_by_a_line():
    dense = tuple((i * HOUR, 290.0 + 3 * (i % 4)) for i in range(10))
    assert no_warmer(dense) == dense


def test_a_heater_switched_on_before_the_last_reading_does_not_count_for_the_whole_gap():
    late = no_warmer(((0.0, 291.15), (23 * HOUR, 313.15)))
    slow = ((0.0, 291.15), (23 * HOUR, 313.15))
    assert demould_time_s(SETTING, late) > demould_time_s(SETTING, slow) + 6 * HOUR


@pytest.mark.parametrize("shop_K", [289.15, 294.15])
@pytest.mark.parametrize("night_K", [None, 279.15, 291.15])
def test_the_earliest_demoulding_of_a_night_agrees_with_scipy(shop_K, night_K):
    """Independent integration (scipy LSODA) of the forecast written out here, to 0.1 %."""
    night = overnight(part(shop_K), NightOutlook(night_K=night_K))
    mould = ((0.0, shop_K),) if night_K is None else ((0.0, shop_K), (8 * HOUR, night_K))
    assert night.ready.out_s.likely == pytest.approx(scipy_demould_s(SETTING, mould), rel=1e-3)


def test_a_mild_night_makes_it_and_a_cold_one_does_not():
    mild, cold = overnight(part(294.15), NightOutlook()), overnight(part(294.15), NightOutlook(night_K=279.15))
    assert (mild.verdict, mild.makes_it, mild.stalls_s) == ("makes it", True, None)
    assert (cold.verdict, cold.makes_it) == ("does not make it", False)
    assert cold.stalls_s == pytest.approx(FALL_S * 6 / 15)


def test_the_cure_stalls_only_where_the_cold_comes_before_the_glass():
    cold_later = ((0.0, 313.15), (10 * HOUR, 313.15), (14 * HOUR, 279.15))
    assert overnight(part(cold_later, now_s=14 * HOUR), NightOutlook()).stalls_s is None
    dips = ((0.0, 294.15), (HOUR, 285.15), (3 * HOUR, 294.15))
    assert overnight(part(dips, now_s=3 * HOUR), NightOutlook()).stalls_s is None
    assert overnight(part(285.15), NightOutlook()).stalls_s == 0.0
    assert overnight(part(285.15, minimum_K=None), NightOutlook()).stalls_s is None


@pytest.mark.parametrize(
    ("shop", "now_s", "outlook"),
    [
        (294.15, 0.0, NightOutlook(night_K=279.15)),
        (289.15, 0.0, NightOutlook(night_K=282.15)),
        (((0.0, 294.15), (3 * HOUR, 292.15)), 3 * HOUR, NightOutlook(night_K=279.15, out_by_s=24 * HOUR)),
    ],
)
def test_each_heating_makes_it_by_scipy_and_by_the_late_end_of_its_band(shop, now_s, outlook):
    """Independent integration (scipy LSODA) of each heated mould, to 0.1 %."""
    here = part(shop, now_s=now_s)
    plans = heatings(here, outlook)
    assert [plan.mould_K for plan in plans] == sorted(plan.mould_K for plan in plans)
    assert len(plans) >= 2
    for plan in plans:
        glass_s = scipy_demould_s(SETTING, plan.mould)
        assert plan.demould_s == pytest.approx(max(glass_s, now_s + plan.heater_s), rel=1e-3)
        heated = overnight(part(plan.mould, now_s=plan.mould[-1][0]), NightOutlook(out_by_s=outlook.out_by_s))
        assert heated.makes_it
        assert temperature_at_K(plan.mould, now_s) == temperature_at_K(shop, now_s)
        assert temperature_at_K(plan.mould, now_s + plan.heater_s) == pytest.approx(plan.mould_K)
        assert plan.mould[-1][1] == outlook.night_K


@given(st.floats(0.0, 20 * HOUR), st.floats(281.15, 294.15), st.floats(277.15, 287.15), st.floats(24 * HOUR, 72 * HOUR))
@settings(max_examples=12, deadline=None)
def test_of_two_heatings_the_hotter_heats_for_less_time_and_is_out_no_later_and_none_is_out_before_it_is_off(
    now_s, shop_K, night_K, out_by_s
):
    plans = heatings(part(shop_K, now_s=now_s), NightOutlook(night_K=night_K, out_by_s=out_by_s))
    for plan in plans:
        assert now_s + plan.heater_s <= plan.demould_s <= out_by_s
    for gentler, hotter in pairwise(plans):
        assert hotter.mould_K > gentler.mould_K
        assert hotter.heater_s < gentler.heater_s
        assert hotter.demould_s <= gentler.demould_s + 60.0


@given(
    st.floats(0.0, 20 * HOUR),
    st.floats(281.15, 294.15),
    st.floats(273.15, 293.15),
    st.floats(8 * HOUR, 72 * HOUR),
    st.sampled_from((303.15, 313.15, 323.15)),
)
@settings(max_examples=12, deadline=None)
def test_heat_makes_it_exactly_where_a_heating_is_found_or_none_is_needed(now_s, shop_K, night_K, out_by_s, bears_K):
    here, outlook = replace(part(shop_K, now_s=now_s), bears_K=bears_K), NightOutlook(night_K, out_by_s)
    needless = overnight(here, outlook)
    found = bool(heatings(here, outlook)) or (needless.makes_it and needless.ready.out_s.likely <= out_by_s)
    assert heat_makes_it(here, outlook) == found


def test_heat_is_found_for_a_night_that_is_likely_in_time_and_not_surely():
    """A wide band: likely well before it is wanted, at its late end after."""
    outlook = next(
        outlook
        for outlook in (NightOutlook(night_K=287.15, out_by_s=hours * HOUR) for hours in range(30, 120))
        if overnight(part(294.15, minimum_K=None), outlook).ready.out_s.likely < outlook.out_by_s
        and not overnight(part(294.15, minimum_K=None), outlook).makes_it
    )
    assert heatings(part(294.15, minimum_K=None), outlook)


def test_a_heating_that_starts_later_keeps_the_mould_as_logged_until_then():
    logged = ((0.0, 294.15), (2 * HOUR, 290.15), (5 * HOUR, 288.15))
    plan = heatings(part(logged, now_s=5 * HOUR), NightOutlook(night_K=281.15))[0]
    assert plan.mould[:3] == logged
    assert max(kelvin for time_s, kelvin in plan.mould if time_s <= 5 * HOUR) == 294.15


def test_a_part_with_time_enough_is_still_heated_where_its_cure_would_stop():
    outlook = NightOutlook(night_K=287.15, out_by_s=120 * HOUR)
    night = overnight(part(294.15), outlook)
    assert night.verdict == "makes it"
    assert night.stalls_s is not None
    plans = heatings(part(294.15), outlook)
    assert plans
    assert all(overnight(part(plan.mould, now_s=plan.mould[-1][0]), NightOutlook()).stalls_s is None for plan in plans)


def test_no_heating_is_offered_that_the_mould_does_not_bear():
    outlook = NightOutlook(night_K=281.15, out_by_s=30 * HOUR)
    free, foam = (heatings(replace(part(294.15), bears_K=bears_K), outlook) for bears_K in (inf, 313.15))
    assert max(plan.mould_K for plan in free) > 313.15
    assert foam == tuple(plan for plan in free if plan.mould_K <= 313.15)


def test_no_heating_is_offered_where_none_can_make_it():
    assert heatings(part(294.15), NightOutlook(out_by_s=HOUR)) == ()
    assert heatings(part(294.15, now_s=30 * HOUR), NightOutlook(out_by_s=30.5 * HOUR)) == ()


def test_resin_that_had_set_further_at_closing_comes_out_no_later():
    bare = replace(SHEET, demould=())
    setting, _ = setting_of(bare, CALIBRATION.kinetics)
    fresh, aged = (
        overnight(
            PartUnderPress(setting, CALIBRATION, 291.15, conversion_start=start), NightOutlook()
        ).ready.out_s.likely
        for start in (0.0, 0.2)
    )
    assert aged < fresh


@given(st.floats(274.15, 290.0), st.floats(0.5, 8.0))
@settings(max_examples=12, deadline=None)
def test_a_colder_night_never_lets_the_part_out_sooner(night_K, colder_K):
    setting = replace(SETTING)
    mild, cold = (forecast(293.15, night_K=kelvin) for kelvin in (night_K, night_K - colder_K))
    assert demould_time_s(setting, cold) >= demould_time_s(setting, mild) - 1.0


def test_a_part_that_never_comes_out_says_so():
    night = overnight(part(250.15, minimum_K=None), NightOutlook())
    assert night.ready.out_s.likely == inf
    assert night.verdict == "does not make it"
    assert set_on_part(SETTING, night.mould, until_s=OUT_BY_S).end.conversion < 0.5


@pytest.mark.parametrize(
    ("make", "match"),
    [
        (lambda: NightOutlook(night_K=200.0), "tonight's temperature: is out of range"),
        (lambda: NightOutlook(out_by_s=60.0), "time to demould: is out of range"),
        (lambda: NightOutlook(wood_moisture=9.0), "moisture of the wood: is out of range .* - a share, 0.08 for 8 %"),
    ],
)
def test_what_cannot_be_is_refused(make, match):
    with pytest.raises(RangeError, match=match):
        make()
