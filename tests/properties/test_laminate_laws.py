"""Laws of a laminate: round trips, conservation of mass and volume, monotone answers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layup.chemistry.laminate import (
    HEXAGONAL_PACKING,
    fibre_mass_fraction,
    fibre_volume_fraction,
    laminate_density_g_cm3,
    ply_thickness_m,
    resin_areal_weight_g_m2,
    void_fraction,
)

volumes = st.floats(0.001, HEXAGONAL_PACKING)
fibres = st.floats(0.9, 8.0)
matrices = st.floats(0.5, 3.0)
cloths = st.floats(5.0, 3000.0)


@given(by_volume=volumes, fibre=fibres, matrix=matrices)
def test_a_fraction_by_volume_survives_the_way_there_and_back(by_volume, fibre, matrix):
    by_mass = fibre_mass_fraction(by_volume, fibre, matrix)
    assert fibre_volume_fraction(by_mass, fibre, matrix) == pytest.approx(by_volume, rel=1e-12)


@given(by_volume=st.floats(0.0, 0.90), step=st.floats(1e-6, 0.006), fibre=fibres, matrix=matrices)
def test_more_fibre_by_volume_is_more_by_mass(by_volume, step, fibre, matrix):
    assert fibre_mass_fraction(by_volume + step, fibre, matrix) > fibre_mass_fraction(by_volume, fibre, matrix)


@given(by_volume=volumes, density=st.floats(0.9, 3.0))
def test_equal_densities_make_both_fractions_equal(by_volume, density):
    assert fibre_mass_fraction(by_volume, density, density) == pytest.approx(by_volume, rel=1e-12)


@given(by_volume=volumes, fibre=fibres, matrix=matrices)
def test_the_heavier_part_has_the_larger_share_by_mass(by_volume, fibre, matrix):
    by_mass = fibre_mass_fraction(by_volume, fibre, matrix)
    assert (by_mass - by_volume) * (fibre - matrix) >= -1e-12


@given(cloth=cloths, by_volume=volumes, fibre=fibres, matrix=matrices)
def test_resin_and_cloth_make_up_the_fraction(cloth, by_volume, fibre, matrix):
    by_mass = fibre_mass_fraction(by_volume, fibre, matrix)
    resin_g_m2 = resin_areal_weight_g_m2(cloth, by_mass)
    assert cloth / (cloth + resin_g_m2) == pytest.approx(by_mass, rel=1e-12)


@given(cloth=cloths, by_volume=volumes, fibre=fibres, matrix=matrices)
def test_a_square_metre_of_ply_weighs_its_density_times_its_thickness(cloth, by_volume, fibre, matrix):
    by_mass = fibre_mass_fraction(by_volume, fibre, matrix)
    thickness_m = ply_thickness_m(cloth, by_mass, fibre, matrix)
    grams = thickness_m * 1e6 * laminate_density_g_cm3(by_mass, fibre, matrix)
    assert grams == pytest.approx(cloth + resin_areal_weight_g_m2(cloth, by_mass), rel=1e-12)


@given(cloth=cloths, by_volume=volumes, fibre=fibres, matrix=matrices)
def test_the_fibre_alone_fills_its_share_of_the_thickness(cloth, by_volume, fibre, matrix):
    by_mass = fibre_mass_fraction(by_volume, fibre, matrix)
    assert 1e-6 * cloth / fibre == pytest.approx(by_volume * ply_thickness_m(cloth, by_mass, fibre, matrix), rel=1e-11)


@given(cloth=cloths, factor=st.floats(1.01, 4.0), by_volume=volumes, fibre=fibres, matrix=matrices)
def test_thickness_and_resin_scale_with_the_cloth(cloth, factor, by_volume, fibre, matrix):
    by_mass = fibre_mass_fraction(by_volume, fibre, matrix)
    assert ply_thickness_m(cloth * factor, by_mass, fibre, matrix) == pytest.approx(
        factor * ply_thickness_m(cloth, by_mass, fibre, matrix), rel=1e-12
    )
    assert resin_areal_weight_g_m2(cloth * factor, by_mass) == pytest.approx(
        factor * resin_areal_weight_g_m2(cloth, by_mass), rel=1e-12
    )


@given(cloth=cloths, low=st.floats(0.2, 0.6), step=st.floats(0.001, 0.1))
def test_a_drier_ply_is_thinner(cloth, low, step):
    assert ply_thickness_m(cloth, low + step, 2.54, 1.15) < ply_thickness_m(cloth, low, 2.54, 1.15)


@given(voids=st.floats(0.0, 0.5), by_volume=st.floats(0.05, 0.85), fibre=fibres, matrix=matrices)
def test_voids_put_in_are_found_again(voids, by_volume, fibre, matrix):
    by_mass = fibre_mass_fraction(by_volume, fibre, matrix)
    measured_g_cm3 = (1 - voids) * laminate_density_g_cm3(by_mass, fibre, matrix)
    assert void_fraction(measured_g_cm3, by_mass, fibre, matrix) == pytest.approx(voids, abs=1e-12)


@given(by_volume=volumes, fibre=fibres, matrix=matrices)
def test_a_laminate_is_between_its_parts_in_density(by_volume, fibre, matrix):
    density = laminate_density_g_cm3(fibre_mass_fraction(by_volume, fibre, matrix), fibre, matrix)
    assert min(fibre, matrix) - 1e-12 <= density <= max(fibre, matrix) + 1e-12
    assert density == pytest.approx(by_volume * fibre + (1 - by_volume) * matrix, rel=1e-11)
