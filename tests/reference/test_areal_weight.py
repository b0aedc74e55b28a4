"""Areal weight against exact units, yarn tables and woven styles."""

import pint
import pytest
from scipy import constants

from layup.chemistry.fabric import (
    areal_weight_from_coupon_g_m2,
    areal_weight_from_label_g_m2,
    areal_weight_from_weave_g_m2,
    tex_from_yarn_code,
    tex_from_yield,
)

UNITS = pint.get_application_registry()
INCH_M = 0.0254


@pytest.mark.parametrize(("unit", "expected"), [("oz/yd^2", 33.905747), ("oz/ft^2", 305.151727)])
def test_an_ounce_per_area_is_the_exact_pound_and_yard(unit, expected):
    # International yard and pound agreement, 1959 (exact), to the digits given.
    assert areal_weight_from_label_g_m2(1.0, unit) == pytest.approx(expected, abs=5e-7)


def test_an_ounce_per_area_agrees_with_two_general_unit_libraries():
    by_pint = UNITS.Quantity(1.0, "ounce / yard**2").to("g/m^2").magnitude
    by_scipy = 1000.0 * constants.oz / constants.yard**2
    assert areal_weight_from_label_g_m2(1.0, "oz/yd^2") == pytest.approx(by_pint, rel=1e-14)
    assert areal_weight_from_label_g_m2(1.0, "oz/yd^2") == pytest.approx(by_scipy, rel=1e-14)
    assert areal_weight_from_label_g_m2(1.0, "oz/ft^2") == pytest.approx(
        UNITS.Quantity(1.0, "ounce / foot**2").to("g/m^2").magnitude, rel=1e-14
    )


def test_the_two_readings_of_one_and_a_half_ounces_are_mat_and_cloth():
    # US trade: mat in oz/ft^2, every other fabric in oz/yd^2 (naval-architecture practice).
    assert round(areal_weight_from_label_g_m2(1.5, "oz/ft^2")) == 458
    assert round(areal_weight_from_label_g_m2(1.5, "oz/yd^2")) == 51


@pytest.mark.parametrize(("yards_per_pound", "tex"), [(3700, 134), (7500, 66), (15000, 33)])
def test_glass_yarn_yields_match_a_yarn_table(yards_per_pound, tex):
    # Yarn makers' tables of yield against rounded tex agree to 0.6 %.
    assert tex_from_yield(yards_per_pound) == pytest.approx(tex, rel=0.006)


@pytest.mark.parametrize(
    ("code_number", "tex"), [(75, 66.14), (450, 11.02), (225, 22.05), (900, 5.512)], ids=["G75", "D450", "E225", "D900"]
)
def test_us_yarn_codes_give_their_tex(code_number, tex):
    # ASTM D578 code, from memory: the number times 100 is the yield in yards per pound. Values computed exactly.
    assert tex_from_yield(100 * code_number) == pytest.approx(tex, rel=5e-4)


def test_yield_and_denier_agree_with_pint():
    yarn = UNITS.Quantity(1 / 7500, "pound / yard")
    assert tex_from_yield(7500) == pytest.approx(yarn.to("g/km").magnitude, rel=1e-14)
    # 1 tex is 9 denier (ISO 2947), denier being the mass in grams of 9000 m.
    assert 9 * tex_from_yield(7500) == pytest.approx(9000 * yarn.to("g/m").magnitude, rel=1e-14)


@pytest.mark.parametrize(
    ("ends", "picks", "warp_yield", "weft_yield", "bare", "published"),
    [
        (56, 56, 90000, 90000, 24.3, 24.4),
        (60, 56, 22500, 45000, 76.4, 78.0),
        (52, 52, 15000, 15000, 135.4, 138.3),
    ],
    ids=["style 106", "style 2113", "style 1652"],
)
def test_woven_glass_styles_weigh_what_their_weave_says(ends, picks, warp_yield, weft_yield, bare, published):
    count = ends / INCH_M, picks / INCH_M
    yarns = tex_from_yield(warp_yield), tex_from_yield(weft_yield)
    weight_g_m2 = areal_weight_from_weave_g_m2(*count, *yarns)
    assert weight_g_m2 == pytest.approx(bare, abs=0.06)  # Counts and yarns of IPC-4412, computed.
    # Masses of IPC-4412 from memory, so a band: crimp and size put them 0 to 5 % above the bare yarn.
    assert 1.0 <= published / weight_g_m2 <= 1.05


@pytest.mark.parametrize(
    ("code", "tex"),
    [
        ("G75", 66.14),
        ("ECG75", 66.14),
        ("ECG75-1/0", 66.14),
        ("ECG 150 1/0", 33.07),
        ("ECG 150 1/2", 66.14),
        ("ECG150-1/2 3.8S", 66.14),
        ("ECG 75 1/2", 132.28),
        ("ECDE 75-1/0", 66.14),
        ("D450", 11.02),
        ("ECE225-1/0", 22.05),
        ("ECD 900 1/0 1.0Z", 5.512),
        ("ECG 150 3/2", 198.42),
        ("E C G 75 1/2 2.8 S", 132.28),
    ],
)
def test_the_strands_of_a_us_yarn_code_add_up(code, tex):
    # Yields by ASTM D578, computed with the exact pound and yard; strands are twisted x plied (ASTM D578, from memory).
    assert tex_from_yarn_code(code) == pytest.approx(tex, rel=5e-4)


@pytest.mark.parametrize(
    ("code", "tex"),
    [("EC9 68", 68), ("EC5 11", 11), ("EC9-34x2", 68), ("EC9 34 Z40 x 2 S150", 68), ("E C 9 68 1×2 112 S", 136)],
)
def test_a_tex_yarn_code_states_its_strands(code, tex):
    # ISO 2078, from memory: glass and form, filament in micrometres, tex of one strand, strands.
    assert tex_from_yarn_code(code) == pytest.approx(tex)


@pytest.mark.parametrize(
    ("us", "by_tex"),
    [("ECG75-1/0", "EC9 68"), ("ECE225-1/0", "EC7 22"), ("ECD450-1/0", "EC5 11"), ("ECG37-1/0", "EC9 136")],
)
def test_the_two_yarn_codes_of_one_yarn_agree(us, by_tex):
    # Pairs as yarn makers' tables list them, from memory: the rounded tex lies within 3 % of the yield.
    assert tex_from_yarn_code(us) == pytest.approx(tex_from_yarn_code(by_tex), rel=0.03)


@pytest.mark.parametrize(
    ("ends", "picks", "yarn", "published"),
    [
        (57, 54, "ECDE75-1/0", 303.0),
        (57, 54, "ECG150-1/2", 303.0),
        (18, 18, "ECG75-1/2", 197.0),
        (24, 22, "ECG150-1/2", 124.0),
    ],
    ids=["style 7781", "style 1581", "style 7533", "style 1522"],
)
def test_cloth_of_plied_yarn_weighs_what_its_code_says(ends, picks, yarn, published):
    tex = tex_from_yarn_code(yarn)
    weight_g_m2 = areal_weight_from_weave_g_m2(ends / INCH_M, picks / INCH_M, tex, tex)
    # Counts, yarns and masses of the trade's style tables from memory, so a band: crimp and size add 0 to 5 %.
    assert 1.0 <= published / weight_g_m2 <= 1.055


def test_a_weave_agrees_with_pint():
    by_pint = 60 / UNITS.inch * UNITS.Quantity(22.05, "g/km") + 56 / UNITS.inch * UNITS.Quantity(11.02, "g/km")
    assert areal_weight_from_weave_g_m2(60 / INCH_M, 56 / INCH_M, 22.05, 11.02) == pytest.approx(
        by_pint.to("g/m^2").magnitude, rel=1e-14
    )


def test_a_coupon_of_the_standard_size_gives_its_label():
    # ISO 3374 takes pieces of 100 cm^2 or more; 6 oz/yd^2 cloth is 203.434 g/m^2 (exact units).
    assert areal_weight_from_coupon_g_m2(2.03434, 0.01) == pytest.approx(
        areal_weight_from_label_g_m2(6, "oz/yd^2"), rel=1e-5
    )
