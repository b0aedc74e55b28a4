"""A day whose shop was foretold: clocks and cure go on by the forecast from the last reading, as scipy finds it."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from cure_by_scipy import scipy_demould_s
from hypothesis import given
from hypothesis import strategies as st
from plan_examples import SLOW
from scipy.integrate import solve_ivp
from session_examples import lifetimes, mixed, stamped, start
from simulate.shop import Day, desk_for, workshop

from layup.bench.forecast import part_under_press
from layup.bench.opening import begin
from layup.bench.view import bench_view
from layup.chemistry.calibration import calibrate
from layup.chemistry.datasheet import CurePoint
from layup.chemistry.demould import setting_of
from layup.chemistry.kinetics import GAS_CONSTANT_J_MOL_K
from layup.chemistry.temperature import AHEAD_S, DAY_S, carried_on, course_K, swing, temperature_at_K
from layup.planning.night import NightOutlook, PartUnderPress, overnight
from layup.planning.readiness import readiness
from layup.session.batch_events import BatchMixed, BatchPouredOut, PressClosed, StepDone
from layup.session.clock import ManualClock
from layup.session.day_events import ShopForecast, TemperatureRead
from layup.session.lifetimes import mould_of, mould_since, shop_of
from layup.session.records import fold
from layup.session.state import NightExpected

HOUR = 3600.0
SHEET = replace(SLOW, demould=(CurePoint(20 * HOUR, 296.15),), glass_transition_K=355.15)
LAW = calibrate(SHEET)
COLD_C, WARM_C = 4.0, 20.0
COURSE = swing(COLD_C + 273.15, WARM_C + 273.15)
FOUR_S = 16 * HOUR


def air(celsius):
    return TemperatureRead(place="air", temperature_K=celsius + 273.15)


def told(of_day_s=FOUR_S):
    return ShopForecast(course=COURSE, of_day_s=of_day_s)


def after(*events):
    return fold(stamped([start(), *events], every_s=60.0))


def evening_K(since_s, read_C, from_s):
    """Return the shop some time after a reading: the swing written out anew, its level that of the reading."""

    def share(of_day_s):
        since = (np.asarray(of_day_s) - 6 * HOUR) % DAY_S
        up = 0.5 - 0.5 * np.cos(np.pi * since / (9 * HOUR))
        down = 0.5 + 0.5 * np.cos(np.pi * (since - 9 * HOUR) / (15 * HOUR))
        return np.where(since <= 9 * HOUR, up, down)

    moved = share(from_s + np.asarray(since_s)) - share(from_s)
    return read_C + 273.15 + (WARM_C - COLD_C) * moved


def film_s(conversion, start, kelvin):
    """Return when a film reaches a conversion by LSODA, from its conversion and its temperature over time."""
    law = LAW.kinetics

    def slope(at_s, state):
        k = law.k_ref_per_s * np.exp(
            -law.activation_energy_J_mol / GAS_CONSTANT_J_MOL_K * (1 / float(kelvin(at_s)) - 1 / 298.15)
        )
        return [k * (law.a0 + state[0] ** law.m) * (1 - state[0]) ** law.n]

    def reached(_, state):
        return state[0] - conversion

    reached.terminal = True
    run = solve_ivp(slope, (0.0, 40 * HOUR), [start], method="LSODA", rtol=1e-8, atol=1e-10, events=reached)
    return float(run.t_events[0][0])


def test_a_part_stays_open_as_long_as_the_falling_evening_lets_it():
    state, steady = (after(air(20.0), *more, mixed(1), BatchPouredOut(batch=1)) for more in ((told(),), (air(20.0),)))
    life, calm = lifetimes(state, LAW)[1], lifetimes(steady, LAW)[1]
    laid_s, read_s = state.batch(1).poured_out_s, state.air[-1][0]
    conversion, _ = life.state_at(laid_s)

    def shop(at_s):
        return evening_K(at_s + laid_s - read_s, 20.0, FOUR_S + read_s - 120.0)

    for limit, found_s in ((LAW.kinetics.conversion_film, life.over_s), (LAW.kinetics.conversion_gel, life.gel_s)):
        wanted_s = film_s(limit, conversion, shop)
        flat_s = film_s(limit, conversion, lambda _: 293.15)
        assert wanted_s > 1.1 * flat_s
        assert found_s.likely - laid_s == pytest.approx(wanted_s, rel=0.01)  # an hour is drawn as a straight line
    assert life.over_s.low > calm.over_s.low + 600.0


def test_a_part_leaves_the_mould_when_scipy_says_so_of_a_cold_evening():
    state = after(air(20.0), told(), mixed(1), BatchPouredOut(batch=1), PressClosed(pressure_Pa=50_000.0))
    setting, _ = setting_of(SHEET, LAW.kinetics)
    read_s, closed_s = state.air[-1][0], state.closed_s
    out_s = {}
    for name, mould in (("foretold", mould_since(state, closed_s)), ("steady", ((read_s - closed_s, 293.15),))):
        night = overnight(PartUnderPress(setting, LAW, mould), NightOutlook())
        out_s[name] = night.ready.out_s.likely
    steps_s = np.arange(0.0, 60 * HOUR, 600.0)
    since_s = closed_s - read_s
    shop = [(float(t), float(evening_K(t + since_s, 20.0, FOUR_S + read_s - 120.0))) for t in steps_s]
    assert out_s["foretold"] == pytest.approx(scipy_demould_s(setting, shop), rel=0.01)
    assert out_s["foretold"] > 1.3 * out_s["steady"]


@given(read_C=st.floats(-5.0, 35.0), of_day_h=st.floats(0.0, 23.9), later_h=st.floats(0.0, 96.0))
def test_the_last_reading_sets_the_level_and_the_course_the_change(read_C, of_day_h, later_h):
    read = ((0.0, read_C + 273.15),)
    history = carried_on(read, COURSE, midnight_s=-of_day_h * HOUR)
    at_s = min(later_h * HOUR, AHEAD_S - HOUR)
    moved_K = course_K(COURSE, of_day_h * HOUR + at_s) - course_K(COURSE, of_day_h * HOUR)
    assert temperature_at_K(history, at_s) == pytest.approx(read[0][1] + moved_K, abs=1e-9)
    end_K = history[-1][1] - read[0][1] + course_K(COURSE, of_day_h * HOUR)
    assert end_K == pytest.approx(np.mean([course_K(COURSE, 300.0 * n) for n in range(288)]), abs=0.01)


def test_a_reading_replaces_the_forecast_until_then_and_moves_it_after():
    state = after(air(20.0), told(), air(15.0))
    assert shop_of(state)[:2] == state.air
    later_s = state.air[-1][0] + 2 * HOUR
    assert temperature_at_K(shop_of(state), later_s) == pytest.approx(
        float(evening_K(2 * HOUR, 15.0, FOUR_S + 60.0)), abs=0.15
    )


def test_a_mould_that_is_heated_stays_as_warm_as_it_was_read_and_another_follows_the_shop():
    for celsius, follows in ((40.0, False), (21.0, True)):
        state = after(air(20.0), told(), TemperatureRead(place="mould", temperature_K=celsius + 273.15))
        coldest_K = min(kelvin for _, kelvin in mould_of(state))
        assert (coldest_K < celsius + 273.15 - 5.0) is follows


def test_without_a_forecast_nothing_is_carried_on():
    state = after(air(20.0), air(19.0))
    assert shop_of(state) == state.air


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory):
    """A desk with a plan whose shop falls from 20 degC at four."""
    desk = desk_for(workshop(tmp_path_factory.mktemp("shop")), Day())
    assert desk.figures is not None
    plan = replace(desk.figures.plan, forecast=COURSE)
    return desk, replace_plan(desk.figures, plan)


def replace_plan(figures, plan):
    """Return the figures of another plan, worked out anew."""
    return type(figures)(plan, figures.datasheet, figures.calibration, figures.shop, settings=figures.settings)


def test_a_plan_with_a_forecast_brings_it_to_the_cup_the_part_the_press_and_the_cure(desk):
    planner, foretold = desk
    days = []
    for figures in (planner.figures, foretold):
        day = begin(planner, figures, ManualClock(datetime(2026, 3, 7, 16, 0).astimezone(UTC)))
        batch = day.state.batches[0].plan
        mix = BatchMixed(batch=1, resin_g=batch.resin_g, hardener_g=batch.hardener_g, start_K=293.15)
        assert day.log(mix, "").done
        days.append(day)
    calm, falling = (bench_view(day).cups[0].by_s for day in days)
    assert falling > calm
    for day in days:
        assert day.log(BatchPouredOut(batch=1), "").done
    calm, falling = (bench_view(day) for day in days)
    assert falling.parts[0].by_s == falling.press.by_s > calm.press.by_s + 300.0
    for day in days:
        while day.state.step_now is not None:
            assert day.log(StepDone(step=day.state.step_now.number, despite="unread"), "").done
        assert day.log(PressClosed(pressure_Pa=50_000.0), "").done
        day.clock.advance(4 * HOUR)
    assert days[0].air_K == 293.15
    assert days[1].air_K == pytest.approx(float(evening_K(4 * HOUR, 20.0, FOUR_S)), abs=0.2)
    moulds = [part_under_press(day).so_far for day in days]
    assert min(kelvin for _, kelvin in moulds[1]) < min(kelvin for _, kelvin in moulds[0]) - 10.0
    assert days[1].log(NightExpected(coldest_K=291.15), "").done
    part = part_under_press(days[1])
    assert overnight(part, NightOutlook(night_K=291.15)).mould[-1][1] == 291.15  # what was told of the night counts


def test_whether_to_begin_goes_by_the_coldest_of_the_forecast(desk):
    _, foretold = desk
    ready = readiness(foretold, NightOutlook())
    assert ready.night.mould[-1][1] == pytest.approx(COLD_C + 273.15)
    told_K = readiness(foretold, NightOutlook(night_K=285.15)).night.mould[-1][1]
    assert told_K == 285.15


@pytest.mark.parametrize("course", [((0.0, 280.0), (0.0, 281.0)), (), ((90_000.0, 280.0),), ((0.0, 100.0),)])
def test_a_forecast_that_is_no_day_is_refused(course):
    with pytest.raises(ValueError, match="course"):
        ShopForecast(course=course, of_day_s=0.0)
