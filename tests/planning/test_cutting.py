"""The cut list against sums done by hand."""

from dataclasses import replace

import pytest
from plan_examples import GLASS, PLAN, STRIP

from layup.errors import InputError
from layup.planning.cutting import cut_list
from layup.planning.outline import Outline, area_m2


def test_blanks_are_as_long_and_wide_as_the_piece_with_its_overhang():
    lower, strip, upper = cut_list(PLAN)
    assert (lower.count, lower.across) == (4, 7)  # 2 pieces x 2 layers; 7 times 0.16 m in 1.27 m
    assert lower.length_m == pytest.approx(1.64)
    assert lower.width_m == pytest.approx(0.16)
    assert lower.roll_m == pytest.approx(1.64), "four blanks lie side by side"
    assert upper == replace(lower, step=6, name="upper glass")
    assert (strip.count, strip.across, strip.length_m, strip.width_m) == (2, 21, pytest.approx(1.6), 0.06)


def test_waste_is_what_the_roll_holds_beyond_the_part():
    lower, *_ = cut_list(PLAN)
    assert lower.waste == pytest.approx(1 - 4 * area_m2(PLAN.outline) / (1.64 * 1.27))


def test_more_blanks_than_lie_side_by_side_take_another_row():
    (cut,) = cut_list(replace(PLAN, pieces=4, steps=(GLASS,)))
    assert cut.count == 8
    assert cut.roll_m == pytest.approx(2 * 1.64)


def test_without_a_roll_width_only_the_blanks_are_listed():
    plan = replace(PLAN, outline=replace(PLAN.outline, roll_width_m=None))
    assert {(cut.across, cut.roll_m, cut.waste) for cut in cut_list(plan)} == {(None, None, None)}


def test_a_blank_wider_than_the_roll_is_shown_as_such():
    plan = replace(PLAN, outline=replace(PLAN.outline, roll_width_m=0.10))
    lower, strip, _ = cut_list(plan)
    assert (lower.across, lower.roll_m, lower.waste) == (0, None, None)
    assert strip.across == 1


def test_a_roll_exactly_as_wide_as_its_blanks_loses_none():
    plan = replace(PLAN, outline=replace(PLAN.outline, roll_width_m=0.06 * 3), steps=(STRIP,))
    (cut,) = cut_list(plan)
    assert cut.across == 3


def test_cloth_cannot_be_cut_for_an_area_without_a_length():
    with pytest.raises(InputError, match="state the length"):
        cut_list(replace(PLAN, outline=Outline(stated_area_m2=0.15), steps=(GLASS,)))
