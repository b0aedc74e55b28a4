"""Laws of a laminate: round trips, conservation of mass and volume, monotone answers; and what is refused."""

from math import nextafter

import pytest
from hypothesis import given
from hypothesis import strategies as st
from smooth_laws import smooth

from layup.chemistry.laminate import (
    HEXAGONAL_PACKING,
    SQUARE_PACKING,
    fibre_mass_fraction,
    fibre_volume_fraction,
    laminate_density_g_cm3,
    ply_thickness_m,
    require_target_fraction,
    resin_areal_weight_g_m2,
    void_fraction,
)
from layup.errors import RangeError

volumes = st.floats(0.001, HEXAGONAL_PACKING)
fibres = st.floats(0.9, 8.0)
matrices = st.floats(0.5, 3.0)
cloths = st.floats(5.0, 3000.0)


@smooth
@given(by_volume=volumes, fibre=fibres, matrix=matrices)
def test_a_fraction_by_volume_survives_the_way_there_and_back(by_volume, fibre, matrix):
    by_mass = fibre_mass_fraction(by_volume, fibre, matrix)
    assert fibre_volume_fraction(by_mass, fibre, matrix) == pytest.approx(by_volume, rel=1e-12)


@smooth
@given(by_volume=st.floats(0.0, 0.90), step=st.floats(1e-6, 0.006), fibre=fibres, matrix=matrices)
def test_more_fibre_by_volume_is_more_by_mass(by_volume, step, fibre, matrix):
    assert fibre_mass_fraction(by_volume + step, fibre, matrix) > fibre_mass_fraction(by_volume, fibre, matrix)


@smooth
@given(by_volume=volumes, density=st.floats(0.9, 3.0))
def test_equal_densities_make_both_fractions_equal(by_volume, density):
    assert fibre_mass_fraction(by_volume, density, density) == pytest.approx(by_volume, rel=1e-12)


@smooth
@given(by_volume=volumes, fibre=fibres, matrix=matrices)
def test_the_heavier_part_has_the_larger_share_by_mass(by_volume, fibre, matrix):
    by_mass = fibre_mass_fraction(by_volume, fibre, matrix)
    assert (by_mass - by_volume) * (fibre - matrix) >= -1e-12


@smooth
@given(cloth=cloths, by_volume=volumes, fibre=fibres, matrix=matrices)
def test_resin_and_cloth_make_up_the_fraction(cloth, by_volume, fibre, matrix):
    by_mass = fibre_mass_fraction(by_volume, fibre, matrix)
    resin_g_m2 = resin_areal_weight_g_m2(cloth, by_mass)
    assert cloth / (cloth + resin_g_m2) == pytest.approx(by_mass, rel=1e-12)


@smooth
@given(cloth=cloths, by_volume=volumes, fibre=fibres, matrix=matrices)
def test_a_square_metre_of_ply_weighs_its_density_times_its_thickness(cloth, by_volume, fibre, matrix):
    by_mass = fibre_mass_fraction(by_volume, fibre, matrix)
    thickness_m = ply_thickness_m(cloth, by_mass, fibre, matrix)
    grams = thickness_m * 1e6 * laminate_density_g_cm3(by_mass, fibre, matrix)
    assert grams == pytest.approx(cloth + resin_areal_weight_g_m2(cloth, by_mass), rel=1e-12)


@smooth
@given(cloth=cloths, by_volume=volumes, fibre=fibres, matrix=matrices)
def test_the_fibre_alone_fills_its_share_of_the_thickness(cloth, by_volume, fibre, matrix):
    by_mass = fibre_mass_fraction(by_volume, fibre, matrix)
    assert 1e-6 * cloth / fibre == pytest.approx(by_volume * ply_thickness_m(cloth, by_mass, fibre, matrix), rel=1e-11)


@smooth
@given(cloth=cloths, factor=st.floats(1.01, 4.0), by_volume=volumes, fibre=fibres, matrix=matrices)
def test_thickness_and_resin_scale_with_the_cloth(cloth, factor, by_volume, fibre, matrix):
    by_mass = fibre_mass_fraction(by_volume, fibre, matrix)
    assert ply_thickness_m(cloth * factor, by_mass, fibre, matrix) == pytest.approx(
        factor * ply_thickness_m(cloth, by_mass, fibre, matrix), rel=1e-12
    )
    assert resin_areal_weight_g_m2(cloth * factor, by_mass) == pytest.approx(
        factor * resin_areal_weight_g_m2(cloth, by_mass), rel=1e-12
    )


@smooth
@given(cloth=cloths, low=st.floats(0.2, 0.6), step=st.floats(0.001, 0.1))
def test_a_drier_ply_is_thinner(cloth, low, step):
    assert ply_thickness_m(cloth, low + step, 2.54, 1.15) < ply_thickness_m(cloth, low, 2.54, 1.15)


@smooth
@given(voids=st.floats(0.0, 0.5), by_volume=st.floats(0.05, 0.85), fibre=fibres, matrix=matrices)
def test_voids_put_in_are_found_again(voids, by_volume, fibre, matrix):
    by_mass = fibre_mass_fraction(by_volume, fibre, matrix)
    measured_g_cm3 = (1 - voids) * laminate_density_g_cm3(by_mass, fibre, matrix)
    assert void_fraction(measured_g_cm3, by_mass, fibre, matrix) == pytest.approx(voids, abs=1e-12)


@smooth
@given(by_volume=volumes, fibre=fibres, matrix=matrices)
def test_a_laminate_is_between_its_parts_in_density(by_volume, fibre, matrix):
    density = laminate_density_g_cm3(fibre_mass_fraction(by_volume, fibre, matrix), fibre, matrix)
    assert min(fibre, matrix) - 1e-12 <= density <= max(fibre, matrix) + 1e-12
    assert density == pytest.approx(by_volume * fibre + (1 - by_volume) * matrix, rel=1e-11)


# -- what is refused, in a builder's words -----------------------------------------------------------------------------

NAN = float("nan")


@pytest.mark.parametrize("by_volume", [0.907, 0.95, 1.0, 60.0, -0.01, NAN])
def test_fibres_closer_than_closest_packing_are_refused(by_volume):
    with pytest.raises(RangeError, match=r"fibre volume fraction.*0\.9069.*hexagonal"):
        fibre_mass_fraction(by_volume, 2.54, 1.15)


@pytest.mark.parametrize("by_mass", [0.96, 1.0])
def test_a_mass_fraction_that_packs_too_close_is_refused_with_its_volume(by_mass):
    with pytest.raises(RangeError, match=r"fibre volume fraction.*hexagonal"):
        fibre_volume_fraction(by_mass, 2.54, 1.15)
    with pytest.raises(RangeError, match=r"fibre volume fraction.*hexagonal"):
        laminate_density_g_cm3(by_mass, 2.54, 1.15)


def test_a_dry_ply_has_no_thickness_as_a_laminate():
    with pytest.raises(RangeError, match=r"fibre volume fraction.*hexagonal"):
        ply_thickness_m(200.0, 0.97, 2.54, 1.15)


def test_the_ceiling_itself_is_still_possible():
    by_mass = fibre_mass_fraction(HEXAGONAL_PACKING, 2.54, 1.15)
    assert fibre_volume_fraction(by_mass, 2.54, 1.15) == pytest.approx(HEXAGONAL_PACKING, rel=1e-12)


@pytest.mark.parametrize("target", [0.0, -0.1, nextafter(SQUARE_PACKING, 1) + 1e-9, 0.85, 55.0, NAN])
def test_a_target_above_square_packing_is_refused(target):
    with pytest.raises(RangeError, match=r"target fibre volume fraction.*square array.*by weight\?"):
        require_target_fraction(target)


def test_a_number_between_the_two_packings_converts_but_is_no_target():
    between = (SQUARE_PACKING + HEXAGONAL_PACKING) / 2
    assert 0.8 < fibre_mass_fraction(between, 2.54, 1.15) < 1.0
    with pytest.raises(RangeError, match="square array"):
        require_target_fraction(between)


@pytest.mark.parametrize("by_mass", [-0.1, 1.1, 60.0, NAN])
def test_a_fraction_by_mass_is_a_share(by_mass):
    with pytest.raises(RangeError, match=r"fibre mass fraction.*0\.6 for 60 %"):
        fibre_volume_fraction(by_mass, 2.54, 1.15)


@pytest.mark.parametrize("by_mass", [0.0, 1.0, -0.1, NAN])
def test_wet_cloth_holds_both_fibre_and_resin(by_mass):
    with pytest.raises(RangeError, match="fibre mass fraction"):
        resin_areal_weight_g_m2(200.0, by_mass)


@pytest.mark.parametrize("cloth", [0.0, -200.0, NAN, float("inf")])
def test_cloth_of_no_weight_holds_no_resin(cloth):
    with pytest.raises(RangeError, match="areal weight"):
        resin_areal_weight_g_m2(cloth, 0.5)
    with pytest.raises(RangeError, match="areal weight"):
        ply_thickness_m(cloth, 0.5, 2.54, 1.15)


@pytest.mark.parametrize("function", [fibre_volume_fraction, fibre_mass_fraction, laminate_density_g_cm3])
@pytest.mark.parametrize(
    ("densities", "words"),
    [
        ((2540.0, 1.15), r"fibre density.*2540 kg/m\^3 is 2\.54 g/cm\^3"),
        ((2.54, 1150.0), "matrix density"),
        ((0.0, 1.15), "fibre density"),
        ((2.54, -1.0), "matrix density"),
        ((NAN, 1.15), "fibre density: is not a number"),
    ],
)
def test_a_density_in_other_units_is_refused(function, densities, words):
    with pytest.raises(RangeError, match=words):
        function(0.5, *densities)


def test_a_piece_denser_than_its_parts_says_what_to_check():
    with pytest.raises(
        RangeError, match=r"void fraction: is below 0.*\(-0\.0\d+\).*at most 1\.8699 g/cm\^3.*weigh it again"
    ):
        void_fraction(1.95, 0.6791, 2.54, 1.20)


@pytest.mark.parametrize("measured", [0.0, -1.9, NAN])
def test_a_piece_without_density_is_refused(measured):
    with pytest.raises(RangeError, match="measured density"):
        void_fraction(measured, 0.6791, 2.54, 1.20)


def test_the_limits_of_both_densities_are_themselves_allowed():
    for densities in ((0.5, 0.3), (10.0, 5.0)):
        assert 0.0 < fibre_mass_fraction(0.5, *densities) < 1.0
    for densities, words in (
        ((0.499, 1.0), r"fibre density.*between 0\.5 and 10 g/cm\^3"),
        ((10.01, 1.0), r"fibre density.*between 0\.5 and 10 g/cm\^3"),
        ((2.54, 0.299), r"matrix density.*between 0\.3 and 5 g/cm\^3"),
        ((2.54, 5.01), r"matrix density.*between 0\.3 and 5 g/cm\^3"),
    ):
        with pytest.raises(RangeError, match=words):
            fibre_mass_fraction(0.5, *densities)


def test_resin_alone_has_no_fibre():
    assert fibre_volume_fraction(0.0, 2.54, 1.15) == 0.0
    assert laminate_density_g_cm3(0.0, 2.54, 1.15) == pytest.approx(1.15)
