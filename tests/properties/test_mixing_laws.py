"""Laws of mixing: conservation, round trips, corrections that correct, and what a scale can hide."""

from math import inf

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from layup.chemistry.mixing import reading_off_ratio, smallest_batch_g, worst_case_off_ratio
from layup.chemistry.ratio import (
    blend_equivalent_weight,
    correction,
    isocyanate_equivalent_weight,
    isocyanate_parts,
    off_ratio,
    phr,
    polyol_equivalent_weight,
    ratio_by_volume_to_weight,
    ratio_by_weight_to_volume,
    split_mass,
)

part = st.floats(1.0, 200.0)
two_parts = st.tuples(part, part)
some_parts = st.lists(part, min_size=2, max_size=4).map(tuple)
density = st.floats(0.7, 2.5)
mass = st.floats(1.0, 5000.0)
weight = st.floats(15.0, 5000.0)
digits = st.sampled_from([0.01, 0.1, 0.5, 1.0, 2.0, 5.0])


@given(batch_g=mass, parts=some_parts)
def test_a_split_batch_is_all_there(batch_g, parts):
    assert sum(split_mass(batch_g, parts)) == pytest.approx(batch_g, rel=1e-12)


@given(batch_g=mass, parts=some_parts)
def test_a_split_batch_is_on_ratio(batch_g, parts):
    assert off_ratio(split_mass(batch_g, parts), parts) == pytest.approx(0.0, abs=1e-12)


@given(batch_g=mass, parts=some_parts, factor=st.floats(0.5, 20.0))
def test_only_the_proportion_of_the_parts_counts(batch_g, parts, factor):
    scaled = tuple(factor * one for one in parts)
    assert split_mass(batch_g, scaled) == pytest.approx(split_mass(batch_g, parts), rel=1e-12)


@given(parts=two_parts, densities=st.tuples(density, density))
def test_a_ratio_survives_the_way_to_volume_and_back(parts, densities):
    by_volume = ratio_by_weight_to_volume(parts, densities)
    assert ratio_by_volume_to_weight(by_volume, densities) == pytest.approx(parts, rel=1e-12)


@given(parts=two_parts, one=density)
def test_equal_densities_leave_a_ratio_as_it_is(parts, one):
    assert ratio_by_weight_to_volume(parts, (one, one)) == pytest.approx(parts, rel=1e-12)


@given(poured=st.lists(mass, min_size=4, max_size=4), parts=some_parts)
def test_a_corrected_mix_is_on_ratio(poured, parts):
    poured_g = poured[: len(parts)]
    fixed_g = [have + more for have, more in zip(poured_g, correction(poured_g, parts), strict=True)]
    assert off_ratio(fixed_g, parts) == pytest.approx(0.0, abs=1e-12)


@given(poured=st.lists(st.floats(0.0, 5000.0), min_size=4, max_size=4), parts=some_parts)
def test_a_correction_only_adds_and_leaves_one_part_alone(poured, parts):
    poured_g = poured[: len(parts)]
    assume(sum(poured_g) > 0)
    add_g = correction(poured_g, parts)
    assert min(add_g) == 0.0
    assert all(grams >= 0.0 for grams in add_g)


@given(poured=two_parts, parts=two_parts)
def test_no_smaller_addition_would_do(poured, parts):
    # Adding to the over-poured part too would only enlarge the batch: the correction is the least of all.
    add_g = correction(poured, parts)
    total_g = sum(poured) + sum(add_g)
    exact_g = split_mass(total_g, parts)
    assert any(have == pytest.approx(want, rel=1e-9) for have, want in zip(poured, exact_g, strict=True))


@given(poured=two_parts, parts=two_parts, more_g=st.floats(0.1, 50.0))
def test_more_hardener_moves_the_ratio_up_and_more_resin_down(poured, parts, more_g):
    resin_g, hardener_g = poured
    assert off_ratio((resin_g, hardener_g + more_g), parts) > off_ratio(poured, parts)
    assert off_ratio((resin_g + more_g, hardener_g), parts) < off_ratio(poured, parts)


@given(poured=two_parts, parts=two_parts, factor=st.floats(0.1, 10.0))
def test_off_ratio_does_not_depend_on_the_size_of_the_batch(poured, parts, factor):
    scaled = tuple(factor * grams for grams in poured)
    assert off_ratio(scaled, parts) == pytest.approx(off_ratio(poured, parts), rel=1e-9, abs=1e-12)


@given(
    parts=two_parts,
    shown=st.tuples(st.integers(1, 3000), st.integers(0, 3000)),
    errors=st.tuples(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5)),
    digit_g=digits,
    one_tare=st.booleans(),
)
def test_no_true_mass_behind_a_display_is_further_off_than_the_worst_case(parts, shown, errors, digit_g, one_tare):
    resin_g, hardener_g = (count * digit_g for count in shown)
    first, last = (error * digit_g for error in errors)
    true_resin_g = resin_g + first
    true_hardener_g = hardener_g + (last - first if one_tare else last)
    assume(true_hardener_g >= 0.0)
    worst = reading_off_ratio((resin_g, hardener_g), parts, digit_g, one_tare=one_tare)
    assert abs(off_ratio((true_resin_g, true_hardener_g), parts)) <= worst * (1 + 1e-12)


@given(parts=two_parts, batch_g=st.floats(50.0, 5000.0), digit_g=st.sampled_from([0.01, 0.1, 0.2]))
def test_a_larger_batch_and_a_finer_scale_hide_less(parts, batch_g, digit_g):
    assume(min(split_mass(batch_g, parts)) > 2 * digit_g)
    worst = worst_case_off_ratio(batch_g, parts, digit_g)
    assert worst_case_off_ratio(batch_g * 1.1, parts, digit_g) < worst
    assert worst_case_off_ratio(batch_g, parts, digit_g / 2) < worst
    assert worst_case_off_ratio(batch_g, parts, digit_g, one_tare=False) < worst


@given(parts=some_parts, digit_g=digits, limit=st.floats(0.001, 0.5), one_tare=st.booleans())
def test_the_smallest_batch_is_exactly_at_the_limit(parts, digit_g, limit, one_tare):
    batch_g = smallest_batch_g(parts, digit_g, limit, one_tare=one_tare)
    assume(batch_g <= 1e6)
    assert worst_case_off_ratio(batch_g, parts, digit_g, one_tare=one_tare) == pytest.approx(limit, rel=1e-9)


@given(ahew=weight, eew=weight, factor=st.floats(1.1, 3.0))
def test_phr_scales_with_the_hardener_and_against_the_resin(ahew, eew, factor):
    assert phr(ahew * factor, eew) == pytest.approx(factor * phr(ahew, eew), rel=1e-12)
    assert phr(ahew, eew * factor) == pytest.approx(phr(ahew, eew) / factor, rel=1e-12)
    assert phr(ahew, eew) * phr(eew, ahew) == pytest.approx(1e4, rel=1e-12)


@given(masses=st.lists(mass, min_size=1, max_size=5), one=weight)
def test_a_blend_of_one_substance_is_that_substance(masses, one):
    assert blend_equivalent_weight(masses, [one] * len(masses)) == pytest.approx(one, rel=1e-12)


@given(masses=st.lists(mass, min_size=3, max_size=3), weights=st.lists(weight, min_size=3, max_size=3))
def test_blending_in_two_steps_is_blending_at_once(masses, weights):
    first = blend_equivalent_weight(masses[:2], weights[:2])
    stepwise = blend_equivalent_weight((sum(masses[:2]), masses[2]), (first, weights[2]))
    assert stepwise == pytest.approx(blend_equivalent_weight(masses, weights), rel=1e-12)


@given(resin_g=mass, filler_g=mass, eew=weight)
def test_an_inert_filler_dilutes_by_its_mass(resin_g, filler_g, eew):
    assume((resin_g + filler_g) / resin_g < 100)
    filled = blend_equivalent_weight((resin_g, filler_g), (eew, inf))
    assert filled == pytest.approx(eew * (resin_g + filler_g) / resin_g, rel=1e-12)
    # So the hardener that the filled resin needs is what its resin alone needs.
    assert (resin_g + filler_g) * phr(50.0, filled) == pytest.approx(resin_g * phr(50.0, eew), rel=1e-12)


@given(nco=st.floats(2.0, 50.0), oh=st.floats(20.0, 1500.0), index=st.floats(0.8, 1.5))
def test_an_index_counts_moles_of_isocyanate_for_each_of_hydroxyl(nco, oh, index):
    isocyanate, polyol = isocyanate_equivalent_weight(nco), polyol_equivalent_weight(oh)
    moles_nco = isocyanate_parts(index, isocyanate, polyol) / isocyanate
    assert moles_nco / (100.0 / polyol) == pytest.approx(index, rel=1e-12)
