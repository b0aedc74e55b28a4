"""How hot a cup gets: never above its adiabatic limit, and how much of it rests on terms that are left out."""

from math import log

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from layup.chemistry.calibration import calibrate
from layup.chemistry.prediction import Vessel, heat_class, heat_loss_of, predict
from layup.files.workshop import Workshop, demo_root

HERE_K = 293.15
LAW = calibrate(Workshop(demo_root()).resin("slow-laminating")).kinetics


def cup_by_scipy(mass_g, *, cp_growth_per_K=0.0, cup_g=0.0):
    """Return the peak [K] and the time to thickening [s] of a cup whose own 1.5 J/(g K) and whose cp are counted."""
    loss = heat_loss_of(LAW, Vessel.cup(), mass_g)

    def slopes(_, state):
        a, x = state
        rate = LAW.rate_constant_per_s(HERE_K + x) * LAW.shape(a)
        heavier = 1.0 + cp_growth_per_K * x + cup_g * 1.5 / (mass_g * LAW.specific_heat_J_g_K)
        return rate, (LAW.adiabatic_rise_K * rate - x * (1.0 + loss.growth_per_K * x) / loss.tau_s) / heavier

    run = solve_ivp(slopes, (0.0, 40_000.0), (0.0, 0.0), method="LSODA", rtol=1e-8, atol=1e-8)
    return HERE_K + run.y[1].max(), float(np.interp(LAW.conversion_working, run.y[0], run.t))


@pytest.mark.parametrize("mass_g", [50.0, 300.0, 5000.0])
def test_a_peak_is_that_of_scipy_and_below_all_its_heat_at_once(mass_g):
    life = predict(LAW, Vessel.cup(), mass_g=mass_g, start_K=HERE_K, ambient=HERE_K)
    peak_K, working_s = cup_by_scipy(mass_g)
    assert life.peak_K == pytest.approx(peak_K, abs=0.5)
    assert life.working_s == pytest.approx(working_s, rel=2e-3)
    assert life.peak_K < HERE_K + LAW.heat_J_g / LAW.specific_heat_J_g_K == pytest.approx(life.bound_K)


def test_an_immense_cup_comes_near_its_adiabatic_limit_at_its_adiabatic_time():
    """By quad of scipy: t = int da/(k(T0 + dH a/cp) f(a)) without any loss."""
    life = predict(LAW, Vessel.cup(), mass_g=1e6, start_K=HERE_K, ambient=HERE_K)
    alone_s = quad(
        lambda a: 1.0 / (LAW.rate_constant_per_s(HERE_K + LAW.adiabatic_rise_K * a) * LAW.shape(a)),
        0.0,
        LAW.conversion_working,
    )[0]
    assert life.bound_K - life.peak_K < 5.0
    assert abs(log(life.working_s / alone_s)) < 0.02


@pytest.mark.parametrize(
    ("cp_growth_per_K", "cup_g", "cooler_K"), [(0.002, 0.0, (25, 40)), (0.0035, 0.0, (40, 55)), (0.0, 4.0, (8, 18))]
)
def test_what_is_left_out_makes_a_peak_an_upper_one_and_hardly_moves_its_time(cp_growth_per_K, cup_g, cooler_K):
    """A specific heat that grows by 0.2 to 0.35 % a kelvin, 4 g of paper cup: from memory, so not in the model."""
    plain_K, plain_s = cup_by_scipy(50.0)
    peak_K, working_s = cup_by_scipy(50.0, cp_growth_per_K=cp_growth_per_K, cup_g=cup_g)
    assert cooler_K[0] < plain_K - peak_K < cooler_K[1]
    assert 1.0 < working_s / plain_s < 1.04
    assert heat_class(1.0, plain_K) == heat_class(1.0, peak_K) == "runaway", "the word does not rest on it"
