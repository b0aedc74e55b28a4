"""Laws of damp air: saturation, monotone dew points, and a risk that only grows as it gets damper or colder."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layup.chemistry.climate import blush_risk, dew_point_K, saturation_pressure_Pa, surface_margin_K

air = st.floats(253.15, 318.15)
humidity = st.floats(0.05, 1.0)
RANK = {"low": 0, "raised": 1, "high": 2}


@given(air_K=air)
def test_saturated_air_is_at_its_dew_point(air_K):
    assert dew_point_K(air_K, 1.0) == air_K
    assert dew_point_K(air_K, 1.0 - 1e-9) == pytest.approx(air_K, abs=1e-6)


@given(air_K=air, relative_humidity=humidity)
def test_the_dew_point_is_never_above_the_air(air_K, relative_humidity):
    assert dew_point_K(air_K, relative_humidity) <= air_K + 1e-9


@given(air_K=air, relative_humidity=st.floats(0.3, 1.0))
def test_air_cooled_to_its_dew_point_holds_the_same_vapour(air_K, relative_humidity):
    cooled_Pa = saturation_pressure_Pa(dew_point_K(air_K, relative_humidity))
    assert cooled_Pa == pytest.approx(relative_humidity * saturation_pressure_Pa(air_K), rel=1e-12)


@given(air_K=air, low=st.floats(0.05, 0.9), step=st.floats(0.001, 0.1))
def test_damper_air_has_a_higher_dew_point(air_K, low, step):
    assert dew_point_K(air_K, low + step) > dew_point_K(air_K, low)


@given(air_K=air, step=st.floats(0.01, 10.0), relative_humidity=humidity)
def test_warmer_air_of_the_same_humidity_has_a_higher_dew_point(air_K, step, relative_humidity):
    assert dew_point_K(air_K + step, relative_humidity) > dew_point_K(air_K, relative_humidity)


@given(surface_K=air, air_K=air, relative_humidity=humidity, step=st.floats(0.1, 10.0))
def test_the_margin_grows_by_as_much_as_the_surface_is_warmed(surface_K, air_K, relative_humidity, step):
    colder = surface_margin_K(surface_K, air_K, relative_humidity)
    assert surface_margin_K(surface_K + step, air_K, relative_humidity) == pytest.approx(colder + step, abs=1e-9)


@given(air_K=st.floats(273.15, 313.15), surface_K=st.floats(273.15, 313.15), low=st.floats(0.05, 0.9))
def test_damper_air_never_lowers_the_risk_of_blush(air_K, surface_K, low):
    drier, damper = blush_risk(air_K, low, surface_K), blush_risk(air_K, low + 0.1, surface_K)
    assert RANK[damper.risk] >= RANK[drier.risk]


@given(air_K=st.floats(273.15, 313.15), surface_K=st.floats(280.15, 313.15), rh=humidity, step=st.floats(0.1, 7.0))
def test_a_colder_surface_never_lowers_the_risk_of_blush(air_K, surface_K, rh, step):
    assert RANK[blush_risk(air_K, rh, surface_K - step).risk] >= RANK[blush_risk(air_K, rh, surface_K).risk]


@given(air_K=air, relative_humidity=humidity)
def test_a_risk_always_has_its_reason(air_K, relative_humidity):
    blush = blush_risk(air_K, relative_humidity)
    assert (blush.risk == "low") == (blush.reasons == ())
