"""Cups on members against the engine's own integrator, one at a time at a thousand times its usual tolerance."""

from dataclasses import replace

import numpy as np
import pytest
from plan_examples import FAST, SLOW

from layup.chemistry.calibration import calibrate
from layup.chemistry.ensemble import ageing, cases_of, sd_of
from layup.chemistry.kinetics import reduced_time, unstretch
from layup.chemistry.life_band import psi_at_the_edge
from layup.chemistry.prediction import Vessel, heated_course
from layup.chemistry.uncertainty import EIGHTY_PERCENT, Use, log_sd
from layup.errors import RangeError

CALIBRATIONS = {sheet.id: calibrate(sheet) for sheet in (SLOW, FAST)}
CELLS = {"mass_g": [8.0, 100.0, 900.0], "start_K": [278.15, 300.15, 293.15], "ambient_K": [278.15, 290.15, 308.15]}
HELD = (0.0, 0.1, 0.5, 0.9, 1.0)


def in_ensemble(cases, vessel):
    return ageing(cases, vessel, **{name: np.array(values) for name, values in CELLS.items()})


@pytest.mark.parametrize("order", [(1.0, 2.0), (1.1, 1.8)], ids=["default order", "any order"])
@pytest.mark.parametrize("vessel", [Vessel.cup(), Vessel.tray(0.004)], ids=["cup", "tray"])
@pytest.mark.parametrize("resin", CALIBRATIONS)
def test_lanes_thicken_and_stay_open_as_single_courses_do(resin, vessel, order):
    law = replace(CALIBRATIONS[resin].kinetics, m=order[0], n=order[1])
    cases = [(law, Use()), (replace(law, a0=0.07), Use()), (law, Use(1.05, -0.75))]
    part_K = np.array([283.15, 293.15, 303.15])
    ensemble = in_ensemble(cases, vessel)
    left_s = ensemble.left_s(np.array(HELD)[:, None, None] * ensemble.working_s, part_K)
    for row, (kinetics, use) in enumerate(cases):
        for column, (mass_g, start_K, shop_K) in enumerate(zip(*CELLS.values(), strict=True)):
            end = kinetics.conversion_working
            at = {"mass_g": use.mass_g(mass_g), "start_K": use.start_K(start_K), "ambient": shop_K}
            course = heated_course(kinetics, vessel, **at, conversion_end=end, tolerance=1e-10)
            assert ensemble.working_s[row, column] == pytest.approx(course.last.time_s, rel=1e-4)
            whole = reduced_time(kinetics, kinetics.conversion_film)
            for share, left in zip(HELD, left_s[:, row, column], strict=True):
                aged = reduced_time(kinetics, unstretch(course.at_time(share * course.last.time_s).y, kinetics.a0))
                rate_per_s = kinetics.rate_constant_per_s(part_K[column])
                assert left * rate_per_s == pytest.approx(whole - aged, abs=1e-3 * whole)


def test_what_is_held_beyond_thickening_counts_as_its_end():
    ensemble = in_ensemble(cases_of(CALIBRATIONS["slow"]), Vessel.cup())
    part_K = np.array(CELLS["ambient_K"])
    assert ensemble.left_s(2.0 * ensemble.working_s, part_K) == pytest.approx(
        ensemble.left_s(ensemble.working_s, part_K)
    )


@pytest.mark.parametrize("resin", CALIBRATIONS)
def test_bands_and_semenovs_number_of_lanes_are_those_of_one_cup(resin):
    calibration = CALIBRATIONS[resin]
    ensemble = in_ensemble(cases_of(calibration), Vessel.cup())
    sds = sd_of(np.log(ensemble.psi), calibration)
    changes = np.log(ensemble.psi[2::2, 1] / ensemble.psi[1::2, 1]).tolist()
    assert sds[1] == pytest.approx(log_sd(changes, calibration.covariance_in_use), rel=1e-12)
    for column, (mass_g, start_K, shop_K) in enumerate(zip(*CELLS.values(), strict=True)):
        edge = psi_at_the_edge(calibration, Vessel.cup(), mass_g, max(start_K, shop_K))
        assert ensemble.psi[0, column] * np.exp(EIGHTY_PERCENT * sds[column]) == pytest.approx(edge, rel=1e-9)


def test_a_tray_too_thin_to_have_a_temperature_of_its_own_is_refused():
    with pytest.raises(RangeError, match="too thin to have a temperature of its own"):
        in_ensemble(cases_of(CALIBRATIONS["slow"]), Vessel.tray(1e-7))
