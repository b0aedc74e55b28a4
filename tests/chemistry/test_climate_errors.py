"""What is refused about the shop's air, and the reasons given for a risk."""

import pytest

from layup.chemistry.climate import blush_risk, dew_point_K, saturation_pressure_Pa, surface_margin_K
from layup.errors import RangeError

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
        "The surface is at or below the dew point (-3.3 K): water settles on it.",
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
