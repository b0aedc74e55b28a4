"""Laws of damp air, saturation, dew points and a risk that only grows as it gets damper; and what is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from smooth_laws import smooth

from layup.chemistry.climate import blush_risk, dew_point_K, saturation_pressure_Pa, surface_margin_K
from layup.errors import RangeError

air = st.floats(253.15, 318.15)
humidity = st.floats(0.05, 1.0)
RANK = {"low": 0, "raised": 1, "high": 2}


@smooth
@given(air_K=air)
def test_saturated_air_is_at_its_dew_point(air_K):
    assert dew_point_K(air_K, 1.0) == air_K
    assert dew_point_K(air_K, 1.0 - 1e-9) == pytest.approx(air_K, abs=1e-6)


@smooth
@given(air_K=air, relative_humidity=humidity)
def test_the_dew_point_is_never_above_the_air(air_K, relative_humidity):
    assert dew_point_K(air_K, relative_humidity) <= air_K + 1e-9


@smooth
@given(air_K=air, relative_humidity=st.floats(0.3, 1.0))
def test_air_cooled_to_its_dew_point_holds_the_same_vapour(air_K, relative_humidity):
    cooled_Pa = saturation_pressure_Pa(dew_point_K(air_K, relative_humidity))
    assert cooled_Pa == pytest.approx(relative_humidity * saturation_pressure_Pa(air_K), rel=1e-12)


@smooth
@given(air_K=air, low=st.floats(0.05, 0.9), step=st.floats(0.001, 0.1))
def test_damper_air_has_a_higher_dew_point(air_K, low, step):
    assert dew_point_K(air_K, low + step) > dew_point_K(air_K, low)


@smooth
@given(air_K=air, step=st.floats(0.01, 10.0), relative_humidity=humidity)
def test_warmer_air_of_the_same_humidity_has_a_higher_dew_point(air_K, step, relative_humidity):
    assert dew_point_K(air_K + step, relative_humidity) > dew_point_K(air_K, relative_humidity)


@smooth
@given(surface_K=air, air_K=air, relative_humidity=humidity, step=st.floats(0.1, 10.0))
def test_the_margin_grows_by_as_much_as_the_surface_is_warmed(surface_K, air_K, relative_humidity, step):
    colder = surface_margin_K(surface_K, air_K, relative_humidity)
    assert surface_margin_K(surface_K + step, air_K, relative_humidity) == pytest.approx(colder + step, abs=1e-9)


@smooth
@given(air_K=st.floats(273.15, 313.15), surface_K=st.floats(273.15, 313.15), low=st.floats(0.05, 0.9))
def test_damper_air_never_lowers_the_risk_of_blush(air_K, surface_K, low):
    drier, damper = blush_risk(air_K, low, surface_K), blush_risk(air_K, low + 0.1, surface_K)
    assert RANK[damper.risk] >= RANK[drier.risk]


@smooth
@given(air_K=st.floats(273.15, 313.15), surface_K=st.floats(280.15, 313.15), rh=humidity, step=st.floats(0.1, 7.0))
def test_a_colder_surface_never_lowers_the_risk_of_blush(air_K, surface_K, rh, step):
    assert RANK[blush_risk(air_K, rh, surface_K - step).risk] >= RANK[blush_risk(air_K, rh, surface_K).risk]


@smooth
@given(air_K=air, relative_humidity=humidity)
def test_a_risk_always_has_its_reason(air_K, relative_humidity):
    blush = blush_risk(air_K, relative_humidity)
    assert (blush.risk == "low") == (blush.reasons == ())


# -- what is refused, in a builder's words -----------------------------------------------------------------------------

NAN = float("nan")


@pytest.mark.parametrize("air_K", [20.0, 0.0, -5.0, 400.0, NAN])
def test_air_outside_the_formula_is_refused_with_its_source(air_K):
    with pytest.raises(RangeError, match=r"air temperature.*WMO No\. 8"):
        dew_point_K(air_K, 0.5)
    with pytest.raises(RangeError, match=r"air temperature.*WMO No\. 8"):
        saturation_pressure_Pa(air_K)


@pytest.mark.parametrize("humidity", [50.0, 0.0, -0.1, 1.01, NAN])
def test_humidity_is_a_share(humidity):
    with pytest.raises(RangeError, match=r"relative humidity.*0\.5 for 50 %"):
        dew_point_K(293.15, humidity)
    with pytest.raises(RangeError, match=r"relative humidity.*0\.5 for 50 %"):
        blush_risk(293.15, humidity)


@pytest.mark.parametrize("surface_K", [10.0, 500.0, NAN])
def test_a_surface_in_other_units_is_refused(surface_K):
    with pytest.raises(RangeError, match="surface temperature"):
        surface_margin_K(surface_K, 293.15, 0.5)


def test_a_wet_mould_and_damp_air_both_give_their_reason():
    blush = blush_risk(293.15, 0.90, 288.15)
    assert blush.risk == "high"
    assert blush.reasons == (
        "The surface is at or below the dew point (-3.3 °C): water settles on it.",
        "The air is damper than 85 % (90 %).",
    )


def test_a_cold_damp_shop_gives_both_lesser_reasons():
    blush = blush_risk(282.15, 0.75)
    assert blush.risk == "raised"
    assert blush.reasons == (
        "The air is damp (75 %).",
        "It is cold (9 °C): the surface stays open to the air for longer.",
    )


def test_a_surface_not_given_is_as_warm_as_the_air():
    assert blush_risk(293.15, 0.6) == blush_risk(293.15, 0.6, 293.15)


@pytest.mark.parametrize(("margin_K", "risk"), [(0.1, "high"), (2.9, "high"), (3.1, "low")])
def test_three_kelvin_above_the_dew_point_is_dry(margin_K, risk):
    assert blush_risk(298.15, 0.6, dew_point_K(298.15, 0.6) + margin_K).risk == risk


def test_the_formula_ends_at_its_limits():
    for air_K in (228.15, 333.15):
        assert dew_point_K(air_K, 0.5) < air_K
    for air_K in (228.1, 333.2):
        with pytest.raises(RangeError, match=r"between -45 and 60 °C"):
            dew_point_K(air_K, 0.5)
