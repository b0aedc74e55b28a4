"""Laws that a pot life obeys whatever the resin, the vessel and the weather."""

from math import exp, log

import numpy as np
import pytest
from hypothesis import assume, example, given, reject, settings
from hypothesis import strategies as st
from potlife_cases import WARM, calibrate_point, sheet

from layup.chemistry import prediction
from layup.chemistry.calibration import calibrate
from layup.chemistry.ensemble import ageing, peaks_K
from layup.chemistry.film import film_life_s, remaining_s
from layup.chemistry.kinetics import Kinetics, conversion_after, reduced_time
from layup.chemistry.life_band import predict_band
from layup.chemistry.observation import learn
from layup.chemistry.prediction import Life, Vessel
from layup.chemistry.stages import Stage, follow
from layup.chemistry.temperature import dose_s
from layup.chemistry.uncertainty import AS_SAID
from layup.errors import RangeError

CLASSES = ("warm", "hot", "runaway")
CLOSE = 1e-6
"""What two runs of the integrator may differ by."""


def predict(*asked: object, **more: object) -> Life:
    """Predict a life; a mix so thin that it is refused as a film of its vessel has no law here."""
    try:
        return prediction.predict(*asked, **more)
    except RangeError as error:
        if "too thin to have a temperature of its own" not in str(error):
            raise
        reject()


temperatures_K = st.floats(278.15, 313.15)
masses_g = st.floats(log(20.0), log(2000.0)).map(exp)
cups = st.one_of(st.just(Vessel.cup()), st.floats(0.05, 0.2).map(Vessel.cup))
trays = st.floats(log(0.001), log(0.03)).map(lambda x: Vessel.tray(exp(x)))
heated = st.one_of(cups, trays)
vessels = st.one_of(heated, st.just(Vessel.film()))
resins = st.builds(
    lambda log_s, mass_g, stated_K, energy_J_mol, heat_J_g, a0: calibrate_point(
        exp(log_s),
        mass_g,
        stated_K,
        kinetics=Kinetics(1.0, activation_energy_J_mol=energy_J_mol, heat_J_g=heat_J_g, a0=a0),
    ),
    st.floats(log(300.0), log(28800.0)),
    st.sampled_from([100.0, 150.0, 200.0]),
    st.floats(290.0, 299.0),
    st.floats(40e3, 75e3),
    st.floats(200.0, 500.0),
    st.floats(0.01, 0.2),
)


@st.composite
def histories(draw, low_K=278.15, high_K=313.15):
    gaps_s = draw(st.lists(st.floats(30.0, 3600.0), min_size=1, max_size=6))
    times_s = [sum(gaps_s[: i + 1]) for i in range(len(gaps_s))]
    return tuple((time_s, draw(st.floats(low_K, high_K))) for time_s in times_s)


def shifted(history, by_K):
    return tuple((time_s, temperature_K + by_K) for time_s, temperature_K in history)


@settings(max_examples=60, deadline=None)
@given(resins, vessels, masses_g, temperatures_K, histories(), st.floats(0.1, 15.0), st.floats(0.1, 15.0))
def test_hotter_is_never_longer(law, vessel, mass_g, start_K, history, start_by_K, shop_by_K):
    cool = predict(law, vessel, mass_g=mass_g, start_K=start_K, ambient=history)
    warm = predict(law, vessel, mass_g=mass_g, start_K=start_K + start_by_K, ambient=shifted(history, shop_by_K))
    assert warm.working_s <= cool.working_s * (1 + CLOSE)
    assert warm.gel_s <= cool.gel_s * (1 + CLOSE)


@settings(max_examples=60, deadline=None)
@given(resins, masses_g, temperatures_K, st.floats(0.0, 25.0), st.floats(1.01, 20.0))
def test_started_at_or_above_the_shops_temperature_more_mass_is_never_longer_in_a_cup(
    law, mass_g, shop_K, above_K, times
):
    less, more = (
        predict(law, Vessel.cup(), mass_g=m, start_K=shop_K + above_K, ambient=shop_K) for m in (mass_g, times * mass_g)
    )
    assert more.working_s <= less.working_s * (1 + CLOSE)
    assert more.gel_s <= less.gel_s * (1 + CLOSE)


@settings(max_examples=60, deadline=None)
@given(resins, cups, masses_g, temperatures_K, temperatures_K, st.floats(0.05, 0.95), st.floats(0.0, 20.0))
def test_poured_onto_a_part_no_warmer_than_the_cup_it_never_dies_sooner_than_left_in(
    law, vessel, mass_g, start_K, shop_K, share, cooler_K
):
    left = follow(law, (Stage(vessel, 0.0, shop_K),), mass_g=mass_g, start_K=start_K)
    pour_s = left.working_s * share
    # no warmer than the cup from the pour on: the cup may still cool towards the shop
    part_K = min(left.at(pour_s)[1], shop_K) - cooler_K
    assume(part_K > 250.0)
    poured = follow(
        law, (Stage(vessel, 0.0, shop_K), Stage(Vessel.film(), pour_s, part_K)), mass_g=mass_g, start_K=start_K
    )
    assert poured.working_s >= left.working_s * (1 - CLOSE)
    assert poured.gel_s >= left.gel_s * (1 - CLOSE)


@settings(max_examples=40, deadline=None)
@given(resins, vessels, masses_g, temperatures_K, histories())
def test_conversion_never_decreases(law, vessel, mass_g, start_K, history):
    course = follow(law, (Stage(vessel, 0.0, history),), mass_g=mass_g, start_K=start_K)
    conversions = [conversion for _, conversion, _ in course.samples(40)]
    assert conversions == sorted(conversions)


@settings(max_examples=60, deadline=None)
@given(histories(), st.floats(20e3, 90e3), st.floats(0.0, 2e4), st.floats(0.0, 2e4))
def test_age_never_decreases_and_adds_up(history, energy_J_mol, first_s, second_s):
    low_s, high_s = sorted((first_s, second_s))
    early, late = (dose_s(history, energy_J_mol, until_s=t) for t in (low_s, high_s))
    assert early <= late
    between = dose_s(history, energy_J_mol, from_s=low_s, until_s=high_s)
    assert early + between == pytest.approx(late, rel=1e-9, abs=1e-6)


THROUGH_THE_SHOPS_TEMPERATURE = (
    calibrate_point(
        2321.6, 100.0, 292.0, kinetics=Kinetics(1.0, activation_energy_J_mol=51121.0, heat_J_g=273.0, a0=0.125)
    ),
    Vessel.cup(),
    exp(3.5),
    298.0,
    ((629.0, 279.0), (946.0, 309.0), (1305.0, 310.0)),
    [0.375],
)
"""A mix that is cooler than the shop, then warmer: its loss has a kink where it is neither."""


@settings(max_examples=40, deadline=None)
@given(resins, vessels, masses_g, temperatures_K, histories(), st.lists(st.floats(0.02, 0.98), min_size=1, max_size=3))
@example(*THROUGH_THE_SHOPS_TEMPERATURE)
def test_a_course_cut_anywhere_gives_the_same_answer(law, vessel, mass_g, start_K, history, shares):
    whole = predict(law, vessel, mass_g=mass_g, start_K=start_K, ambient=history)
    cuts_s = sorted({0.0, *(share * whole.gel_s for share in shares)})
    cut = follow(law, [Stage(vessel, at_s, history) for at_s in cuts_s], mass_g=mass_g, start_K=start_K)
    assert cut.working_s == pytest.approx(whole.working_s, rel=CLOSE)
    assert cut.gel_s == pytest.approx(whole.gel_s, rel=CLOSE)
    if vessel.kind != "film":  # a film's peak goes on with the part, beyond the gel
        assert cut.peak_K == pytest.approx(whole.peak_K, abs=0.01)


@settings(max_examples=40, deadline=None)
@given(resins, vessels, masses_g, temperatures_K, histories(), st.floats(0.05, 0.95))
def test_a_point_put_on_a_histories_own_line_changes_nothing(law, vessel, mass_g, start_K, history, share):
    (t0, k0), *rest = history
    assume(rest)
    t1, k1 = rest[0]
    richer = ((t0, k0), (t0 + share * (t1 - t0), k0 + share * (k1 - k0)), *rest)
    plain = predict(law, vessel, mass_g=mass_g, start_K=start_K, ambient=history)
    cut = predict(law, vessel, mass_g=mass_g, start_K=start_K, ambient=richer)
    assert (cut.working_s, cut.gel_s) == pytest.approx((plain.working_s, plain.gel_s), rel=CLOSE)
    assert cut.peak_K == pytest.approx(plain.peak_K, abs=0.01)


@settings(max_examples=40, deadline=None)
@given(resins, cups, masses_g, temperatures_K, temperatures_K)
def test_every_life_lies_between_no_self_heating_and_no_heat_loss(law, vessel, mass_g, start_K, shop_K):
    life = predict(law, vessel, mass_g=mass_g, start_K=start_K, ambient=shop_K)
    coldest_K, hottest_K = min(start_K, shop_K), max(start_K, shop_K)
    assert life.working_s <= film_life_s(law, coldest_K, conversion_end=law.conversion_working) * (1 + CLOSE)
    warmest_K = hottest_K + law.adiabatic_rise_K * law.conversion_working
    assert life.working_s >= film_life_s(law, warmest_K, conversion_end=law.conversion_working)
    assert start_K <= life.peak_K <= life.bound_K
    assert life.working_s < life.gel_s


@settings(max_examples=25, deadline=None)
@given(resins, heated, masses_g, temperatures_K, temperatures_K)
def test_many_cups_at_once_get_as_hot_and_thicken_as_the_single_prediction_says(law, vessel, mass_g, start_K, shop_K):
    one = predict(law, vessel, mass_g=mass_g, start_K=start_K, ambient=shop_K)
    cells = {"mass_g": np.array([mass_g]), "start_K": np.array([start_K]), "ambient_K": np.array([shop_K])}
    assert peaks_K(law, vessel, **cells) == pytest.approx(one.peak_K, abs=0.1)
    assert ageing([(law, AS_SAID)], vessel, **cells).working_s == pytest.approx(one.working_s, rel=1e-3)


@settings(max_examples=60, deadline=None)
@given(resins, st.floats(0.0, 0.99), st.floats(0.0, 0.99))
def test_reduced_time_grows_with_conversion_and_is_undone(law, one, two):
    low, high = sorted((one, two))
    assert reduced_time(law, low) <= reduced_time(law, high)
    ahead = reduced_time(law, high) - reduced_time(law, low)
    assert conversion_after(law, ahead, conversion_start=low) == pytest.approx(high, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(resins, temperatures_K, st.floats(0.0, 1.0), temperatures_K)
def test_what_is_aged_and_what_is_left_make_the_whole(law, first_K, share, then_K):
    whole_s = film_life_s(law, first_K)
    dose = dose_s(first_K, law.activation_energy_J_mol, until_s=share * whole_s)
    left = remaining_s(law, dose, then_K) / film_life_s(law, then_K)
    assert left == pytest.approx(1.0 - share, abs=1e-9)


@settings(max_examples=15, deadline=None)
@given(st.floats(log(600.0), log(28800.0)), masses_g, temperatures_K, temperatures_K)
def test_the_band_holds_the_life_and_an_observation_never_widens_it(log_s, mass_g, start_K, shop_K):
    stated = sheet(type(WARM)(exp(log_s), 150.0, 295.15))
    calibration = calibrate(stated)
    here = {"mass_g": mass_g, "start_K": start_K}
    before = predict_band(calibration, Vessel.cup(), ambient=shop_K, **here)
    assert before.working_s.low <= before.life.working_s <= before.working_s.high
    assert before.gel_s.low <= before.life.gel_s <= before.gel_s.high
    assert before.working_s.low <= before.gel_s.low
    assert before.working_s.high <= before.gel_s.high
    assert before.psi_high > before.life.psi_max
    assert CLASSES.index(before.heat_class_high) >= CLASSES.index(before.life.heat_class)
    seen = learn(calibration, "thickening", before.life.working_s, (Stage(Vessel.cup(), 0.0, shop_K),), **here)
    after = predict_band(seen.calibration, Vessel.cup(), ambient=shop_K, **here)
    assert after.life.working_s == pytest.approx(before.life.working_s, rel=1e-5)
    assert after.working_s.high / after.working_s.low < before.working_s.high / before.working_s.low
