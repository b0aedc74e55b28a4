"""Laws of areal weight: what must hold for any label, coupon and weave, and what is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from smooth_laws import smooth

from layup.chemistry.fabric import (
    areal_weight_from_coupon_g_m2,
    areal_weight_from_label_g_m2,
    areal_weight_from_weave_g_m2,
    tex_from_yield,
)
from layup.errors import InputError, RangeError

labels = st.floats(0.1, 30.0)
counts = st.floats(50.0, 4000.0)
yarns = st.floats(5.0, 1000.0)


@smooth
@given(value=labels)
def test_a_square_foot_holds_a_ninth_of_a_square_yard(value):
    per_foot = areal_weight_from_label_g_m2(value, "oz/ft^2")
    assert per_foot == pytest.approx(9 * areal_weight_from_label_g_m2(value, "oz/yd^2"), rel=1e-12)


@smooth
@given(value=labels, factor=st.floats(0.1, 5.0), unit=st.sampled_from(["oz/yd^2", "oz/ft^2", "g/m^2"]))
def test_a_label_scales_with_its_number(value, factor, unit):
    assert areal_weight_from_label_g_m2(value * factor, unit) == pytest.approx(
        factor * areal_weight_from_label_g_m2(value, unit), rel=1e-12
    )


@smooth
@given(
    value=labels,
    spellings=st.sampled_from(
        [
            ("oz/yd^2", "oz/yd2", "oz/yd²", "OZ / YD^2", "oz/sq yd", "oz/sq. yd.", "oz per square yd"),
            ("oz/ft^2", "oz/ft2", "oz/ft²", "oz/sq ft", "oz per ft^2"),
            ("g/m^2", "g/m2", "g/m²", "gsm", "GSM", "g/sq m", "g per m2"),
        ]
    ),
)
def test_every_obvious_spelling_of_a_unit_means_the_same(value, spellings):
    assert len({areal_weight_from_label_g_m2(value, unit) for unit in spellings}) == 1


@smooth
@given(mass_g=st.floats(0.1, 100.0), side_m=st.floats(0.05, 1.0))
def test_a_coupon_times_its_area_is_its_mass(mass_g, side_m):
    area_m2 = side_m**2
    assert areal_weight_from_coupon_g_m2(mass_g / 100, area_m2) * area_m2 == pytest.approx(mass_g / 100, rel=1e-12)


@smooth
@given(ends=counts, picks=counts, warp=yarns, weft=yarns, crimp=st.floats(0.0, 0.2))
def test_warp_and_weft_may_change_places(ends, picks, warp, weft, crimp):
    one = areal_weight_from_weave_g_m2(ends, picks, warp, weft, crimp)
    assert one == pytest.approx(areal_weight_from_weave_g_m2(picks, ends, weft, warp, crimp), rel=1e-12)


@smooth
@given(ends=counts, picks=counts, warp=yarns, weft=yarns, crimp=st.floats(0.001, 0.2))
def test_crimp_only_adds_yarn(ends, picks, warp, weft, crimp):
    flat = areal_weight_from_weave_g_m2(ends, picks, warp, weft)
    assert areal_weight_from_weave_g_m2(ends, picks, warp, weft, crimp) == pytest.approx(flat * (1 + crimp), rel=1e-12)


@smooth
@given(ends=counts, picks=counts, warp=yarns, weft=yarns)
def test_a_weave_is_the_sum_of_its_two_directions(ends, picks, warp, weft):
    both = areal_weight_from_weave_g_m2(ends, picks, warp, weft)
    apart = areal_weight_from_weave_g_m2(ends, 0.0, warp, weft) + areal_weight_from_weave_g_m2(0.0, picks, warp, weft)
    assert both == pytest.approx(apart, rel=1e-12)


@smooth
@given(yards=st.floats(100.0, 100_000.0))
def test_yield_and_tex_are_inverse(yards):
    # tex times yards per pound is one number, the same for every yarn.
    assert tex_from_yield(yards) * yards == pytest.approx(tex_from_yield(1.0), rel=1e-12)


# -- what is refused, in a builder's words -----------------------------------------------------------------------------


@pytest.mark.parametrize("unit", ["oz", " OZ ", "oz.", "ounces"])
def test_ounces_without_an_area_are_refused_with_both_readings(unit):
    with pytest.raises(InputError, match=r"50\.9 g/m² as oz/yd\^2 \(woven.*457\.7 g/m² as oz/ft\^2 \(chopped mat"):
        areal_weight_from_label_g_m2(1.5, unit)


@pytest.mark.parametrize("unit", ["", "g", "oz/in^2", "lb/yd^2", "m^2/g", "g/cm^2"])
def test_an_unknown_unit_names_those_that_are_known(unit):
    with pytest.raises(InputError, match=r"oz/yd\^2, oz/ft\^2 or g/m\^2 are understood"):
        areal_weight_from_label_g_m2(200.0, unit)


@pytest.mark.parametrize("value", [0.0, -6.0, float("nan"), float("inf")])
def test_a_label_of_nothing_is_refused(value):
    with pytest.raises(RangeError, match=r"areal weight: is (out of range|not a number) .*must be above 0"):
        areal_weight_from_label_g_m2(value, "g/m^2")


def test_a_label_heavier_than_any_cloth_is_a_mistaken_unit():
    with pytest.raises(RangeError, match=r"200000 g/m\^2.*check the units of what was measured"):
        areal_weight_from_label_g_m2(200.0, "kg/m^2")


@pytest.mark.parametrize("mass_g", [0.0, -1.0, float("nan")])
def test_a_coupon_without_mass_is_refused(mass_g):
    with pytest.raises(RangeError, match="coupon mass"):
        areal_weight_from_coupon_g_m2(mass_g, 0.01)


@pytest.mark.parametrize("area_m2", [0.0, -0.01, float("inf")])
def test_a_coupon_without_area_is_refused(area_m2):
    with pytest.raises(RangeError, match=r"coupon area.*a 10 cm square is 0\.01 m\^2"):
        areal_weight_from_coupon_g_m2(2.0, area_m2)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"ends_per_m": -1.0}, "ends"),
        ({"picks_per_m": float("nan")}, "picks: is not a number"),
        ({"warp_tex": 0.0}, "warp yarn"),
        ({"weft_tex": -3.0}, "weft yarn"),
        ({"crimp": 3.0}, r"crimp.*0\.03 for 3 %"),
        ({"crimp": -0.01}, "crimp"),
        ({"ends_per_m": 0.0, "picks_per_m": 0.0}, "areal weight"),
    ],
)
def test_a_weave_that_cannot_be_is_refused(changed, words):
    weave = {"ends_per_m": 2000.0, "picks_per_m": 2000.0, "warp_tex": 22.0, "weft_tex": 22.0, "crimp": 0.0}
    with pytest.raises(RangeError, match=words):
        areal_weight_from_weave_g_m2(**(weave | changed))


@pytest.mark.parametrize("yards", [0.0, -7500.0, 1e7, float("nan")])
def test_a_yarn_yield_outside_its_range_is_refused(yards):
    with pytest.raises(RangeError, match=r"yarn yield.*between 1 and 1000000 yd"):
        tex_from_yield(yards)


@pytest.mark.parametrize("unit", ["g/m^2", "g/sq m", "gsm"])
def test_grams_per_square_metre_are_taken_as_they_are(unit):
    assert areal_weight_from_label_g_m2(200.0, unit) == 200.0


def test_kilograms_per_square_metre_are_a_thousand_grams():
    assert areal_weight_from_label_g_m2(1.2, "kg/m^2") == 1200.0


def test_the_limits_of_a_weave_are_themselves_allowed():
    assert areal_weight_from_weave_g_m2(20_000.0, 0.0, 20.0, 20.0, 0.5) == pytest.approx(600.0)
    assert areal_weight_from_weave_g_m2(0.05, 0.0, 20.0, 20.0) > 0.0
    for crimp in (0.501, 0.54):
        with pytest.raises(RangeError, match=r"crimp.*between 0 and 0\.5"):
            areal_weight_from_weave_g_m2(2000.0, 2000.0, 20.0, 20.0, crimp)
    with pytest.raises(RangeError, match=r"ends.*between 0 and 20000"):
        areal_weight_from_weave_g_m2(20_001.0, 0.0, 20.0, 20.0)
