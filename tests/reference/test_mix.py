"""Equivalents, ratios and scales against published examples and molar masses."""

from itertools import product

import pint
import pytest
from chemicals import MW

from layup.chemistry.datasheet import Component, Datasheet, PotLifePoint
from layup.chemistry.mixing import (
    blend_equivalent_weight,
    correction,
    isocyanate_equivalent_weight,
    off_ratio,
    phr,
    polyol_equivalent_weight,
    ratio_by_volume_to_weight,
    ratio_by_weight_to_volume,
    smallest_batch_g,
    split_mass,
    stoichiometry_gap,
    worst_case_off_ratio,
)

UNITS = pint.get_application_registry()
CAS = {"DETA": "111-40-0", "TETA": "112-24-3", "IPDA": "2855-13-2", "DDM": "101-77-9", "DGEBA": "1675-54-3"}


@pytest.mark.parametrize(
    ("substance", "reactive", "equivalent"),
    [("DETA", 5, 20.633), ("TETA", 6, 24.372), ("IPDA", 4, 42.574), ("DGEBA", 2, 170.206)],
)
def test_pure_equivalents_are_molar_mass_over_reactive_groups(substance, reactive, equivalent):
    # Molar masses of the `chemicals` library; amine hydrogens or epoxides counted from the structure.
    assert MW(CAS[substance]) / reactive == pytest.approx(equivalent, abs=6e-4)


@pytest.mark.parametrize(
    ("amine", "reactive", "eew", "expected", "tolerance"),
    [
        ("DETA", 5, 200.0, 10.3, 0.05),  # Published worked example: DETA on EEW 200.
        ("DDM", 4, 200.0, 24.75, 0.05),  # Published worked example: DDM, of 49.5 g/eq, on EEW 200.
        ("IPDA", 4, 190.0, 22.41, 0.005),  # Computed from the molar mass.
        ("TETA", 6, 187.5, 13.0, 0.5),  # Published: about 13 phr on a liquid DGEBA resin (EEW 185-190).
    ],
)
def test_parts_of_amine_per_hundred_of_resin(amine, reactive, eew, expected, tolerance):
    assert phr(MW(CAS[amine]) / reactive, eew) == pytest.approx(expected, abs=tolerance)


def test_the_published_equivalent_of_methylenedianiline_is_its_quarter():
    # DDM has four amine hydrogens; 49.5 g/eq is the published value.
    assert MW(CAS["DDM"]) / 4 == pytest.approx(49.5, abs=0.1)


def test_a_blend_with_an_inert_thinner_has_the_published_equivalent():
    # Published worked example: 80 parts EEW 189, 10 parts EEW 183, 10 parts inert; hardener AHEW 43.
    blend = blend_equivalent_weight((80.0, 10.0, 10.0), (189.0, 183.0, float("inf")))
    assert blend == pytest.approx(209.2, abs=0.05)
    assert phr(43.0, blend) == pytest.approx(20.6, abs=0.05)


def test_isocyanate_and_polyol_equivalents_are_their_constants():
    # Published as 4202 and 56 100, rounded; exactly, molar masses of NCO (from HNCO less H) and KOH of `chemicals`.
    assert isocyanate_equivalent_weight(1.0) == pytest.approx(4202, abs=1)
    assert isocyanate_equivalent_weight(1.0) == pytest.approx(100 * (MW("75-13-8") - 1.00794), rel=1e-4)
    assert polyol_equivalent_weight(1.0) == pytest.approx(56100, abs=10)
    assert polyol_equivalent_weight(1.0) == pytest.approx(1000 * MW("1310-58-3"), rel=1e-5)


def test_an_index_of_105_gives_the_parts_of_isocyanate():
    # Computed: 31.5 % NCO on OH number 56 at index 1.05, with the rounded constants 4200 and 56 100.
    # parts = 100 index E_NCO/E_OH (G. Oertel, Polyurethane Handbook, 2nd ed., 1994)
    nco, oh = isocyanate_equivalent_weight(31.5), polyol_equivalent_weight(56)
    assert stoichiometry_gap(system((100, 13.975), nco, oh, chemistry="urethane")) == pytest.approx(0.05, abs=1e-3)


def test_a_ratio_by_mass_and_by_volume():
    # Computed from the densities 1.15 and 0.97 g/cm^3.
    assert ratio_by_weight_to_volume((100, 30), (1.15, 0.97)) == pytest.approx((100, 35.57), abs=0.005)
    resin, hardener = ratio_by_volume_to_weight((2, 1), (1.15, 0.97))
    assert 100 * hardener / resin == pytest.approx(42.17, abs=0.005)


def test_a_ratio_by_volume_agrees_with_pint():
    resin = UNITS.Quantity(100, "g") / UNITS.Quantity(1.15, "g/cm^3")
    hardener = UNITS.Quantity(30, "g") / UNITS.Quantity(0.97, "g/cm^3")
    by_volume = ratio_by_weight_to_volume((100, 30), (1.15, 0.97))
    assert by_volume[1] / by_volume[0] == pytest.approx((hardener / resin).to("").magnitude, rel=1e-12)


def test_an_over_pour_takes_the_grams_that_arithmetic_says():
    # 100:30 with 66 g of hardener on 200 g of resin: 66/0.3 = 220 g of resin wanted, 20 g missing.
    assert off_ratio((200.0, 66.0), (100, 30)) == pytest.approx(0.10, abs=1e-12)
    assert correction((200.0, 66.0), (100, 30)) == pytest.approx((20.0, 0.0), abs=1e-12)


def corners(batch_g, parts, digit_g, *, one_tare):
    """Every extreme of the display's rounding, worked through the readings one by one."""
    resin_g, hardener_g = split_mass(batch_g, parts)
    for first, last in product((-digit_g / 2, digit_g / 2), repeat=2):
        if one_tare:
            resin_true = resin_g + first
            total_true = resin_g + hardener_g + last
            yield resin_true, total_true - resin_true
        else:
            yield resin_g + first, hardener_g + last


@pytest.mark.parametrize("one_tare", [True, False])
@pytest.mark.parametrize("batch_g", [20.0, 120.0, 250.0, 1000.0])
def test_the_worst_case_is_the_worst_corner_of_the_two_readings(batch_g, one_tare):
    worst = max(abs(off_ratio(poured, (100, 30))) for poured in corners(batch_g, (100, 30), 1.0, one_tare=one_tare))
    assert worst_case_off_ratio(batch_g, (100, 30), 1.0, one_tare=one_tare) == pytest.approx(worst, rel=1e-12)


def test_a_gram_scale_wants_a_quarter_kilo_on_one_tare():
    # By hand at 100:30 and 2 %: 50 (1.3/0.3 + 1.02 x 1.3/2) g, and half the first term on separate tares.
    assert smallest_batch_g((100, 30), 1.0) == pytest.approx(50 * (1.3 / 0.3 + 1.02 * 0.65), rel=1e-12)
    assert smallest_batch_g((100, 30), 1.0, one_tare=False) == pytest.approx(50 * (0.65 / 0.3 + 1.02 * 0.65), rel=1e-12)


def test_the_rule_of_one_percent_of_the_smaller_part_keeps_the_ratio():
    # Common practice, no source: readability at most 1 % of the smaller component keeps an amine within 2 %.
    resin_g, hardener_g = split_mass(400.0, (100, 30))
    assert 0.005 < worst_case_off_ratio(400.0, (100, 30), 0.01 * hardener_g) < 0.02
    assert resin_g > hardener_g


def system(ratio, ahew, eew, *, chemistry="epoxy-amine", by="weight", densities=(1.15, 0.97)):
    return Datasheet(
        id="test",
        title="Test",
        chemistry=chemistry,
        resin=Component("A", densities[0], eew),
        hardener=Component("B", densities[1], ahew),
        ratio=ratio,
        ratio_by=by,
        pot_lives=(PotLifePoint(1800.0, 100.0, 298.15),),
    )


def test_a_datasheet_on_its_equivalents_has_no_gap():
    # IPDA on EEW 190, 22.41 phr (computed from the molar mass).
    assert stoichiometry_gap(system((100, 22.41), MW(CAS["IPDA"]) / 4, 190.0)) == pytest.approx(0.0, abs=5e-4)


def test_a_ratio_by_volume_is_judged_by_its_mass():
    by_volume = ratio_by_weight_to_volume((100, 30), (1.15, 0.97))
    by_mass = stoichiometry_gap(system((100, 30), 57.0, 190.0))
    assert stoichiometry_gap(system(by_volume, 57.0, 190.0, by="volume")) == pytest.approx(by_mass, abs=1e-12)


def test_the_gap_of_a_urethane_is_its_index_less_one():
    parts = 100.0 * 1.05 * 133.4 / 1001.9
    assert stoichiometry_gap(system((100, parts), 133.4, 1001.9, chemistry="urethane")) == pytest.approx(0.05)
