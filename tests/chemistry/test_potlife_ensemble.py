"""Many cups at once against single predictions: the same peaks to 0.1 K; drawn laws spread as the band says."""

from math import exp, log, sqrt

import numpy as np
import pytest
from drawn_laws import draw_kinetics
from potlife_cases import WARM, calibrate_point, sheet

from layup.chemistry.calibration import calibrate
from layup.chemistry.datasheet import FilmPoint
from layup.chemistry.ensemble import ageing, peaks_K
from layup.chemistry.film import film_life_s
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.life_band import predict_band
from layup.chemistry.prediction import Vessel, predict
from layup.chemistry.uncertainty import AS_SAID
from layup.errors import RangeError

LAW = calibrate_point(1800.0, 100.0, 298.15)
CALIBRATION = calibrate(sheet(WARM))


def cells(mass_g, start_K, shop_K):
    return {"mass_g": np.array([mass_g]), "start_K": np.array([start_K]), "ambient_K": np.array([shop_K])}


def random_law(rng):
    law = Kinetics(
        1.0,
        activation_energy_J_mol=rng.uniform(40e3, 75e3),
        heat_J_g=rng.uniform(250, 550),
        a0=exp(rng.uniform(log(0.01), log(0.2))),
    )
    time_s = exp(rng.uniform(log(300), log(28800)))
    return calibrate_point(time_s, rng.choice([100.0, 150.0, 200.0]), rng.uniform(288, 299), kinetics=law)


VESSELS = [Vessel.cup(), Vessel.cup(0.09), Vessel.tray(0.001), Vessel.tray(0.004), Vessel.tray(0.02)]


@pytest.mark.parametrize("seed", range(5))
def test_each_lane_gets_as_hot_as_the_single_prediction(seed):
    rng = np.random.default_rng(seed)
    law = random_law(rng)
    vessel = VESSELS[seed]
    mass_g = np.exp(rng.uniform(log(20), log(2000), 12))
    start_K, shop_K = rng.uniform(278.15, 313.15, (2, 12))
    shop_K[:4] = start_K[:4]
    found_K = peaks_K(law, vessel, mass_g=mass_g, start_K=start_K, ambient_K=shop_K)
    for i in range(12):
        one = predict(law, vessel, mass_g=mass_g[i], start_K=start_K[i], ambient=float(shop_K[i]))
        assert found_K[i] == pytest.approx(one.peak_K, abs=0.1)


def test_laws_of_another_order_are_marched_as_well():
    law = calibrate_point(2700.0, 150.0, 296.15, kinetics=Kinetics(1.0, m=1.3, n=1.6))
    single = predict(law, Vessel.cup(), mass_g=200.0, start_K=293.15, ambient=288.15)
    assert peaks_K(law, Vessel.cup(), **cells(200.0, 293.15, 288.15)) == pytest.approx(single.peak_K, abs=0.1)


def test_draws_spread_as_the_band_says():
    laws = draw_kinetics(CALIBRATION, 2000, seed=1)
    cases = [(law, AS_SAID) for law in laws]
    times_s = ageing(cases, Vessel.cup(), **cells(200.0, 288.15, 288.15)).working_s
    band = predict_band(CALIBRATION, Vessel.cup(), mass_g=200.0, start_K=288.15, ambient=288.15)
    low, high = np.quantile(times_s, [0.1, 0.9])
    assert low == pytest.approx(band.working_s.low, rel=0.05)
    assert high == pytest.approx(band.working_s.high, rel=0.05)
    assert draw_kinetics(CALIBRATION, 5, seed=1) == laws[:5]


def test_a_mix_too_thin_for_a_temperature_is_refused_and_not_wrong_in_silence():
    slow = calibrate_point(28800.0, 100.0, 293.15)
    with pytest.raises(RangeError, match=r"too thin to have a temperature of its own .* film"):
        peaks_K(slow, Vessel.tray(1e-6), **cells(100.0, 293.15, 293.15))


def test_a_film_is_refused_for_it_makes_no_heat_of_its_own():
    with pytest.raises(RangeError, match="film: has no heat of its own to lose"):
        peaks_K(LAW, Vessel.film(), **cells(100.0, 293.15, 293.15))


def test_drawn_laws_close_their_films_where_the_stated_time_is_as_unsure_as_it_is():
    """Its own 10 %, 11 % that it shares with the cup, and 0.7 K of the sheet's test."""
    stated = calibrate(sheet(WARM, films=(FilmPoint(7200.0, 298.15),)))
    laws = draw_kinetics(stated, 8000, seed=6)
    times_s = [film_life_s(law, 298.15, conversion_end=law.conversion_open) for law in laws]
    assert np.std(np.log(times_s)) == pytest.approx(sqrt(0.11**2 + 0.10**2 + 0.053**2), rel=0.08)
    assert np.median(times_s) == pytest.approx(7200.0, rel=0.02)
    assert all(film_life_s(law, 298.15) <= time_s for law, time_s in zip(laws, times_s, strict=True))
