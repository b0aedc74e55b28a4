"""Viscosity at the shop's temperature, from what a datasheet states."""

from math import exp

import pytest

from layup.chemistry.datasheet import ViscosityPoint
from layup.chemistry.viscosity import viscosity_growth, viscosity_Pa_s
from layup.errors import RangeError

STATED = (ViscosityPoint(0.4, 308.15), ViscosityPoint(1.6, 288.15), ViscosityPoint(0.7, 298.15))


@pytest.mark.parametrize("point", STATED)
def test_stated_values_come_back(point):
    assert viscosity_Pa_s(STATED, point.temperature_K) == pytest.approx(point.viscosity_Pa_s, rel=1e-12)


def test_an_andrade_fluid_is_recovered_between_and_beyond_its_points():
    """Andrade: A exp(B/T), exactly."""

    def fluid(temperature_K):
        return 1e-8 * exp(5400.0 / temperature_K)

    points = [ViscosityPoint(fluid(t), t) for t in (288.15, 303.15)]
    for temperature_K in (279.0, 290.0, 296.0, 312.0):
        assert viscosity_Pa_s(points, temperature_K) == pytest.approx(fluid(temperature_K), rel=1e-9)


def test_one_point_is_carried_on_as_such_mixes_usually_thin():
    one = (ViscosityPoint(0.7, 298.15),)
    assert 1.8 < viscosity_Pa_s(one, 289.15) / 0.7 < 2.2


@pytest.mark.parametrize("temperature_K", [278.0, 318.3])
def test_far_beyond_its_points_it_is_refused(temperature_K):
    with pytest.raises(RangeError, match=r"temperature for a viscosity: is out of range .*\(10 °C beyond"):
        viscosity_Pa_s(STATED, temperature_K)


def test_nothing_stated_is_refused():
    with pytest.raises(RangeError, match="viscosity: is not stated"):
        viscosity_Pa_s((), 298.15)


@pytest.mark.parametrize("second", [ViscosityPoint(0.8, 308.15), ViscosityPoint(0.6, 298.15)])
def test_points_that_contradict_each_other_are_refused(second):
    with pytest.raises(RangeError, match="viscosity: does not fall as the mix warms"):
        viscosity_Pa_s((ViscosityPoint(0.7, 298.15), second), 300.0)


def test_at_the_gel_there_is_no_viscosity():
    with pytest.raises(RangeError, match="conversion: is out of range"):
        viscosity_growth(0.58, 0.58)
