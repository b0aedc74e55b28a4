"""Laws of mixing: conservation, round trips, corrections, and what a scale can hide; and what is refused."""

from dataclasses import replace
from math import inf, nan

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from smooth_laws import smooth

from layup.chemistry.datasheet import Component, Datasheet, PotLifePoint
from layup.chemistry.mixing import (
    WEIGHING_LIMIT,
    blend_equivalent_weight,
    correction,
    isocyanate_equivalent_weight,
    off_ratio,
    parts_by_mass,
    phr,
    polyol_equivalent_weight,
    ratio_by_volume_to_weight,
    ratio_by_weight_to_volume,
    reading_off_ratio,
    smallest_batch_g,
    split_mass,
    stoichiometry_gap,
    stoichiometry_warning,
    worst_case_off_ratio,
)
from layup.errors import InputError, RangeError

part = st.floats(1.0, 200.0)
two_parts = st.tuples(part, part)
some_parts = st.lists(part, min_size=2, max_size=4).map(tuple)
density = st.floats(0.7, 2.5)
mass = st.floats(1.0, 5000.0)
weight = st.floats(15.0, 5000.0)
digits = st.sampled_from([0.01, 0.1, 0.5, 1.0, 2.0, 5.0])


@smooth
@given(batch_g=mass, parts=some_parts)
def test_a_split_batch_is_all_there(batch_g, parts):
    assert sum(split_mass(batch_g, parts)) == pytest.approx(batch_g, rel=1e-12)


@smooth
@given(batch_g=mass, parts=some_parts)
def test_a_split_batch_is_on_ratio(batch_g, parts):
    assert off_ratio(split_mass(batch_g, parts), parts) == pytest.approx(0.0, abs=1e-12)


@smooth
@given(batch_g=mass, parts=some_parts, factor=st.floats(0.5, 20.0))
def test_only_the_proportion_of_the_parts_counts(batch_g, parts, factor):
    scaled = tuple(factor * one for one in parts)
    assert split_mass(batch_g, scaled) == pytest.approx(split_mass(batch_g, parts), rel=1e-12)


@smooth
@given(parts=two_parts, densities=st.tuples(density, density))
def test_a_ratio_survives_the_way_to_volume_and_back(parts, densities):
    by_volume = ratio_by_weight_to_volume(parts, densities)
    assert ratio_by_volume_to_weight(by_volume, densities) == pytest.approx(parts, rel=1e-12)


@smooth
@given(parts=two_parts, one=density)
def test_equal_densities_leave_a_ratio_as_it_is(parts, one):
    assert ratio_by_weight_to_volume(parts, (one, one)) == pytest.approx(parts, rel=1e-12)


@smooth
@given(poured=st.lists(mass, min_size=4, max_size=4), parts=some_parts)
def test_a_corrected_mix_is_on_ratio(poured, parts):
    poured_g = poured[: len(parts)]
    fixed_g = [have + more for have, more in zip(poured_g, correction(poured_g, parts), strict=True)]
    assert off_ratio(fixed_g, parts) == pytest.approx(0.0, abs=1e-12)


@smooth
@given(poured=st.lists(st.floats(0.0, 5000.0), min_size=4, max_size=4), parts=some_parts)
def test_a_correction_only_adds_and_leaves_one_part_alone(poured, parts):
    poured_g = poured[: len(parts)]
    assume(sum(poured_g) > 0)
    add_g = correction(poured_g, parts)
    assert min(add_g) == 0.0
    assert all(grams >= 0.0 for grams in add_g)


@smooth
@given(poured=two_parts, parts=two_parts)
def test_no_smaller_addition_would_do(poured, parts):
    # Adding to the over-poured part too would only enlarge the batch: the correction is the least of all.
    add_g = correction(poured, parts)
    total_g = sum(poured) + sum(add_g)
    exact_g = split_mass(total_g, parts)
    assert any(have == pytest.approx(want, rel=1e-9) for have, want in zip(poured, exact_g, strict=True))


@smooth
@given(poured=two_parts, parts=two_parts, more_g=st.floats(0.1, 50.0))
def test_more_hardener_moves_the_ratio_up_and_more_resin_down(poured, parts, more_g):
    resin_g, hardener_g = poured
    assert off_ratio((resin_g, hardener_g + more_g), parts) > off_ratio(poured, parts)
    assert off_ratio((resin_g + more_g, hardener_g), parts) < off_ratio(poured, parts)


@smooth
@given(poured=two_parts, parts=two_parts, factor=st.floats(0.1, 10.0))
def test_off_ratio_does_not_depend_on_the_size_of_the_batch(poured, parts, factor):
    scaled = tuple(factor * grams for grams in poured)
    assert off_ratio(scaled, parts) == pytest.approx(off_ratio(poured, parts), rel=1e-9, abs=1e-12)


@smooth
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


@smooth
@given(parts=two_parts, batch_g=st.floats(50.0, 5000.0), digit_g=st.sampled_from([0.01, 0.1, 0.2]))
def test_a_larger_batch_and_a_finer_scale_hide_less(parts, batch_g, digit_g):
    assume(min(split_mass(batch_g, parts)) > 2 * digit_g)
    worst = worst_case_off_ratio(batch_g, parts, digit_g)
    assert worst_case_off_ratio(batch_g * 1.1, parts, digit_g) < worst
    assert worst_case_off_ratio(batch_g, parts, digit_g / 2) < worst
    assert worst_case_off_ratio(batch_g, parts, digit_g, one_tare=False) < worst


@smooth
@given(parts=some_parts, digit_g=digits, one_tare=st.booleans())
def test_the_smallest_batch_is_exactly_at_the_limit(parts, digit_g, one_tare):
    batch_g = smallest_batch_g(parts, digit_g, one_tare=one_tare)
    assume(batch_g <= 1e6)
    assert worst_case_off_ratio(batch_g, parts, digit_g, one_tare=one_tare) == pytest.approx(WEIGHING_LIMIT, rel=1e-9)


@smooth
@given(ahew=weight, eew=weight, factor=st.floats(1.1, 3.0))
def test_phr_scales_with_the_hardener_and_against_the_resin(ahew, eew, factor):
    assert phr(ahew * factor, eew) == pytest.approx(factor * phr(ahew, eew), rel=1e-12)
    assert phr(ahew, eew * factor) == pytest.approx(phr(ahew, eew) / factor, rel=1e-12)
    assert phr(ahew, eew) * phr(eew, ahew) == pytest.approx(1e4, rel=1e-12)


@smooth
@given(masses=st.lists(mass, min_size=1, max_size=5), one=weight)
def test_a_blend_of_one_substance_is_that_substance(masses, one):
    assert blend_equivalent_weight(masses, [one] * len(masses)) == pytest.approx(one, rel=1e-12)


@smooth
@given(masses=st.lists(mass, min_size=3, max_size=3), weights=st.lists(weight, min_size=3, max_size=3))
def test_blending_in_two_steps_is_blending_at_once(masses, weights):
    first = blend_equivalent_weight(masses[:2], weights[:2])
    stepwise = blend_equivalent_weight((sum(masses[:2]), masses[2]), (first, weights[2]))
    assert stepwise == pytest.approx(blend_equivalent_weight(masses, weights), rel=1e-12)


@smooth
@given(resin_g=mass, filler_g=mass, eew=weight)
def test_an_inert_filler_dilutes_by_its_mass(resin_g, filler_g, eew):
    assume((resin_g + filler_g) / resin_g < 100)
    filled = blend_equivalent_weight((resin_g, filler_g), (eew, inf))
    assert filled == pytest.approx(eew * (resin_g + filler_g) / resin_g, rel=1e-12)
    # So the hardener that the filled resin needs is what its resin alone needs.
    assert (resin_g + filler_g) * phr(50.0, filled) == pytest.approx(resin_g * phr(50.0, eew), rel=1e-12)


# -- what is refused, in a builder's words -----------------------------------------------------------------------------

SYSTEM = Datasheet(
    id="test-resin",
    title="Test",
    chemistry="epoxy-amine",
    resin=Component("A", 1.15, 190.0),
    hardener=Component("B", 0.97, 57.0),
    ratio=(100.0, 30.0),
    ratio_by="weight",
    pot_lives=(PotLifePoint(1800.0, 100.0, 298.15),),
)


@smooth
@given(nco=st.floats(2.0, 50.0), oh=st.floats(20.0, 1500.0), index=st.floats(0.8, 1.5))
def test_the_gap_of_a_urethane_counts_moles_of_isocyanate_for_each_of_hydroxyl(nco, oh, index):
    isocyanate, polyol = isocyanate_equivalent_weight(nco), polyol_equivalent_weight(oh)
    parts = (100.0, 100.0 * index * isocyanate / polyol)
    parties = {"resin": Component("A", 1.05, polyol), "hardener": Component("B", 1.2, isocyanate)}
    sheet = replace(SYSTEM, chemistry="urethane", ratio=parts, **parties)
    assert stoichiometry_gap(sheet) == pytest.approx(index - 1.0, abs=1e-12)


@pytest.mark.parametrize("parts", [(100.0, 0.0), (0.0, 30.0), (-100.0, 30.0), (100.0, nan), (100.0, inf)])
def test_a_ratio_with_a_part_of_nothing_is_refused_everywhere(parts):
    for use in (
        lambda: split_mass(100.0, parts),
        lambda: off_ratio((100.0, 30.0), parts),
        lambda: correction((100.0, 30.0), parts),
        lambda: worst_case_off_ratio(100.0, parts, 1.0),
        lambda: smallest_batch_g(parts, 1.0),
        lambda: ratio_by_weight_to_volume(parts, (1.15, 0.97)),
        lambda: ratio_by_volume_to_weight(parts, (1.15, 0.97)),
        lambda: parts_by_mass(replace(SYSTEM, ratio=parts)),
    ):
        with pytest.raises(RangeError, match=r"ratio: is .*as in 100:30"):
            use()


@pytest.mark.parametrize("parts", [(), (100.0,)])
def test_a_ratio_needs_two_parts(parts):
    with pytest.raises(RangeError, match="needs a part of resin and a part of hardener"):
        split_mass(100.0, parts)


@pytest.mark.parametrize("total_g", [0.0, -5.0, nan, inf, 2e6])
def test_a_batch_of_nothing_is_refused(total_g):
    with pytest.raises(RangeError, match="batch mass"):
        split_mass(total_g, (100.0, 30.0))


def test_densities_in_other_units_or_number_are_refused():
    with pytest.raises(RangeError, match=r"density.*1150 kg/m\^3 is 1\.15 g/cm\^3"):
        ratio_by_weight_to_volume((100.0, 30.0), (1150.0, 970.0))
    with pytest.raises(RangeError, match="every part needs one density"):
        ratio_by_volume_to_weight((100.0, 30.0), (1.15,))


@pytest.mark.parametrize("poured", [(100.0, -1.0), (100.0, nan), (-100.0, 30.0), (inf, 30.0)])
def test_a_poured_mass_below_nothing_is_refused(poured):
    with pytest.raises(RangeError, match="poured mass: is"):
        off_ratio(poured, (100.0, 30.0))
    with pytest.raises(RangeError, match="poured mass: is"):
        correction(poured, (100.0, 30.0))


def test_a_cup_without_resin_has_no_ratio():
    with pytest.raises(RangeError, match=r"resin poured.*must be above 0"):
        off_ratio((0.0, 30.0), (100.0, 30.0))


def test_an_empty_cup_has_nothing_to_correct():
    with pytest.raises(RangeError, match=r"poured mass.*must be above 0"):
        correction((0.0, 0.0), (100.0, 30.0))


def test_a_mass_is_wanted_for_each_part():
    with pytest.raises(RangeError, match="every part needs one mass"):
        off_ratio((100.0, 30.0, 2.0), (100.0, 30.0))


@pytest.mark.parametrize("digit_g", [0.0, -1.0, nan, inf])
def test_a_scale_without_a_last_digit_is_refused(digit_g):
    with pytest.raises(RangeError, match="scale readability"):
        worst_case_off_ratio(100.0, (100.0, 30.0), digit_g)
    with pytest.raises(RangeError, match="scale readability"):
        smallest_batch_g((100.0, 30.0), digit_g)


def test_resin_that_the_scale_cannot_tell_from_none_is_refused():
    with pytest.raises(
        RangeError, match=r"resin reading: is lost in the scale's last digit.*above 0\.5 g.*larger batch"
    ):
        reading_off_ratio((0.5, 0.0), (100.0, 30.0), 1.0)


@pytest.mark.parametrize("weight", [0.0, -57.0, nan, inf])
def test_an_equivalent_weight_of_nothing_is_refused(weight):
    with pytest.raises(RangeError, match="amine hydrogen equivalent weight"):
        phr(weight, 190.0)
    with pytest.raises(RangeError, match="epoxide equivalent weight"):
        phr(57.0, weight)


@pytest.mark.parametrize("nco", [0.0, -1.0, 80.0, nan])
def test_an_nco_content_no_isocyanate_has_is_refused(nco):
    with pytest.raises(RangeError, match=r"NCO content.*between 0 and 75 %"):
        isocyanate_equivalent_weight(nco)


@pytest.mark.parametrize("oh", [0.0, -56.0, 5000.0, nan])
def test_an_oh_number_no_polyol_has_is_refused(oh):
    with pytest.raises(RangeError, match=r"OH number.*between 0 and 2000 mg KOH/g"):
        polyol_equivalent_weight(oh)


@pytest.mark.parametrize(
    ("masses", "weights", "words"),
    [
        ((), (), "one mass and one equivalent weight"),
        ((80.0, 10.0), (189.0,), "2 masses, 1 equivalent weights"),
        ((0.0, 0.0), (189.0, 183.0), "blend mass.*above 0"),
        ((-1.0, 10.0), (189.0, 183.0), "blend mass"),
        ((80.0, 10.0), (189.0, 0.0), "equivalent weight"),
        ((80.0, 10.0), (189.0, nan), "equivalent weight: is not a number"),
        ((80.0, 10.0), (189.0, -inf), "equivalent weight"),
    ],
)
def test_a_blend_that_cannot_be_is_refused(masses, weights, words):
    with pytest.raises(RangeError, match=words):
        blend_equivalent_weight(masses, weights)


def test_a_blend_of_inert_things_reacts_with_nothing():
    assert blend_equivalent_weight((10.0, 5.0), (inf, inf)) == inf
    with pytest.raises(RangeError, match="epoxide equivalent weight"):
        phr(57.0, blend_equivalent_weight((10.0,), (inf,)))


@pytest.mark.parametrize(
    ("densities", "missing"), [((None, 0.97), "resin"), ((1.15, None), "hardener"), ((None, None), "resin")]
)
def test_a_ratio_by_volume_without_a_density_says_which_can(densities, missing):
    system = replace(
        SYSTEM,
        ratio_by="volume",
        resin=replace(SYSTEM.resin, density_g_cm3=densities[0]),
        hardener=replace(SYSTEM.hardener, density_g_cm3=densities[1]),
    )
    with pytest.raises(InputError, match=rf"test-resin ratio: is by volume, and the {missing} has no density"):
        parts_by_mass(system)
    assert stoichiometry_gap(system) is None


@pytest.mark.parametrize(
    "system",
    [
        replace(SYSTEM, resin=replace(SYSTEM.resin, equivalent_weight_g_eq=None)),
        replace(SYSTEM, hardener=replace(SYSTEM.hardener, equivalent_weight_g_eq=None)),
        replace(SYSTEM, chemistry="other"),
    ],
    ids=["no EEW", "no AHEW", "other chemistry"],
)
def test_without_equivalents_there_is_no_gap_to_report(system):
    assert stoichiometry_gap(system) is None
    assert stoichiometry_warning(system) is None


@pytest.mark.parametrize(
    ("hardener", "words"), [(32.9, None), (27.1, None), (33.1, "10 % more hardener"), (20.0, "33 % less hardener")]
)
def test_a_stated_ratio_more_than_a_tenth_from_its_equivalents_is_reported(hardener, words):
    # 57/190 calls for 30 phr: 33 and 27 are exactly 10 % away.
    warning = stoichiometry_warning(replace(SYSTEM, ratio=(100.0, hardener)))
    if words is None:
        assert warning is None
    else:
        assert words in warning
        assert "AHEW and EEW" in warning


def test_a_urethane_is_reported_by_its_own_equivalents():
    system = replace(SYSTEM, chemistry="urethane", ratio=(100.0, 50.0))
    assert "67 % more hardener than NCO and OH equivalents" in stoichiometry_warning(system)


@pytest.mark.parametrize(
    ("use", "low", "high"),
    [
        (lambda value: phr(value, 190.0), 1.0, 1e6),
        (lambda value: split_mass(100.0, (value, value)), 0.001, 100_000.0),
        (lambda value: ratio_by_weight_to_volume((100.0, 30.0), (value, value)), 0.3, 5.0),
        (lambda value: smallest_batch_g((100.0, 30.0), value), 0.0001, 1000.0),
    ],
    ids=["equivalent weight", "ratio", "density", "readability"],
)
def test_a_range_holds_its_own_limits_and_nothing_beyond(use, low, high):
    assert use(low)
    assert use(high)
    for outside in (low * 0.99, high * 1.01):
        with pytest.raises(RangeError, match=f"between {low:g} and {high:.0f}"):
            use(outside)


def test_a_tonne_is_the_most_that_a_cup_is_asked_to_hold():
    assert sum(split_mass(1e6, (100.0, 30.0))) == pytest.approx(1e6)
    with pytest.raises(RangeError, match=r"poured mass.*between 0 and 1000000 g"):
        off_ratio((1e6 + 1, 30.0), (100.0, 30.0))


def test_the_resin_keeps_its_number_when_a_ratio_is_converted():
    assert ratio_by_volume_to_weight((2.0, 1.0), (1.15, 0.97)) == pytest.approx((2.0, 0.97 / 1.15))
