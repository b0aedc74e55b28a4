"""Fibre fractions, thickness and voids against standards and worked examples."""

from math import pi, sqrt

import pint
import pytest
from uncertainties import ufloat

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

UNITS = pint.get_application_registry()


@pytest.mark.parametrize(
    ("by_volume", "by_mass"), [(0.3, 0.4757), (0.4, 0.5853), (0.5, 0.6791), (0.6, 0.7605), (0.7, 0.8316)]
)
def test_glass_epoxy_fractions_convert_both_ways(by_volume, by_mass):
    # Two-density formula of ASTM D3171 with 2.54 and 1.20 g/cm^3, computed.
    assert fibre_mass_fraction(by_volume, 2.54, 1.20) == pytest.approx(by_mass, abs=5e-5)
    assert fibre_volume_fraction(by_mass, 2.54, 1.20) == pytest.approx(by_volume, abs=1e-4)


def test_the_textbook_glass_laminate_has_its_density_and_mass_fraction():
    # A. K. Kaw, Mechanics of Composite Materials, example 3.1, from memory: 70 % glass by volume, 2500 and 1200 kg/m^3.
    by_mass = fibre_mass_fraction(0.70, 2.5, 1.2)
    assert by_mass == pytest.approx(0.8294, rel=0.001)
    assert laminate_density_g_cm3(by_mass, 2.5, 1.2) == pytest.approx(2.110, rel=0.001)


def test_a_carbon_coupon_burnt_off_gives_its_fibre_volume():
    # University laboratory worked example: 6.29 g with 4.24 g of fibre, 1.78 and 1.10 g/cm^3, Vf 0.56.
    assert fibre_volume_fraction(4.24 / 6.29, 1.78, 1.10) == pytest.approx(0.56, abs=0.005)


def test_half_glass_by_volume_needs_its_resin():
    # Computed: 200 g/m^2 of glass at Vf 0.50 with 2.54 and 1.15 g/cm^3.
    by_mass = fibre_mass_fraction(0.50, 2.54, 1.15)
    assert resin_areal_weight_g_m2(200.0, by_mass) == pytest.approx(90.55, abs=0.005)
    by_pint = (UNITS.Quantity(200, "g/m^2") / UNITS.Quantity(2.54, "g/cm^3")) * UNITS.Quantity(1.15, "g/cm^3")
    assert resin_areal_weight_g_m2(200.0, by_mass) == pytest.approx(by_pint.to("g/m^2").magnitude, rel=1e-12)


@pytest.mark.parametrize(("psi", "thickness_mm"), [(0.35, 1.9382), (0.45, 1.4091), (0.60, 0.9462)])
def test_ply_thickness_is_the_boat_building_rule(psi, thickness_mm):
    # ISO 12215-5 annex C: t[mm] = w/3.072 (2.56/psi - 1.36), w in kg/m^2; the values per kg/m^2 are computed from it.
    assert 1000 * ply_thickness_m(1000.0, psi, 2.56, 1.20) == pytest.approx(thickness_mm, abs=5e-5)
    assert 1000 * ply_thickness_m(1000.0, psi, 2.56, 1.20) == pytest.approx((2.56 / psi - 1.36) / 3.072, rel=1e-12)


def test_ply_thickness_agrees_with_pint():
    cloth, resin = UNITS.Quantity(300, "g/m^2"), UNITS.Quantity(200, "g/m^2")
    volume = cloth / UNITS.Quantity(2.54, "g/cm^3") + resin / UNITS.Quantity(1.2, "g/cm^3")
    assert ply_thickness_m(300.0, 0.6, 2.54, 1.2) == pytest.approx(volume.to("m").magnitude, rel=1e-12)


def test_packing_ceilings_are_the_geometry_of_round_fibres():
    assert pytest.approx(0.7854, abs=5e-5) == SQUARE_PACKING
    assert pytest.approx(0.9069, abs=5e-5) == HEXAGONAL_PACKING
    # Independently: a unit cell's circle over its area, the square one and the 60 degree rhombus.
    assert pytest.approx(pi * 0.5**2 / 1.0, rel=1e-15) == SQUARE_PACKING
    assert pytest.approx(pi * 0.5**2 / (sqrt(3) / 2), rel=1e-15) == HEXAGONAL_PACKING


@pytest.mark.parametrize(
    ("low", "high"),
    [(0.15, 0.25), (0.40, 0.55), (0.60, 0.70), (0.55, 0.57)],
    ids=["mat", "woven", "unidirectional", "woven under vacuum"],
)
def test_usual_fibre_fractions_are_all_accepted_as_targets(low, high):
    # University lecture notes; the last J. Compos. Mater., doi 10.1177/0021998316685164.
    for by_volume in (low, high):
        assert require_target_fraction(by_volume) == by_volume
        assert fibre_volume_fraction(fibre_mass_fraction(by_volume, 2.54, 1.15), 2.54, 1.15) == pytest.approx(by_volume)


def test_a_hand_laminate_of_equal_masses_is_woven_cloth_by_volume():
    # Common practice, no source: cloth by hand takes resin and glass 1:1 by mass; lecture notes put woven at 0.25-0.55.
    assert 0.25 < fibre_volume_fraction(0.5, 2.54, 1.15) < 0.55


def test_void_content_follows_from_a_measured_density():
    # ASTM D2734: V = 100 (Td - Md)/Td. Built from volumes: 50 % glass, 47 % resin and 3 % voids.
    measured_g_cm3 = 0.50 * 2.54 + 0.47 * 1.20
    by_mass = 0.50 * 2.54 / measured_g_cm3
    assert void_fraction(measured_g_cm3, by_mass, 2.54, 1.20) == pytest.approx(0.03, abs=1e-12)


def test_the_spread_of_a_burn_off_agrees_with_linear_error_propagation():
    # ASTM D3171 written out in an independent library for numbers with errors.
    mass, fibre, glass, epoxy = ufloat(6.29, 0.01), ufloat(4.24, 0.01), ufloat(1.78, 0.01), ufloat(1.10, 0.02)
    share = fibre / mass
    expected = (share / glass) / (share / glass + (1 - share) / epoxy)
    values = [mass.n, fibre.n, glass.n, epoxy.n]
    spreads = [mass.s, fibre.s, glass.s, epoxy.s]

    def measured(mass_g, fibre_g, fibre_density_g_cm3, matrix_density_g_cm3):
        return fibre_volume_fraction(fibre_g / mass_g, fibre_density_g_cm3, matrix_density_g_cm3)

    variance = 0.0
    for place, spread in enumerate(spreads):
        up, down = list(values), list(values)
        up[place] += spread / 2
        down[place] -= spread / 2
        variance += (measured(*up) - measured(*down)) ** 2
    assert measured(*values) == pytest.approx(expected.n, rel=1e-12)
    assert sqrt(variance) == pytest.approx(expected.s, rel=1e-3)
