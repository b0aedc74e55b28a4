"""The ensemble against single predictions: the same equations to 0.1 % in times and 0.1 K in peaks."""

from dataclasses import replace
from math import exp, log, sqrt

import numpy as np
import pytest
from drawn_laws import draw_kinetics
from potlife_cases import WARM, calibrate_point, sheet

from layup.chemistry.calibration import calibrate
from layup.chemistry.datasheet import FilmPoint
from layup.chemistry.film import film_life_s
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.lanes import ensemble
from layup.chemistry.life_band import predict_band
from layup.chemistry.prediction import predict
from layup.chemistry.vessel import Vessel
from layup.errors import RangeError

LAW = calibrate_point(1800.0, 100.0, 298.15)
CALIBRATION = calibrate(sheet(WARM))


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
@pytest.mark.parametrize("begun", [0.0, 0.15])
def test_each_lane_is_the_single_prediction(seed, begun):
    rng = np.random.default_rng(seed)
    law = random_law(rng)
    vessel = VESSELS[seed]
    mass_g = np.exp(rng.uniform(log(20), log(2000), 12))
    start_K, shop_K = rng.uniform(278.15, 313.15, (2, 12))
    shop_K[:4] = start_K[:4]
    lives = ensemble(law, vessel, mass_g=mass_g, start_K=start_K, ambient_K=shop_K, conversion_start=begun)
    for i in range(12):
        one = predict(
            law, vessel, mass_g=mass_g[i], start_K=start_K[i], ambient=float(shop_K[i]), conversion_start=begun
        )
        assert lives.working_s[i] == pytest.approx(one.working_s, rel=1e-3)
        assert lives.gel_s[i] == pytest.approx(one.gel_s, rel=1e-3)
        assert lives.peak_K[i] == pytest.approx(one.peak_K, abs=0.1)


@pytest.mark.parametrize("hours", [0.5, 8.0])
def test_a_grid_of_draws_masses_and_temperatures_is_right_all_over(hours):
    calibration = calibrate(sheet(replace(WARM, time_s=hours * 3600.0, temperature_K=293.15)))
    laws = draw_kinetics(calibration, 20, seed=3)
    shop_K = np.linspace(278.15, 313.15, 9)[:, np.newaxis]
    mass_g = np.geomspace(20, 2000, 8)
    lives = ensemble(laws, Vessel.cup(), mass_g=mass_g, start_K=shop_K, ambient_K=shop_K)
    assert lives.working_s.shape == (20, 9, 8)
    for law, row in zip(laws, lives.working_s, strict=True):
        for i, j in ((0, 0), (4, 3), (8, 7)):
            here_K = float(shop_K[i, 0])
            one = predict(law, Vessel.cup(), mass_g=float(mass_g[j]), start_K=here_K, ambient=here_K)
            assert row[i, j] == pytest.approx(one.working_s, rel=1e-3)


def test_laws_of_another_order_are_marched_as_well():
    law = calibrate_point(2700.0, 150.0, 296.15, kinetics=Kinetics(1.0, m=1.3, n=1.6))
    lives = ensemble([law, LAW], Vessel.cup(), mass_g=200.0, start_K=293.15, ambient_K=288.15)
    for i, one in enumerate((law, LAW)):
        single = predict(one, Vessel.cup(), mass_g=200.0, start_K=293.15, ambient=288.15)
        assert lives.gel_s[i] == pytest.approx(single.gel_s, rel=1e-3)


def test_lanes_beyond_one_chunk_are_all_filled():
    mass_g = np.geomspace(20, 2000, 9_000)
    lives = ensemble(LAW, Vessel.cup(), mass_g=mass_g, start_K=298.15, ambient_K=298.15)
    assert lives.working_s.shape == mass_g.shape
    assert np.all(np.diff(lives.working_s) < 0)
    assert np.all(lives.gel_s > lives.working_s)


def test_a_scalar_question_has_a_scalar_answer():
    lives = ensemble(LAW, Vessel.cup(), mass_g=100.0, start_K=298.15, ambient_K=298.15)
    assert lives.working_s.shape == ()
    assert float(lives.working_s) == pytest.approx(1800.0, rel=1e-3)


def test_draws_spread_as_the_band_says():
    laws = draw_kinetics(CALIBRATION, 2000, seed=1)
    times_s = ensemble(laws, Vessel.cup(), mass_g=200.0, start_K=288.15, ambient_K=288.15).working_s
    band = predict_band(CALIBRATION, Vessel.cup(), mass_g=200.0, start_K=288.15, ambient=288.15)
    low, high = np.quantile(times_s, [0.1, 0.9])
    assert low == pytest.approx(band.working_s.low, rel=0.05)
    assert high == pytest.approx(band.working_s.high, rel=0.05)
    assert draw_kinetics(CALIBRATION, 5, seed=1) == laws[:5]


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"mass_g": [100.0, 0.0]}, "mass of mix"),
        ({"start_K": [20.0, 298.0]}, "start temperature"),
        ({"ambient_K": [298.0, float("nan")]}, "temperature"),
        ({"conversion_start": 1.0}, "conversion at the start"),
    ],
)
def test_impossible_lanes_are_refused_by_name(change, named):
    values = {"mass_g": 100.0, "start_K": 298.15, "ambient_K": 298.15}
    with pytest.raises(RangeError, match=named):
        ensemble(LAW, Vessel.cup(), **{**values, **change})


def test_a_mix_too_thin_for_a_temperature_is_refused_and_not_wrong_in_silence():
    slow = calibrate_point(28800.0, 100.0, 293.15)
    with pytest.raises(RangeError, match=r"too thin to have a temperature of its own .* film"):
        ensemble(slow, Vessel.tray(1e-6), mass_g=100.0, start_K=293.15, ambient_K=293.15)


def test_a_film_is_refused_for_it_makes_no_heat_of_its_own():
    with pytest.raises(RangeError, match="film: has no heat of its own to lose"):
        ensemble(LAW, Vessel.film(), mass_g=100.0, start_K=293.15, ambient_K=293.15)


def test_drawn_laws_close_their_films_where_the_stated_time_is_as_unsure_as_it_is():
    """Its own 10 %, 11 % that it shares with the cup, and 0.7 K of the sheet's test."""
    stated = calibrate(sheet(WARM, films=(FilmPoint(7200.0, 298.15),)))
    laws = draw_kinetics(stated, 8000, seed=6)
    times_s = [film_life_s(law, 298.15, conversion_end=law.conversion_open) for law in laws]
    assert np.std(np.log(times_s)) == pytest.approx(sqrt(0.11**2 + 0.10**2 + 0.053**2), rel=0.08)
    assert np.median(times_s) == pytest.approx(7200.0, rel=0.02)
    assert all(film_life_s(law, 298.15) <= time_s for law, time_s in zip(laws, times_s, strict=True))
