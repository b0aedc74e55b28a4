"""One piece in its press: the plan's own pressure, its force and its row of clamps."""

from dataclasses import replace

import pytest
from plan_examples import PLAN

from layup.chemistry.closing import standard_atmosphere_Pa
from layup.errors import InputError
from layup.planning.outline import area_m2
from layup.planning.pressing import clamp_row, pressing
from layup.planning.stack import Closing

CLAMPED = replace(PLAN, closing=Closing("clamps", target_pressure_Pa=150_000.0))


def test_the_force_is_pressure_times_the_area_of_one_piece():
    press = pressing(CLAMPED)
    assert press.force_N == pytest.approx(150_000.0 * area_m2(PLAN.outline))
    stated = replace(CLAMPED, closing=replace(CLAMPED.closing, area_m2=0.2))
    assert pressing(stated).force_N == pytest.approx(30_000.0)


def test_a_plan_without_a_pressure_takes_one_atmosphere_and_a_bag_what_the_air_gives():
    assert pressing(PLAN).pressure_Pa == 100_000.0
    assert pressing(PLAN).wanted_Pa is None
    bag = pressing(PLAN, method="bag", altitude_m=2000.0, left_Pa=5000.0)
    assert bag.pressure_Pa == pytest.approx(standard_atmosphere_Pa(2000.0) - 5000.0)
    assert not bag.in_a_row


def test_the_planned_fraction_is_that_of_all_plies_together():
    only_glass = replace(PLAN, steps=tuple(step for step in PLAN.steps if "glass" in step.name))
    # 60 % by weight of 2.54 g/cm^3 in 1.15 g/cm^3: (0.6/2.54)/(0.6/2.54 + 0.4/1.15)
    assert pressing(only_glass).planned_fraction == pytest.approx(0.6 / 2.54 / (0.6 / 2.54 + 0.4 / 1.15))
    low, high = pressing(CLAMPED).fraction
    assert 0.3 < low < high < 0.8


def test_the_row_is_as_many_as_the_plan_has_or_as_the_evenness_and_the_rating_ask():
    press = pressing(CLAMPED)
    row = clamp_row(CLAMPED, press)
    assert row.lowest_share >= 0.8
    assert clamp_row(replace(CLAMPED, closing=replace(CLAMPED.closing, clamps=9)), press).count == 9
    assert clamp_row(CLAMPED, press, rating_N=press.force_N / 40.5).count == 41
    assert clamp_row(CLAMPED, press, caul_m=0.06).count < row.count


def test_a_plan_without_cloth_has_no_row():
    bare = replace(CLAMPED, steps=tuple(step for step in PLAN.steps if step.kind != "fabric"))
    assert pressing(bare).planned_fraction is None
    with pytest.raises(InputError, match="lays no cloth"):
        clamp_row(bare, pressing(bare))
