"""Areas of outlines against geometry's own formulas and scipy's shape-preserving interpolation."""

from math import cos, dist, pi

import pytest
from scipy.integrate import quad
from scipy.interpolate import PchipInterpolator

from layup.chemistry.numerics import monotone_curve
from layup.errors import RangeError
from layup.planning.outline import Outline, area_m2, offset_area_m2, shape

SKI = (
    (0.0, 0.020),
    (0.05, 0.084),
    (0.14, 0.116),
    (0.28, 0.122),
    (0.50, 0.110),
    (0.86, 0.092),
    (1.20, 0.098),
    (1.52, 0.110),
    (1.62, 0.096),
    (1.68, 0.040),
)


def test_a_rectangle_has_length_times_width_from_every_kind_of_outline():
    by_stations = Outline(stations=((0.0, 0.12), (0.4, 0.12), (1.5, 0.12)))
    by_drawing = Outline(polyline_m=((0.0, 0.0), (1.5, 0.0), (1.5, 0.12), (0.0, 0.12)))
    by_area = Outline(stated_area_m2=0.18, length_m=1.5)
    for outline in (by_stations, by_drawing, by_area):
        assert area_m2(outline) == pytest.approx(0.18, rel=1e-12)
        assert shape(outline).perimeter_m == pytest.approx(2 * (1.5 + 0.12), rel=1e-12)
        assert shape(outline).length_m == pytest.approx(1.5)
        assert shape(outline).widest_m == pytest.approx(0.12)


def test_an_ellipse_by_stations_comes_within_a_thousandth_of_pi_a_b():
    a, b = 0.9, 0.15
    stations = tuple((a - a * cos(pi * i / 40), 2 * b * (1 - cos(pi * i / 40) ** 2) ** 0.5) for i in range(41))
    assert area_m2(Outline(stations=stations)) == pytest.approx(pi * a * b, rel=1e-3)


def test_a_fine_polygon_in_an_ellipse_has_its_inscribed_area():
    a, b, n = 0.9, 0.15, 400
    ring = tuple((a * cos(2 * pi * i / n), b * cos(2 * pi * i / n - pi / 2)) for i in range(n))
    inscribed = n / 2 * a * b * cos(2 * pi / n - pi / 2)  # n triangles of a b sin(2 pi/n)/2
    assert area_m2(Outline(polyline_m=ring)) == pytest.approx(inscribed, rel=1e-12)
    assert shape(Outline(polyline_m=ring)).widest_m == pytest.approx(2 * b)


def test_a_known_polygon_with_a_hollow_has_its_shoelace_area():
    # An L of 2 x 2 less its 1 x 1 corner: 3, either way round and wherever it begins.
    ring = ((0.0, 0.0), (2.0, 0.0), (2.0, 1.0), (1.0, 1.0), (1.0, 2.0), (0.0, 2.0))
    assert area_m2(Outline(polyline_m=ring)) == 3.0
    assert area_m2(Outline(polyline_m=(*ring[2:], *ring[:2]))) == 3.0
    assert area_m2(Outline(polyline_m=ring[::-1])) == 3.0
    assert area_m2(Outline(polyline_m=(*ring, ring[0]))) == 3.0, "a repeated last point changes nothing"


@pytest.mark.parametrize(("dx", "dy"), [(0.0, 0.0), (-4.0, -3.0), (5.0, -7.0)])
def test_corners_on_a_straight_edge_change_nothing_wherever_the_drawing_lies(dx, dy):
    corners = (
        (0.0, 0.0),
        (0.5, 0.0),
        (1.2, 0.0),
        (2.0, 0.0),
        (2.0, 0.4),
        (2.0, 1.0),
        (1.0, 1.0),
        (0.0, 1.0),
        (0.0, 0.3),
    )
    ring = tuple((x + dx, y + dy) for x, y in corners)
    assert area_m2(Outline(polyline_m=ring)) == pytest.approx(2.0, rel=1e-12)
    assert shape(Outline(polyline_m=ring)).perimeter_m == pytest.approx(6.0, rel=1e-12)


@pytest.mark.parametrize(("dx", "dy"), [(0.0, 0.0), (-4.0, -3.0), (5.0, -7.0)])
@pytest.mark.parametrize("tip", [(2.0, 3.0), (3.0, 2.0), (1.0, 3.0)])
def test_an_edge_that_goes_out_and_back_encloses_nothing_there_and_is_refused(tip, dx, dy):
    ring = tuple((x + dx, y + dy) for x, y in ((0.0, 0.0), (2.0, 0.0), (2.0, 1.0), tip, (2.0, 1.0), (0.0, 1.0)))
    with pytest.raises(RangeError, match="outline drawing: crosses itself"):
        area_m2(Outline(polyline_m=ring))


def test_the_curve_through_stations_is_scipys_pchip():
    x, y = zip(*SKI, strict=True)
    ours, theirs = monotone_curve(x, y), PchipInterpolator(x, y)
    for i in range(337):
        at = min(1.68 * i / 336, 1.68)
        assert ours(at) == pytest.approx(float(theirs(at)), rel=1e-12, abs=1e-15)
    assert ours.integral() == pytest.approx(float(theirs.integrate(0.0, 1.68)), rel=1e-12)


def test_the_area_of_a_ski_by_stations_is_scipys_integral():
    x, y = zip(*SKI, strict=True)
    theirs, _ = quad(PchipInterpolator(x, y), 0.0, 1.68, points=x[1:-1], limit=200)
    assert area_m2(Outline(stations=SKI)) == pytest.approx(theirs, rel=1e-9)


def test_the_edge_of_a_ski_is_as_long_as_its_arc():
    x, y = zip(*SKI, strict=True)
    curve = PchipInterpolator(x, y)
    edge, _ = quad(lambda at: (1 + (curve(at, 1) / 2) ** 2) ** 0.5, 0.0, 1.68, points=x[1:-1], limit=400)
    assert shape(Outline(stations=SKI)).perimeter_m == pytest.approx(y[0] + y[-1] + 2 * edge, rel=1e-4)


def test_cloth_around_a_circle_reaches_the_larger_circle():
    # Steiner's formula is exact for a convex body.
    r, overhang, n = 0.2, 0.03, 2000
    ring = tuple((r * cos(2 * pi * i / n), r * cos(2 * pi * i / n - pi / 2)) for i in range(n))
    assert offset_area_m2(Outline(polyline_m=ring), overhang) == pytest.approx(pi * (r + overhang) ** 2, rel=1e-5)


ASYMMETRIC = (
    (0.0, 0.005, 0.025),
    (0.06, 0.045, 0.050),
    (0.30, 0.060, 0.066),
    (0.86, 0.044, 0.052),
    (1.40, 0.058, 0.055),
    (1.62, 0.040, 0.050),
    (1.68, -0.010, 0.014),
)
"""(distance, to the left edge, to the right edge): its tip lies beside the centre line."""


def test_a_board_with_two_edges_has_the_area_between_scipys_curves_and_of_a_fine_polygon():
    at, left, right = zip(*ASYMMETRIC, strict=True)
    sides = PchipInterpolator(at, left), PchipInterpolator(at, right)
    by_quad, _ = quad(lambda x: float(sides[0](x) + sides[1](x)), 0.0, 1.68, points=at[1:-1], limit=200)
    fine = [1.68 * i / 4000 for i in range(4001)]
    ring = [(x, -float(sides[1](x))) for x in fine] + [(x, float(sides[0](x))) for x in reversed(fine)]
    shoelace = sum(ax * by - bx * ay for (ax, ay), (bx, by) in zip(ring, ring[1:] + ring[:1], strict=True)) / 2.0
    board = Outline(edges_m=ASYMMETRIC)
    assert area_m2(board) == pytest.approx(by_quad, rel=1e-9)
    assert area_m2(board) == pytest.approx(shoelace, rel=1e-6)
    around = sum(dist(a, b) for a, b in zip(ring, ring[1:] + ring[:1], strict=True))
    assert shape(board).perimeter_m == pytest.approx(around, rel=1e-4)
    assert shape(board).widest_m == pytest.approx(0.060 + 0.066), "the box around it, which cloth has to cover"


def test_a_board_with_one_straight_edge_by_hand():
    # A trapezium: 1 m long, 100 mm wide at one end and 200 mm at the other, all of the difference on the left.
    board = Outline(edges_m=((0.0, 0.05, 0.05), (1.0, 0.15, 0.05)))
    assert area_m2(board) == pytest.approx(0.15, rel=1e-12)
    assert shape(board).perimeter_m == pytest.approx(0.1 + 0.2 + 1.0 + (1.0 + 0.01) ** 0.5, rel=1e-12)


def test_two_equal_edges_are_the_board_of_their_widths():
    halves = tuple((at, width / 2.0, width / 2.0) for at, width in SKI)
    assert shape(Outline(edges_m=halves)) == shape(Outline(stations=SKI))
