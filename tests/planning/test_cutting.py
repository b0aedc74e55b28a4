"""The cut list against sums done by hand."""

from dataclasses import replace

import pytest
from plan_examples import GLASS, PLAN, SLOW, STRIP

from layup.errors import InputError
from layup.planning.budget import budget
from layup.planning.cuts import cut_list
from layup.planning.outline import Outline, area_m2


def test_blanks_are_as_long_and_wide_as_the_piece_with_its_overhang():
    lower, strip, upper = cut_list(PLAN)
    assert (lower.count, lower.across) == (4, 7)  # 2 pieces x 2 layers; 7 times 0.16 m in 1.27 m
    assert lower.length_m == pytest.approx(1.64)
    assert lower.width_m == pytest.approx(0.16)
    assert (upper.count, upper.across, upper.length_m, upper.width_m) == (4, 7, lower.length_m, lower.width_m)
    # 4 + 4 blanks lie in a row of 7, 4 and 3, and one more by itself
    assert lower.roll_m == pytest.approx(1.64 * 4 / 7)
    assert upper.roll_m == pytest.approx(1.64 * 3 / 7 + 1.64)
    assert (strip.count, strip.across, strip.length_m, strip.width_m) == (2, 21, pytest.approx(1.6), 0.06)


def test_waste_is_what_the_roll_holds_beyond_the_part():
    (lower,) = cut_list(replace(PLAN, steps=(GLASS,)))
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


def strips(*counts, price=9.0):
    """One strip of 0.152 m a step, 1.71 m long with its overhang, on a roll of 1.27 m: eight lie side by side."""
    outline = Outline(length_m=1.68, stated_area_m2=0.3, overhang_m=0.015, roll_width_m=1.27)
    cloth = replace(GLASS, layers=1, width_m=0.152, price_per_m2=price)
    steps = tuple(replace(cloth, name=f"glass {number}", layers=count) for number, count in enumerate(counts, 1))
    return replace(PLAN, pieces=1, outline=outline, steps=steps)


def test_four_strips_of_two_steps_come_off_one_length_of_roll():
    # By hand: 4 x 152 mm = 608 mm of 1270 mm, so one length of 1.71 m; each step is half of it.
    lower, upper = cut_list(strips(2, 2))
    assert (lower.roll_m, upper.roll_m) == (pytest.approx(0.855), pytest.approx(0.855))
    assert (lower.beside, upper.beside) == ((1,), (0,))
    assert lower.waste == pytest.approx(1 - 2 * 0.152 * 1.68 / (0.855 * 1.27))


def test_a_row_of_several_steps_is_shared_out_by_their_blanks():
    # By hand: eight of the nine strips fill the first row, 6 and 2; the third of the upper glass needs a second.
    lower, upper = cut_list(strips(6, 3))
    assert lower.roll_m == pytest.approx(1.71 * 6 / 8)
    assert upper.roll_m == pytest.approx(1.71 * 2 / 8 + 1.71)


def test_cloth_of_another_weight_or_price_is_another_roll():
    plan = strips(2, 2)
    for other in (replace(plan.steps[1], areal_weight_g_m2=300.0), replace(plan.steps[1], price_per_m2=11.0)):
        lower, upper = cut_list(replace(plan, steps=(plan.steps[0], other)))
        assert (lower.roll_m, upper.roll_m) == (pytest.approx(1.71), pytest.approx(1.71))
        assert (lower.beside, upper.beside) == ((), ())


def test_the_price_of_cloth_is_that_of_what_is_cut_off_the_roll():
    cost = budget(strips(2, 2, price=9.0), replace(SLOW, price_per_kg=None)).cost
    assert cost.total == pytest.approx(9.0 * 1.71 * 1.27)
