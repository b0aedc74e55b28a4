"""One piece in its press: the plan's own pressure, its force and its row of clamps."""

from dataclasses import replace

import pytest
from plan_examples import GLASS, PLAN

from layup.app.cure_view import closing_lines
from layup.chemistry.closing import CAUTIONS, AGAIN_s, fibre_fraction_under_pressure, standard_atmosphere_Pa
from layup.errors import InputError, RangeError
from layup.planning.outline import Outline, area_m2, needed_length_m
from layup.planning.plan import Board, Closing, Foam
from layup.planning.pressing import (
    USUAL_CAUL,
    acts_of_plan,
    clamp_row,
    edges_share,
    mould_load,
    next_press_act,
    overloaded_words,
    press_acts,
    pressed_out_words,
    pressing,
    pull_words,
)

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


def test_the_resin_that_runs_out_is_that_which_the_packed_cloth_has_no_room_for():
    """By hand: 1000 g of E-glass of 2.54 g/cm^3 is 393.7 cm^3 and, at 60 % by weight, holds 666.7 g of resin.

    A press that takes out 12 % has 757.6 g poured and counts on 90.9 g. Of cloth that packs to a fraction Vf,
    393.7 cm^3 (1/Vf - 1) of resin of 1.15 g/cm^3 stay.
    """
    cloth = replace(GLASS, layers=1, areal_weight_g_m2=1000.0)
    outline = Outline(length_m=10.0, stated_area_m2=1.0)
    press = pressing(replace(PLAN, pieces=1, outline=outline, steps=(cloth,)))
    assert press.laid_g == pytest.approx(757.6, abs=0.1)
    assert press.planned_out_g == pytest.approx(90.9, abs=0.1)
    packed = fibre_fraction_under_pressure("stitched", 100e3)
    by_hand = [757.6 - 393.7 * (1.0 / fraction - 1.0) * 1.15 for fraction in (packed.low, packed.high)]
    assert press.pressed_out_g == pytest.approx(by_hand, abs=0.2)
    words = pressed_out_words(press)
    assert f"{by_hand[0]:.0f} to {by_hand[1]:.0f} g of the 758 g" in words
    shares = f"({by_hand[0] / 7.576:.0f} to {by_hand[1] / 7.576:.0f} %)"
    assert f"{shares}; planned: 91 g (12 %), for 40 %. One of them is wrong" in words


def test_a_plan_that_counts_on_what_the_press_drives_out_is_not_contradicted():
    dry = replace(GLASS, fibre_mass_fraction=0.74)  # 56 % by volume
    agreed = replace(PLAN, steps=(dry,))
    assert "One of them is wrong" not in pressed_out_words(pressing(agreed))


def test_a_squeeze_out_that_is_not_given_is_said_beside_what_the_press_drives_out():
    silent = replace(PLAN, losses=replace(PLAN.losses, squeeze_out=None))
    assert "planned: not given, so none is counted on" in pressed_out_words(pressing(silent))


def test_where_packing_is_not_known_nothing_is_said_of_what_runs_out():
    hard = replace(PLAN, closing=Closing(target_pressure_Pa=5e6))
    bare = replace(PLAN, steps=tuple(step for step in PLAN.steps if step.kind != "fabric"))
    assert [pressed_out_words(pressing(plan)) for plan in (hard, bare)] == ["", ""]


def test_the_row_is_as_many_as_the_plan_has_or_as_the_evenness_and_the_rating_ask():
    press = pressing(CLAMPED)
    row = clamp_row(CLAMPED, press)
    assert row.lowest_share >= 0.8
    assert clamp_row(replace(CLAMPED, closing=replace(CLAMPED.closing, clamps=9)), press).count == 9
    assert clamp_row(CLAMPED, press, rating_N=press.force_N / 40.5).count == 41
    assert clamp_row(CLAMPED, press, caul=Board("birch plywood", 0.06)).count < row.count


def closed(**given):
    return replace(CLAMPED, closing=replace(CLAMPED.closing, **given))


def test_the_row_goes_by_the_plans_own_caul_backing_and_rating():
    press = pressing(CLAMPED)
    usual = clamp_row(CLAMPED, press)
    assert clamp_row(closed(caul=USUAL_CAUL), press) == usual
    thin, steel = (clamp_row(closed(caul=Board(*board)), press) for board in (("MDF", 0.018), ("steel", 0.03)))
    assert steel.count < usual.count < thin.count
    limp = clamp_row(closed(backing=Board("MDF", 0.018)), press)
    rigid = clamp_row(closed(backing=Board("steel", 0.5)), press)
    assert limp.count > usual.count == rigid.count
    assert clamp_row(closed(clamp_rating_N=press.force_N / 40.5), press).count == 41
    assert clamp_row(closed(clamp_rating_N=press.force_N / 40.5), press, rating_N=press.force_N / 50.5).count == 51


def test_clamps_that_are_too_weak_are_told_with_both_forces():
    press = pressing(CLAMPED)
    each_N = press.force_N / 10
    assert overloaded_words(press, 10, None) == overloaded_words(press, 10, each_N) == ""
    words = overloaded_words(press, 10, 1000.0)
    assert f"give {each_N / 1000:.1f} kN, and is rated for 1.0 kN" in words


def test_the_press_page_says_which_boards_are_counted_on_and_which_are_not_given():
    def page(plan):
        return " ".join(" ".join(closing_lines(plan, (), width=100)).split())

    silent, told = (
        page(CLAMPED),
        page(closed(caul=Board("MDF", 0.018), backing=Board("steel", 0.01), clamp_rating_N=1e3)),
    )
    assert "caul of 30 mm birch plywood taken; below not given; rating not given" in silent
    assert "caul of 18 mm MDF; a board of 10 mm steel below; rating 1 kN" in told
    assert "is rated for 1.0 kN" in page(closed(clamps=3, clamp_rating_N=1e3))
    assert f"{clamp_row(closed(caul=Board('MDF', 0.018)), pressing(CLAMPED)).count} clamps" in page(
        closed(caul=Board("MDF", 0.018))
    )


def test_a_plan_without_cloth_has_no_row():
    bare = replace(CLAMPED, steps=tuple(step for step in PLAN.steps if step.kind != "fabric"))
    assert pressing(bare).planned_fraction is None
    with pytest.raises(InputError, match="lays no cloth"):
        clamp_row(bare, pressing(bare))


NEVER_S = float("inf")


def acts_of(method, **more):
    plan = replace(PLAN, closing=Closing(method, target_pressure_Pa=150_000.0, **more))
    press = pressing(plan)
    return press, press_acts(press, clamp_row(plan, press) if press.in_a_row else None)


def test_clamps_are_tightened_half_then_fully_from_the_middle_outwards_and_again_after_5_and_15_minutes():
    press, acts = acts_of("clamps", clamps=6)
    assert [(act.words, act.after_s) for act in acts] == [
        ("TIGHTEN 6 CLAMPS HALF", 0.0),
        ("TIGHTEN 6 CLAMPS FULLY", 0.0),
        ("RETIGHTEN CLAMPS", 300.0),
        ("RETIGHTEN CLAMPS", 900.0),
    ]
    assert all(act.order == (3, 4, 2, 5, 1, 6) for act in acts)
    assert [act.number.split(", ")[0] for act in acts[:2]] == [
        f"{press.force_N / 6000 * share:.1f} kN" for share in (0.5, 1.0)
    ]


def test_a_clamp_s_pull_is_told_as_the_weight_that_pulls_as_hard():
    # weight = force / standard gravity, 9.80665 m/s^2 (ISO 80000-4): 2.8 kN is the weight of 286 kg
    assert pull_words(2800.0) == "2.8 kN, about 290 kg"
    _, acts = acts_of("clamps", clamps=6)
    assert acts[1].number.endswith(" kg")
    pair = replace(PLAN, pieces=2, closing=Closing("clamps", target_pressure_Pa=150_000.0, clamps=6))
    assert [act.words for act in acts_of_plan(pair)[:2]] == ["TIGHTEN 12 CLAMPS HALF", "TIGHTEN 12 CLAMPS FULLY"]


def test_a_bladder_is_raised_in_two_steps_and_its_gauge_read_again():
    _, acts = acts_of("bladder")
    assert [(act.words, act.number) for act in acts] == [
        ("RAISE TO HALF PRESSURE", "75 kPa"),
        ("RAISE TO FULL PRESSURE", "150 kPa"),
        ("READ THE GAUGE", "150 kPa"),
    ]
    assert all(act.order == () for act in acts)


def test_every_way_of_closing_has_its_acts_of_at_most_eight_words():
    assert AGAIN_s.keys() == CAUTIONS.keys()
    for method in CAUTIONS:
        _, acts = acts_of(method)
        assert [act.after_s for act in acts if act.after_s] == list(AGAIN_s[method])
        assert all(len(act.words.split()) <= 8 for act in acts)


def test_clamps_that_nobody_counted_are_tightened_all_the_same():
    press, _ = acts_of("clamps")
    acts = press_acts(press, None)
    assert [(act.number, act.order) for act in acts] == [("", ())] * 4


@pytest.mark.parametrize(
    ("since_s", "tightened", "again_s", "gel_s", "wanted"),
    [
        (0.0, 0, (), NEVER_S, 0),
        (60.0, 1, (), NEVER_S, 1),
        (60.0, 2, (), NEVER_S, 2),
        (301.0, 0, (), NEVER_S, 2),
        (310.0, 2, (305.0,), NEVER_S, 3),
        (310.0, 0, (305.0,), NEVER_S, 3),
        (250.0, 2, (245.0,), NEVER_S, 3),
        (1000.0, 2, (), NEVER_S, 3),
        (1010.0, 2, (1005.0,), NEVER_S, None),
        (1010.0, 2, (305.0, 905.0), NEVER_S, None),
        (310.0, 2, (305.0,), 800.0, None),
        (60.0, 2, (), 200.0, None),
        (60.0, 1, (), 200.0, 1),
        (700.0, 2, (), 600.0, None),
    ],
)
def test_the_next_act_at_a_closed_press_is_the_next_round_until_it_is_time_to_go_round_again(
    since_s, tightened, again_s, gel_s, wanted
):
    _, acts = acts_of("clamps", clamps=6)
    found = next_press_act(acts, since_s, tightened, again_s, gel_s)
    assert found == (None if wanted is None else acts[wanted])


def test_curved_ends_are_left_to_blocks_of_their_own_and_lose_no_force():
    curved = replace(CLAMPED, closing=replace(CLAMPED.closing, curved_ends_m=0.2))
    press, flat = pressing(curved), pressing(CLAMPED)
    assert press.force_N == flat.force_N
    assert press.row_N + 2.0 * press.curved_end_N == pytest.approx(press.force_N)
    assert 0.0 < press.row_N < flat.row_N == flat.force_N
    row, whole = clamp_row(curved, press), clamp_row(CLAMPED, flat)
    assert row.count < whole.count
    long_m = 2.0 * row.end_m + (row.count - 1) * row.spacing_m
    assert long_m == pytest.approx(needed_length_m(PLAN.outline, "a caul") - 0.4)


def test_a_rectangles_curved_ends_take_their_share_of_its_length():
    """By hand: 0.2 m of each end of 1.6 m are a quarter of a board of even width, wherever its stations begin."""
    for first_m in (0.0, 0.3):
        board = Outline(stations=((first_m, 0.1), (first_m + 1.6, 0.1)))
        plan = replace(CLAMPED, outline=board, closing=replace(CLAMPED.closing, curved_ends_m=0.2))
        assert pressing(plan).flat_share == pytest.approx(0.75, abs=0.006)


def test_the_share_between_curved_ends_counts_both_edges():
    """By hand: a wedge 1.6 m long, 0.1 m wide at its tail and 0.3 m at its tip, all of the difference on the left:
    between 0.4 m and 1.2 m it is 0.2 m wide on average, as it is in all, so half of it lies there."""
    wedge = Outline(edges_m=((0.0, 0.05, 0.05), (1.6, 0.25, 0.05)))
    plan = replace(CLAMPED, outline=wedge, closing=replace(CLAMPED.closing, curved_ends_m=0.4))
    assert pressing(plan).flat_share == pytest.approx(0.5, abs=0.006)


def test_foam_under_the_mould_evens_the_pressure_out_and_may_not_bear_it():
    foam = replace(CLAMPED, closing=replace(CLAMPED.closing, foam=Foam(0.05, 0.03)))
    assert mould_load(CLAMPED, pressing(CLAMPED)) is None
    assert mould_load(foam, pressing(foam)).word == "crushes"
    shares = [clamp_row(plan, pressing(plan), clamps=8).lowest_share for plan in (CLAMPED, foam)]
    assert shares[0] < shares[1]
    edges = [edges_share(plan, pressing(plan), Board("softwood plywood", 0.009)) for plan in (CLAMPED, foam)]
    assert edges[0] < edges[1] < 1.0


def test_a_mould_bears_what_its_material_does():
    assert Closing(foam=Foam(0.05, 0.03)).hottest_K == pytest.approx(313.15)
    assert Closing(foam=Foam(0.05, 0.03, hottest_K=343.15)).hottest_K == pytest.approx(343.15)
    assert Closing(backing=Board("MDF", 0.018)).hottest_K == pytest.approx(333.15)
    assert Closing(backing=Board("steel", 0.003)).hottest_K == float("inf")


def test_curved_ends_that_leave_nothing_straight_are_refused_with_what_is_allowed():
    curved = replace(CLAMPED, closing=replace(CLAMPED.closing, curved_ends_m=0.9))
    with pytest.raises(RangeError, match=r"curved ends: is out of range .* has to be longer than 50 mm"):
        pressing(curved)
