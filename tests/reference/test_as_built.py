"""Fibre content, voids and uncertainty against published values and an independent library."""

from dataclasses import replace
from math import sqrt
from pathlib import Path

import pytest
from session_examples import mixed, stamped, start
from uncertainties import ufloat

from layup.chemistry.laminate import CURED_DENSITY_G_CM3
from layup.files.workshop import Workshop, demo_root
from layup.planning.budget import budget
from layup.review.as_built import CLOTH_TOLERANCE, DENSITY_TOLERANCE, WATER_G_CM3, Estimate, MeasuredLaminate, as_built
from layup.session.archive import StoredSession
from layup.session.batch_events import BatchPouredOut, PressClosed
from layup.session.records import fold
from layup.session.state import CouponBurnt, Event, PartWeighed, ThicknessMeasured

SHOP = Workshop(demo_root())
PLAN, SHEET = SHOP.plan("touring-skis"), SHOP.resin("slow-laminating")
GRAMS = budget(PLAN, SHEET)
CLOTH = [(line, step) for line, step in zip(GRAMS.lines, PLAN.steps, strict=True) if line.glass_g > 0.0]
FIBRE_G_CM3 = sum(line.glass_g for line, _ in CLOTH) / sum(line.glass_g / s.fibre_density_g_cm3 for line, s in CLOTH)
MATRIX_G_CM3 = CURED_DENSITY_G_CM3


def measured(event: Event, *, fibre_g_cm3: float | None = None, matrix_g_cm3: float | None = None) -> MeasuredLaminate:
    """Measure a part of the demo's plan, with other densities where they are given."""
    day: list[Event] = [start(), mixed(1), BatchPouredOut(batch=1), PressClosed(), event]
    plan, sheet = PLAN, SHEET
    if fibre_g_cm3 is not None and matrix_g_cm3 is not None:
        steps = (replace(s, fibre_density_g_cm3=fibre_g_cm3) if s.kind == "fabric" else s for s in plan.steps)
        plan = replace(plan, steps=tuple(steps))
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("layup.review.as_built.CURED_DENSITY_G_CM3", matrix_g_cm3 or CURED_DENSITY_G_CM3)
        found = as_built(StoredSession(Path("s"), fold(stamped(day)), plan, sheet, ()))
    assert found is not None
    return found.measured[-1]


def rectangular(value: float, half_width: float):
    """A value that may lie anywhere within a half-width: u = a/sqrt(3) (JCGM 100:2008, 4.3.7)."""
    return ufloat(value, half_width / sqrt(3.0))


def agrees(found: Estimate, reference) -> bool:
    value, sd = reference.nominal_value, reference.std_dev
    return found.value == pytest.approx(value) and found.sd == pytest.approx(sd, rel=0.01)


FIBRE, MATRIX = (rectangular(rho, DENSITY_TOLERANCE * rho) for rho in (FIBRE_G_CM3, MATRIX_G_CM3))


def test_a_burnt_off_coupon_is_residue_over_coupon() -> None:
    """ISO 1172 (from memory): glass content = (m3 - m1)/(m2 - m1), the masses here without the crucible's."""
    assert measured(CouponBurnt(coupon_g=5.128, residue_g=3.077)).by_mass.value == pytest.approx(0.6000, abs=1e-4)


def test_the_uncertainty_of_a_burnt_off_coupon_is_that_of_an_independent_library() -> None:
    found = measured(CouponBurnt(coupon_g=6.29, residue_g=3.9, in_water_g=2.55, readability_g=0.01))
    residue, coupon, water = (rectangular(grams, 0.005) for grams in (3.9, 6.29, 2.55))
    by_mass = residue / coupon
    assert agrees(found.by_mass, by_mass)
    fibre = by_mass / FIBRE
    assert agrees(found.by_volume, fibre / (fibre + (1 - by_mass) / MATRIX))
    solid = 1 / (by_mass / FIBRE + (1 - by_mass) / MATRIX)
    assert found.voids is not None
    assert agrees(found.voids, 1 - coupon / (coupon - water) * WATER_G_CM3 / solid)


def test_the_uncertainty_of_a_weighed_part_is_that_of_an_independent_library() -> None:
    found = measured(PartWeighed(part_g=2700.0, dry_g=2060.0, cloth_g=750.0, left_g=40.0))
    digit = PLAN.scale.readability_g
    part, dry, cloth = (rectangular(grams, 0.5 * digit) for grams in (2700.0, 2060.0, 750.0))
    bonds = [line for line in GRAMS.lines if line.kind == "bond" and line.mix_g]
    held = sum(
        rectangular(line.on_part_g, (line.high_g - line.low_g) / 2.0 * line.on_part_g / line.mix_g) for line in bonds
    )
    assert agrees(found.by_mass, cloth / (cloth + (part - dry) - held))


def test_the_uncertainty_of_a_thickness_is_that_of_an_independent_library() -> None:
    found = measured(ThicknessMeasured(thickness_m=0.0015), fibre_g_cm3=FIBRE_G_CM3, matrix_g_cm3=MATRIX_G_CM3)
    weight_g_m2 = sum(s.layers * s.areal_weight_g_m2 for _, s in CLOTH if s.width_m is None)
    thick, weight = rectangular(0.0015, 5e-5), rectangular(weight_g_m2, CLOTH_TOLERANCE * weight_g_m2)
    by_volume = 1e-6 * weight / FIBRE / thick
    assert agrees(found.by_volume, by_volume)
    assert agrees(found.by_mass, by_volume * FIBRE / (by_volume * FIBRE + (1 - by_volume) * MATRIX))


def test_a_laminate_of_the_boat_builders_rule_comes_out_at_its_glass_content() -> None:
    """ISO 12215-5 annex C: t[mm] = w/3.072 (2.56/psi - 1.36), w in kg/m^2; psi 0.45 is 1.4091 mm a kg/m^2."""
    weight_kg_m2 = sum(s.layers * s.areal_weight_g_m2 for _, s in CLOTH if s.width_m is None) / 1000.0
    event = ThicknessMeasured(thickness_m=1.4091e-3 * weight_kg_m2)
    assert measured(event, fibre_g_cm3=2.56, matrix_g_cm3=1.20).by_mass.value == pytest.approx(0.45, abs=1e-4)


def test_a_carbon_coupon_s_published_volume_fraction_is_met() -> None:
    """Carbon/epoxy coupon of 6.29 g with 4.24 g of fibre at 1.78 and 1.10 g/cm^3: Vf 0.56 (published)."""
    found = measured(CouponBurnt(coupon_g=6.29, residue_g=4.24), fibre_g_cm3=1.78, matrix_g_cm3=1.10)
    assert found.by_volume.value == pytest.approx(0.56, abs=0.005)
