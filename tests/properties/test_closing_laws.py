"""Laws of pressure, clamps and cauls, and what is refused."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layup.chemistry.caul import (
    PLY_ACROSS,
    Bed,
    bed_of_caul,
    clamping,
    plywood_modulus_Pa,
    pressure_under_forces,
    row_of_clamps,
)
from layup.chemistry.closing import (
    CAUTIONS,
    CLOTHS,
    bag_pressure_Pa,
    bed_give_m,
    bolt_force_N,
    bolt_torque_Nm,
    clamp_order,
    fibre_fraction_under_pressure,
    press_force_N,
    standard_atmosphere_Pa,
)
from layup.errors import InputError, RangeError

few = settings(max_examples=30, deadline=None)


@few
@given(st.floats(0.5, 500.0), st.floats(0.003, 0.03), st.floats(0.08, 0.35))
def test_torque_and_force_are_each_others_inverse(torque_Nm, diameter_m, nut_factor):
    force = bolt_force_N(torque_Nm, diameter_m, nut_factor)
    assert bolt_torque_Nm(force.likely, diameter_m, nut_factor) == pytest.approx(torque_Nm, rel=1e-12)
    assert force.low < force.likely < force.high


@few
@given(st.floats(1.0, 1e6), st.integers(1, 100), st.floats(0.001, 10.0))
def test_force_and_pressure_are_each_others_inverse(pressure_Pa, count, area_m2):
    each_N = press_force_N(pressure_Pa, area_m2) / count
    assert count * each_N / area_m2 == pytest.approx(pressure_Pa, rel=1e-12)


@few
@given(st.floats(-500.0, 8900.0), st.floats(1.0, 100.0), st.floats(0.0, 20_000.0))
def test_a_bag_presses_less_higher_up_and_with_more_left_in_it(altitude_m, climb_m, left_Pa):
    assert bag_pressure_Pa(altitude_m + climb_m, left_Pa) < bag_pressure_Pa(altitude_m, left_Pa)
    assert bag_pressure_Pa(altitude_m, left_Pa) + left_Pa == pytest.approx(standard_atmosphere_Pa(altitude_m))


@few
@given(st.integers(1, 12), st.floats(0.2, 4.0), st.floats(0.2, 0.5))
def test_the_bed_carries_exactly_the_forces_on_the_caul(count, spacing, end_share):
    length = (count - 1 + 2 * end_share) * spacing
    pressure = pressure_under_forces(length, [(end_share + i) * spacing for i in range(count)])
    edges = [0.0, *[(end_share + i) * spacing for i in range(count)], length]
    total = 0.0
    for low, high in pairwise(edges):  # Simpson, between the kinks under the forces
        h = (high - low) / 40
        values = [pressure(low + i * h) for i in range(41)]
        total += h / 3 * (values[0] + values[-1] + 4 * sum(values[1:-1:2]) + 2 * sum(values[2:-1:2]))
    assert total == pytest.approx(count, rel=1e-5)


@few
@given(st.floats(0.3, 2.5), st.floats(0.02, 0.3), st.integers(1, 30))
def test_a_row_fills_the_caul_and_its_shares_bracket_the_mean(length_m, spread_m, count):
    row = row_of_clamps(Bed(length_m, spread_m), count)
    assert (row.count - 1) * row.spacing_m + 2 * row.end_m == pytest.approx(length_m)
    assert row.lowest_share <= 1.0 + 1e-9
    assert row.highest_share >= 1.0 - 1e-9


@few
@given(st.floats(0.3, 2.5), st.floats(0.03, 0.3), st.floats(0.05, 0.5), st.floats(1.05, 2.0))
def test_a_stiffer_caul_or_a_milder_wish_never_takes_more_clamps(length_m, spread_m, uneven, factor):
    usual = clamping(Bed(length_m, spread_m), uneven)
    assert usual.lowest_share >= 1.0 - uneven
    assert clamping(Bed(length_m, spread_m * factor), uneven).count <= usual.count
    assert clamping(Bed(length_m, spread_m), min(0.9, uneven * factor)).count <= usual.count


@few
@given(st.floats(0.3, 2.5), st.floats(0.05, 0.3), st.floats(0.3, 4.0))
def test_clamping_depends_on_proportions_only(length_m, spread_m, scale):
    one, other = clamping(Bed(length_m, spread_m)), clamping(Bed(length_m * scale, spread_m * scale))
    assert one.count == other.count
    assert other.spacing_m == pytest.approx(one.spacing_m * scale)


@few
@given(st.integers(2, 60))
def test_a_clamps_rating_is_a_floor_for_the_number(at_least):
    assert clamping(Bed(1.7, 0.3), 0.2, at_least).count >= at_least


@few
@given(st.floats(0.3, 2.0), st.floats(0.01, 0.05), st.floats(2e4, 4e5), st.floats(1.1, 3.0))
def test_more_pressure_spreads_a_force_less(length_m, thickness_m, pressure_Pa, factor):
    soft, hard = (bed_of_caul(length_m, thickness_m, 9e9, p, 1e-4) for p in (pressure_Pa, pressure_Pa * factor))
    assert hard.spread_m == pytest.approx(soft.spread_m / factor**0.25, rel=1e-9)


@few
@given(st.sampled_from(sorted(CLOTHS)), st.floats(5_000.0, 900_000.0), st.floats(1.01, 1.1))
def test_more_pressure_packs_more_fibre(cloth, pressure_Pa, factor):
    before, after = (fibre_fraction_under_pressure(cloth, p) for p in (pressure_Pa, pressure_Pa * factor))
    assert before.low < before.high
    assert before.low < after.low
    assert before.high < after.high
    assert bed_give_m(cloth, 0.002 * factor) == pytest.approx(bed_give_m(cloth, 0.002) * factor)


@few
@given(st.integers(1, 60))
def test_clamps_are_tightened_once_each_from_the_middle_outwards(count):
    order = clamp_order(count)
    distances = [abs(number - (count + 1) / 2) for number in order]
    assert sorted(order) == list(range(1, count + 1))
    assert distances == sorted(distances)


@few
@given(st.integers(0, 25))
def test_plywood_is_never_stiffer_than_its_veneer_nor_limper_than_across(half):
    modulus_Pa = plywood_modulus_Pa(12e9, 2 * half + 1)
    assert 12e9 * PLY_ACROSS * (1 - 1e-12) <= modulus_Pa <= 12e9 * (1 + 1e-12)


def test_every_way_of_closing_has_its_cautions():
    assert set(CAUTIONS) == {"clamps", "bolts", "bladder", "bag"}
    assert all(len(sentences) >= 4 for sentences in CAUTIONS.values())


# -- what is refused, in a builder's words -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: bolt_force_N(0.0, 0.008), r"torque: is out of range \(0 N m\)"),
        (lambda: bolt_force_N(10.0, 8.0), r"thread diameter: .*8 mm for M8"),
        (lambda: bolt_force_N(10.0, 0.008, 2.0), r"nut factor \(K\): .*0.10 lubricated to 0.30 gritty"),
        (lambda: bolt_torque_Nm(0.0, 0.008), "force: is out of range"),
        (lambda: standard_atmosphere_Pa(20_000.0), "altitude: is out of range"),
        (lambda: bag_pressure_Pa(0.0, 101_325.0), "absolute pressure in the bag: local air less what a vacuum gauge"),
        (lambda: press_force_N(0.0, 0.1), "pressure: is out of range"),
        (lambda: press_force_N(1e5, 0.0), "area pressed: is out of range"),
        (lambda: bed_of_caul(0.01, 0.02, 1e10, 1e5, 1e-4), "length of the caul: is out of range"),
        (lambda: clamping(Bed(1.7, 0.1), 0.0), "unevenness: .*0.2 for 20 %"),
        (lambda: clamping(Bed(1.7, 0.1), 0.2, 500), "number of clamps: is out of range"),
        (lambda: clamping(Bed(5.0, 0.001)), r"so limp that 200 clamps do not press evenly.*thicker or stiffer caul"),
        (lambda: row_of_clamps(Bed(1.7, 0.1), 0), "number of clamps: is out of range"),
        (lambda: fibre_fraction_under_pressure("woven", 100.0), r"pressure: .*hand clamps to a strong bladder"),
        (lambda: bed_give_m("woven", 2.0), "laminate thickness: is out of range"),
    ],
)
def test_closing_refuses_what_cannot_be(call, words):
    with pytest.raises(RangeError, match=words):
        call()


@pytest.mark.parametrize(
    "call", [lambda: fibre_fraction_under_pressure("felt", 1e5), lambda: bed_give_m("felt", 0.002)]
)
def test_a_cloth_that_is_not_known_is_answered_with_those_that_are(call):
    with pytest.raises(InputError, match=r"cloth: .*\(felt\) - one of mat, woven, stitched, unidirectional"):
        call()
