"""Outlines that no board can have are refused in words."""

import pytest

from layup.errors import InputError, RangeError
from layup.planning.cuts import cloth_area_m2, covered_area_m2, offsets, overhang_m
from layup.planning.outline import Outline, area_m2, edges, needed_length_m, offset_area_m2
from layup.planning.plan import FabricStep

STRIP = FabricStep("edge strip", 60.0, 300.0, "E-glass", 2.54, 0.6, width_m=0.05)
CLOTH = FabricStep("lower glass", 60.0, 300.0, "E-glass", 2.54, 0.6)
BOARD = Outline(stations=((0.0, 0.1), (1.5, 0.1)), overhang_m=0.02)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({}, "gives no shape"),
        ({"stated_area_m2": 0.1, "stations": ((0.0, 0.1), (1.0, 0.1))}, "gives more than one shape"),
        ({"stations": ((0.0, 0.1),)}, "too few"),
        ({"stations": ((0.0, 0.1), (0.0, 0.2))}, "do not run from one end to the other"),
        ({"stations": ((0.0, 0.1), (1.0, -0.1))}, "width at 1 m"),
        ({"stations": ((0.0, 0.0), (1.0, 0.0))}, "no width anywhere"),
        ({"stations": ((0.0, 0.1), (1.0, 0.1)), "edges_m": ((0.0, 0.1, 0.1), (1.0, 0.1, 0.1))}, "more than one shape"),
        ({"edges_m": ((0.0, 0.1, 0.1), (1.0, 0.1, -0.2))}, "width at 1 m.*from the centre line, to its own side"),
        ({"stations": ((0.0, 0.1), (0.7, 0.1), (1.0, 0.1)), "length_m": 0.7}, r"not cover the stated length \(1 m\)"),
        ({"stated_area_m2": 0.0}, "area"),
        ({"stated_area_m2": 0.1, "length_m": -1.0}, "length"),
        ({"stated_area_m2": 0.1, "overhang_m": -0.01}, "overhang"),
        ({"stated_area_m2": 0.1, "roll_width_m": 0.0}, "roll width"),
        ({"polyline_m": ((0.0, 0.0), (1.0, float("nan")), (0.0, 1.0))}, "not a number"),
    ],
)
def test_an_outline_that_no_board_can_have_is_refused(given, message):
    with pytest.raises((RangeError, InputError), match=message):
        Outline(**given)


@pytest.mark.parametrize(
    ("ring", "message"),
    [
        (((0.0, 0.0), (1.0, 0.0)), "too few points"),
        (((0.0, 0.0), (1.0, 0.0), (2.0, 0.0)), "encloses no area"),
        (((0.0, 0.0), (1.0, 1.0), (1.0, 0.0), (0.0, 2.0)), "crosses itself"),
        (((0.0, 0.0), (4.0, 0.0), (4.0, 2.0), (2.0, 0.0), (0.0, 2.0)), "crosses itself"),  # touches its own edge
        (((0.0, 0.0), (3.0, 0.0), (1.0, 0.0), (1.0, 2.0)), "crosses itself"),  # doubles back
    ],
)
def test_a_drawing_that_is_not_one_closed_line_is_refused(ring, message):
    with pytest.raises(RangeError, match=message):
        area_m2(Outline(polyline_m=ring))


def test_a_strip_hangs_over_at_its_ends_only():
    assert cloth_area_m2(BOARD, STRIP) == pytest.approx(0.05 * (1.5 + 0.04))
    assert covered_area_m2(BOARD, STRIP) == pytest.approx(0.05 * 1.5)


def test_a_step_has_its_own_overhang_where_it_states_one():
    own = FabricStep("strip", 60.0, 300.0, "E-glass", 2.54, 0.6, width_m=0.05, overhang_m=0.0)
    assert overhang_m(BOARD, own) == 0.0
    assert overhang_m(BOARD, STRIP) == 0.02
    assert cloth_area_m2(BOARD, own) == covered_area_m2(BOARD, own)


def test_a_strip_wider_than_the_piece_is_refused():
    wide = FabricStep("strip", 60.0, 300.0, "E-glass", 2.54, 0.6, width_m=0.11)
    with pytest.raises(RangeError, match="strip wider than the piece"):
        covered_area_m2(BOARD, wide)


def test_an_area_without_a_length_gives_an_area_but_no_overhang_and_no_strip():
    bare = Outline(stated_area_m2=0.15)
    assert area_m2(bare) == 0.15
    assert offset_area_m2(bare, 0.0) == 0.15
    for wants_length in (
        lambda: offset_area_m2(bare, 0.02),
        lambda: cloth_area_m2(bare, STRIP),
        lambda: needed_length_m(bare, "a strip"),
    ):
        with pytest.raises(InputError, match="state the length"):
            wants_length()


def test_cloth_follows_the_outline_with_its_overhang():
    grown = cloth_area_m2(BOARD, CLOTH)
    assert covered_area_m2(BOARD, CLOTH) == pytest.approx(0.15)
    assert 0.15 + 2 * (1.5 + 0.1) * 0.02 < grown < 1.54 * 0.14


def test_edges_that_cross_between_two_stations_are_refused():
    # Each edge keeps its shape between its stations, so that one can fall before the other rises.
    crossed = Outline(edges_m=((0.0, 0.05, 0.0), (0.1, 0.0, 0.0), (0.5, -0.049, 0.05), (0.6, -0.05, 0.2)))
    with pytest.raises(RangeError, match=r"edges that cross .*to its own side"):
        area_m2(crossed)


EDGES = Outline(edges_m=((0.1, 0.02, 0.03), (0.35, 0.06, 0.05), (0.85, 0.04, 0.07)))


def test_a_template_has_both_edges_at_each_station_and_every_100_mm_from_the_tail():
    found = {each.at_m: (each.left_m, each.right_m) for each in offsets(EDGES)}
    assert list(found) == ([0.0, 0.1, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.7, 0.75])
    assert found[0.0] == (0.02, 0.03)
    assert found[0.25] == (0.06, 0.05)
    assert found[0.75] == (0.04, 0.07)
    assert found[0.5] == tuple(side(0.6) for side in edges(EDGES)), "0.5 m from the tail, which lies at 0.1 m"


@pytest.mark.parametrize(
    "outline",
    [
        Outline(stations=((0.0, 0.1), (700 * 0.001, 0.12), (1.0, 0.1))),
        Outline(edges_m=((0.1, 0.05, 0.05), (0.4, 0.06, 0.06), (1.1, 0.05, 0.05))),
        Outline(polyline_m=((0.0, 0.0), (3 * 0.1 + 0.7, 0.0), (3 * 0.1 + 0.7, 0.2), (0.0, 0.2))),
        Outline(stated_area_m2=0.1, length_m=10 * 0.1),
    ],
)
def test_a_template_names_each_place_once_however_its_metres_were_rounded(outline):
    assert [each.at_m for each in offsets(outline)] == [number / 10 for number in range(11)]


def test_a_template_of_a_drawing_is_measured_from_the_middle_and_keeps_left_left_when_it_stands_upright():
    # A board 1 m long, 0.2 m wide, one long edge cut in to 0.15 m at the tip: on its right, the tip ahead.
    lies = Outline(polyline_m=((0.0, 0.0), (1.0, 0.05), (1.0, 0.2), (0.0, 0.2)))
    stands = Outline(polyline_m=((0.2, 0.0), (0.15, 1.0), (0.0, 1.0), (0.0, 0.0)))
    for drawn in (lies, stands):
        tip = offsets(drawn)[-1]
        assert (tip.at_m, tip.left_m, tip.right_m) == pytest.approx((1.0, 0.1, 0.05))
