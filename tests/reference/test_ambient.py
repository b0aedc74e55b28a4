"""The shop's air against the Magnus formula's own values and an independent psychrometric library."""

import psychrolib
import pytest
from scipy.optimize import brentq

from layup.chemistry.climate import blush_risk, dew_point_K, saturation_pressure_Pa, surface_margin_K

psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize(
    ("celsius", "humidity", "dew_point"), [(20, 0.50, 9.255), (20, 0.80, 16.442), (25, 0.60, 16.693), (10, 0.70, 4.776)]
)
def test_dew_points_of_the_magnus_formula(celsius, humidity, dew_point):
    # WMO No. 8: e = 6.112 exp(17.62 t/(243.12 + t)) hPa; dew points computed from it.
    assert dew_point_K(celsius + 273.15, humidity) - 273.15 == pytest.approx(dew_point, abs=5e-4)


@pytest.mark.parametrize("humidity", [0.3, 0.5, 0.7, 0.85, 0.95, 1.0])
@pytest.mark.parametrize("celsius", [1.0, 5.0, 12.0, 20.0, 28.0, 36.0, 45.0])
def test_dew_points_above_freezing_agree_with_a_psychrometric_library(celsius, humidity):
    # psychrolib follows the ASHRAE Handbook of Fundamentals; below 0 degC it gives the frost point instead.
    ours = dew_point_K(celsius + 273.15, humidity) - 273.15
    if ours >= 0.05:
        assert ours == pytest.approx(psychrolib.GetTDewPointFromRelHum(celsius, humidity), abs=0.05)
    else:
        assert ours < psychrolib.GetTDewPointFromRelHum(celsius, humidity) + 0.05


@pytest.mark.parametrize("celsius", [0.5, 10.0, 20.0, 30.0, 40.0])
def test_saturation_pressure_agrees_with_a_psychrometric_library(celsius):
    assert saturation_pressure_Pa(celsius + 273.15) == pytest.approx(psychrolib.GetSatVapPres(celsius), rel=0.003)


@pytest.mark.parametrize(("celsius", "humidity"), [(-20.0, 0.6), (9.0, 0.75), (21.0, 0.45), (40.0, 0.2)])
def test_the_dew_point_is_where_the_vapour_saturates(celsius, humidity):
    # Independent: root of the pressure curve by bisection, not the closed form.
    vapour_Pa = humidity * saturation_pressure_Pa(celsius + 273.15)
    root_K = brentq(lambda kelvin: saturation_pressure_Pa(kelvin) - vapour_Pa, 228.15, 333.15, xtol=1e-12)
    assert dew_point_K(celsius + 273.15, humidity) == pytest.approx(root_K, abs=1e-9)


@pytest.mark.parametrize(
    ("surface", "humidity", "risk"),
    [
        (20.0, 0.50, "low"),
        (12.0, 0.50, "high"),  # 2.7 K above the dew point: less than the 3 K of painting practice (ISO 8502-4).
        (9.0, 0.50, "high"),  # Below the dew point of 9.255 degC.
        (20.0, 0.86, "high"),  # Above 85 %: painting practice.
        (20.0, 0.75, "raised"),  # Above 70 %: common practice, no source.
        (14.0, 0.50, "raised"),  # Below 15 degC: common practice, no source.
    ],
)
def test_blush_risk_follows_painting_practice(surface, humidity, risk):
    blush = blush_risk(293.15, humidity, surface + 273.15)
    assert blush.risk == risk
    assert bool(blush.reasons) == (risk != "low")


def test_the_margin_of_a_cold_mould_is_its_height_above_the_dew_point():
    assert surface_margin_K(283.15, 293.15, 0.50) == pytest.approx(10.0 - 9.255, abs=5e-4)
