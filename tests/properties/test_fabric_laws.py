"""Laws of areal weight: what must hold for any label, coupon and weave."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layup.chemistry.fabric import (
    areal_weight_from_coupon_g_m2,
    areal_weight_from_label_g_m2,
    areal_weight_from_weave_g_m2,
    tex_from_yield,
)

labels = st.floats(0.1, 30.0)
counts = st.floats(50.0, 4000.0)
yarns = st.floats(5.0, 1000.0)


@given(value=labels)
def test_a_square_foot_holds_a_ninth_of_a_square_yard(value):
    per_foot = areal_weight_from_label_g_m2(value, "oz/ft^2")
    assert per_foot == pytest.approx(9 * areal_weight_from_label_g_m2(value, "oz/yd^2"), rel=1e-12)


@given(value=labels, factor=st.floats(0.1, 5.0), unit=st.sampled_from(["oz/yd^2", "oz/ft^2", "g/m^2"]))
def test_a_label_scales_with_its_number(value, factor, unit):
    assert areal_weight_from_label_g_m2(value * factor, unit) == pytest.approx(
        factor * areal_weight_from_label_g_m2(value, unit), rel=1e-12
    )


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


@given(mass_g=st.floats(0.1, 100.0), side_m=st.floats(0.05, 1.0))
def test_a_coupon_times_its_area_is_its_mass(mass_g, side_m):
    area_m2 = side_m**2
    assert areal_weight_from_coupon_g_m2(mass_g / 100, area_m2) * area_m2 == pytest.approx(mass_g / 100, rel=1e-12)


@given(ends=counts, picks=counts, warp=yarns, weft=yarns, crimp=st.floats(0.0, 0.2))
def test_warp_and_weft_may_change_places(ends, picks, warp, weft, crimp):
    one = areal_weight_from_weave_g_m2(ends, picks, warp, weft, crimp)
    assert one == pytest.approx(areal_weight_from_weave_g_m2(picks, ends, weft, warp, crimp), rel=1e-12)


@given(ends=counts, picks=counts, warp=yarns, weft=yarns, crimp=st.floats(0.001, 0.2))
def test_crimp_only_adds_yarn(ends, picks, warp, weft, crimp):
    flat = areal_weight_from_weave_g_m2(ends, picks, warp, weft)
    assert areal_weight_from_weave_g_m2(ends, picks, warp, weft, crimp) == pytest.approx(flat * (1 + crimp), rel=1e-12)


@given(ends=counts, picks=counts, warp=yarns, weft=yarns)
def test_a_weave_is_the_sum_of_its_two_directions(ends, picks, warp, weft):
    both = areal_weight_from_weave_g_m2(ends, picks, warp, weft)
    apart = areal_weight_from_weave_g_m2(ends, 0.0, warp, weft) + areal_weight_from_weave_g_m2(0.0, picks, warp, weft)
    assert both == pytest.approx(apart, rel=1e-12)


@given(yards=st.floats(100.0, 100_000.0))
def test_yield_and_tex_are_inverse(yards):
    # tex times yards per pound is one number, the same for every yarn.
    assert tex_from_yield(yards) * yards == pytest.approx(tex_from_yield(1.0), rel=1e-12)
