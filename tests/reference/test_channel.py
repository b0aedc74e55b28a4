"""The volume of a channel along an outline, against closed forms and against an offset by numbers."""

from math import cos, pi, sin

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from layup.errors import InputError, RangeError
from layup.planning.channel import Channel, channel_words, held_m3, line_length_m, middle_lines_m
from layup.planning.outline import Outline

BOARD = Outline(stated_area_m2=0.1, length_m=1.0)
SKI = Outline(
    stations=((0.0, 0.02), (0.05, 0.084), (0.14, 0.116), (0.5, 0.11), (0.86, 0.092), (1.52, 0.11), (1.68, 0.04))
)


def stadium(straight_m, radius_m, chords=180):
    """Two half circles joined by straights, against the clock, its long axis along x."""
    turns = [pi * i / chords for i in range(chords + 1)]
    tip = [(straight_m + radius_m * sin(a), -radius_m * cos(a)) for a in turns]
    return tuple(tip + [(-radius_m * sin(a), radius_m * cos(a)) for a in turns])


def test_a_straight_board_by_hand():
    """8 x 12 mm, its near wall 2 mm inside 1.0 x 0.1 m: two prisms of 96 ml; around 2 (0.988 + 0.088) m."""
    section = {"width_m": 0.008, "depth_m": 0.012, "offset_m": 0.002}
    assert held_m3(BOARD, Channel(**section)) * 1e6 == pytest.approx(2 * 96.0)
    assert held_m3(BOARD, Channel(**section, sides="one")) * 1e6 == pytest.approx(96.0)
    assert held_m3(BOARD, Channel(**section, sides="around")) * 1e6 == pytest.approx(96.0 * 2 * (0.988 + 0.088))
    rails = Channel(**section, begin_m=0.15, end_m=0.9)
    assert held_m3(BOARD, rails) * 1e6 == pytest.approx(2 * 96.0 * 0.75)
    sloped = Channel(**section, bottom_m=0.004)
    assert held_m3(BOARD, sloped) * 1e6 == pytest.approx(2 * 72.0)
    assert channel_words(BOARD, rails) == "1.50 m of channel along both sides, 8 x 12 mm: 144 ml a piece to the brim"


@pytest.mark.parametrize("offset_m", [-0.005, 0.0, 0.01, 0.03])
def test_around_a_circle_and_a_stadium_it_is_as_pappus_says(offset_m):
    """Pappus and Guldinus: the section times the path of its middle, 2 pi (R - d) and 2 L + 2 pi (R - d)."""
    channel = Channel(0.01, 0.01, offset_m, "around")
    round_m = tuple((0.4 * cos(2 * pi * i / 1440), 0.4 * sin(2 * pi * i / 1440)) for i in range(1440))
    inside_m = offset_m + 0.005
    assert held_m3(Outline(polyline_m=round_m), channel) == pytest.approx(2e-4 * pi * (0.4 - inside_m), rel=1e-4)
    body = Outline(polyline_m=stadium(1.0, 0.05))
    assert held_m3(body, channel) == pytest.approx(1e-4 * (2.0 + 2 * pi * (0.05 - inside_m)), rel=1e-4)


def test_a_corner_rounder_than_the_channel_is_deep_inside_leaves_a_sharp_one():
    """Corners of 4 mm, 7 mm inside: the rectangle that is 7 mm smaller all around."""
    quarter = [pi / 2 * i / 12 for i in range(13)]
    centres = ((0.996, 0.004, -pi / 2), (0.996, 0.096, 0.0), (0.004, 0.096, pi / 2), (0.004, 0.004, pi))
    drawn = tuple((x + 0.004 * cos(a + turn), y + 0.004 * sin(a + turn)) for x, y, turn in centres for a in quarter)
    held = held_m3(Outline(polyline_m=drawn), Channel(0.01, 0.01, 0.002, "around"))
    assert held == pytest.approx(1e-4 * 2 * (0.986 + 0.086))


def test_along_a_ski_it_is_the_parallel_curve_by_numbers():
    """Independent: scipy's pchip through the stations, its normals by differences, 20 000 points moved inwards."""
    at, width = np.array(SKI.stations).T
    x = np.linspace(0.12, 1.55, 20_001)
    y = PchipInterpolator(at, width)(x) / 2.0
    slope = np.gradient(y, x)
    away = np.hypot(1.0, slope)
    inside_m = 0.003 + 0.008 / 2
    moved_x, moved_y = x + inside_m * slope / away, y - inside_m / away
    along_m = float(np.hypot(np.diff(moved_x), np.diff(moved_y)).sum())
    channel = Channel(0.008, 0.012, 0.003, begin_m=0.12, end_m=1.55)
    lines = middle_lines_m(SKI, channel)
    assert [line_length_m(line) for line in lines] == pytest.approx([along_m] * 2, rel=2e-4)
    assert held_m3(SKI, channel) == pytest.approx(2 * along_m * 0.008 * 0.012, rel=2e-4)


def test_a_drawing_that_stands_upright_is_measured_like_one_that_lies():
    lies = Outline(polyline_m=stadium(1.0, 0.05))
    stands = Outline(polyline_m=tuple((y, x) for x, y in lies.polyline_m))
    for sides in ("both", "one", "around"):
        channel = Channel(0.008, 0.012, 0.002, sides)
        assert held_m3(stands, channel) == pytest.approx(held_m3(lies, channel))


@pytest.mark.parametrize(
    ("outline", "channel", "words"),
    [
        (Outline(stated_area_m2=0.1), {}, "has an area but no length, so a channel cannot be cut"),
        (BOARD, {"offset_m": 0.2, "sides": "around"}, "channel: does not fit in the outline"),
        (BOARD, {"begin_m": 2.0, "end_m": 3.0}, "channel: lies beyond the ends of the piece"),
        (BOARD, {"begin_m": 0.5, "end_m": 0.4}, "channel: begins where it ends"),
        (BOARD, {"begin_m": 0.5, "sides": "around"}, "goes around and has ends"),
        (BOARD, {"offset_m": -0.1}, "channel: offset: is out of range"),
    ],
)
def test_a_channel_that_cannot_be_routed_is_refused(outline, channel, words):
    with pytest.raises((InputError, RangeError), match=words):
        held_m3(outline, Channel(**{"width_m": 0.008, "depth_m": 0.012, **channel}))
