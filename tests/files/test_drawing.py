"""An outline from a drawing: the area of known shapes in each format, and clear words where it cannot be read."""

import sys
from itertools import pairwise
from math import cos, dist, hypot, pi, sin

import ezdxf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layup.errors import InputError, StorageError
from layup.files.attachments import JOINT_m, TOLERANCE_m, flatten, is_closed, join, read_polyline_m
from layup.planning.outline import Outline, area_m2

STADIUM_m2 = 1.0 * 0.2 + pi * 0.1**2
"""A bar of 1 m by 0.2 m with a half circle at each end."""


def area_of(path, unit=None):
    return area_m2(Outline(polyline_m=read_polyline_m(path, unit)))


@pytest.fixture
def svg(tmp_path):
    """Return a function that writes an SVG drawing with the given attributes and content."""

    def write(attributes, content):
        path = tmp_path / "board.svg"
        path.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {attributes}>{content}</svg>', encoding="utf-8")
        return path

    return write


@pytest.fixture
def dxf(tmp_path):
    """Return a function that writes a DXF drawing, its unit code given, once `draw` has put its curves in."""

    def write(draw, unit_code=4):
        drawing = ezdxf.new()
        drawing.header["$INSUNITS"] = unit_code
        draw(drawing.modelspace())
        path = tmp_path / "board.dxf"
        drawing.saveas(path)
        return path

    return write


def draw_stadium(space, scale=1.0):
    """Draw the stadium in millimetres x `scale`, as loose lines and arcs in no order, as exports do."""
    space.add_line((0, 200 * scale), (1000 * scale, 200 * scale))
    space.add_arc((0, 100 * scale), 100 * scale, 90, 270)
    space.add_arc((1000 * scale, 100 * scale), 100 * scale, -90, 90)
    space.add_line((1000 * scale, 0), (0, 0))


STADIUM = "M0,0 L1000,0 A100,100 0 0 1 1000,200 L0,200 A100,100 0 0 1 0,0 Z"
SIZED = 'width="1200mm" height="200mm" viewBox="-100 0 1200 200"'


# --- areas of known shapes


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("0,0\n1200,0\n1200,100\n0,100\n", "mm"),
        ("x_mm,y_mm\n0,0\n1200,0\n\n# half way\n1200,100\n0,100", None),
        ('"x (cm)";"y (cm)"\n0;0\n120,0;0\n120;10\n0;1,0e1\n', None),
        ("x [m]\ty [m]\r\n0\t0\r\n1.2\t0\r\n1.2\t.1\r\n0\t0.1\r\n0\t0\r\n", None),
        ("x,y\n0,0\n1.2,0\n1.2,0.1\n0,0.1\n", "m"),
    ],
)
def test_a_table_of_points_is_a_closed_outline(tmp_path, text, unit):
    path = tmp_path / "board.csv"
    path.write_text(text, encoding="utf-8")
    assert area_of(path, unit) == pytest.approx(0.12, rel=1e-12)


def test_loose_lines_and_arcs_of_a_dxf_are_joined_to_the_one_outline(dxf):
    assert area_of(dxf(draw_stadium)) == pytest.approx(STADIUM_m2, abs=TOLERANCE_m * 2.7)


@pytest.mark.parametrize(("code", "scale"), [(1, 1 / 25.4), (2, 1 / 304.8), (5, 0.1), (6, 0.001)])
def test_a_dxf_states_its_own_unit(dxf, code, scale):
    path = dxf(lambda space: draw_stadium(space, scale), code)
    assert area_of(path) == pytest.approx(STADIUM_m2, abs=TOLERANCE_m * 2.7)


def test_the_plans_unit_goes_before_the_dxfs_own(dxf):
    assert area_of(dxf(draw_stadium, unit_code=6), "mm") == pytest.approx(STADIUM_m2, abs=TOLERANCE_m * 2.7)


def test_a_centre_line_and_words_beside_the_outline_do_no_harm(dxf):
    def draw(space):
        draw_stadium(space)
        space.add_line((-200, 100), (1200, 100))
        space.add_text("bottom view")

    assert area_of(dxf(draw)) == pytest.approx(STADIUM_m2, abs=TOLERANCE_m * 2.7)


@pytest.mark.parametrize("curve", ["circle", "ellipse", "polyline"])
def test_each_closed_curve_of_a_dxf_is_read(dxf, curve):
    def draw(space):
        if curve == "circle":
            space.add_circle((5, 5), 200)
        elif curve == "ellipse":
            space.add_ellipse((0, 0), major_axis=(400, 0), ratio=0.25)
        else:
            space.add_lwpolyline([(0, 0, 0, 0, 1), (400, 0, 0, 0, 1)], close=True)  # two half circles by bulges

    expected = {"circle": pi * 0.2**2, "ellipse": pi * 0.4 * 0.1, "polyline": pi * 0.2**2}[curve]
    assert area_of(dxf(draw)) == pytest.approx(expected, abs=TOLERANCE_m * 2 * pi * 0.4)


def test_an_svg_with_a_real_size_needs_no_unit(svg):
    path = svg(SIZED, f'<g transform="translate(3 4) rotate(30)"><path d="{STADIUM}"/></g>')
    assert area_of(path) == pytest.approx(STADIUM_m2, rel=1e-4)


@pytest.mark.parametrize("attributes", [SIZED, 'viewBox="-100 0 1200 200"', 'width="600" height="100"', ""])
def test_the_plans_unit_is_one_unit_of_the_svgs_own_coordinates(svg, attributes):
    assert area_of(svg(attributes, f'<path d="{STADIUM}"/>'), "mm") == pytest.approx(STADIUM_m2, rel=1e-4)


@pytest.mark.parametrize(
    ("shape", "square_millimetres"),
    [
        ('<rect x="1" y="2" width="300" height="50"/>', 15_000),
        ('<circle cx="0" cy="0" r="100"/>', pi * 10_000),
        ('<ellipse cx="0" cy="0" rx="100" ry="20"/>', pi * 2_000),
        ('<polygon points="0,0 400,0 0,100"/>', 20_000),
        ('<path d="M0 0 C 0 100 300 100 300 0"/><path d="M 300.00001 0 L 0 0"/>', 0.6 * 30_000),
    ],
)
def test_each_shape_of_an_svg_is_read(svg, shape, square_millimetres):
    assert area_of(svg("", shape), "mm") == pytest.approx(square_millimetres * 1e-6, abs=TOLERANCE_m * 1.0)


# --- refusals


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0,0\n1,0\n1,1\n", r"unit: does not say its unit \(board.csv\) - write unit = .mm."),
        ("x_mm,y_cm\n0,0\n1,0\n1,1\n", r"unit: does not say its unit"),
        ("x_mm,y_mm\n0,0\n1,0\n1;1\n", r"file: has no two numbers in line 1 \(board.csv\)"),
        ("x_mm,y_mm\n0,0\nhere,0\n1,1\n", r"file: has no two numbers in line 3 \(board.csv\)"),
        ("x_mm,y_mm\n0,0,0\n", r"file: has no two numbers in line 2"),
        ("x_mm,y_mm\n0,0\nnan,inf\n", r"file: has no two numbers in line 3"),
        ("x_mm,y_mm\n0,0\n1,1\n", r"file: has 2 points \(board.csv\) - three or more make an outline"),
        ("", r"file: has 0 points"),
        (
            "x_mm,y_mm\n0,0\n1e99,0\n0,1e99\n",
            r"unit: has a point further than 1000 m away \(board.csv\) - check the unit",
        ),
        ("x_mm,y_mm\n0,0\n1,0\n0,1\n", r"unit: is 0.001 m long \(board.csv\) - check the unit: 20 mm to 10 m"),
        ("x_m,y_m\n0,0\n90,0\n0,1\n", r"unit: is 90 m long"),
    ],
)
def test_a_table_that_is_no_outline_is_refused(tmp_path, text, words):
    path = tmp_path / "board.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=words):
        read_polyline_m(path, None)


def test_a_table_that_is_not_utf_8_is_refused(tmp_path):
    path = tmp_path / "board.csv"
    path.write_bytes("größe\n".encode("latin-1"))
    with pytest.raises(InputError, match=r"is not UTF-8 text \(board.csv\) - save the table as CSV, UTF-8"):
        read_polyline_m(path, "mm")


def test_a_drawing_without_a_unit_is_refused(svg, dxf):
    with pytest.raises(InputError, match=r"unit: does not say its unit \(board.dxf\)"):
        read_polyline_m(dxf(draw_stadium, unit_code=0), None)
    with pytest.raises(InputError, match=r"unit: does not say its unit \(board.svg\)"):
        read_polyline_m(svg('width="1200" height="200"', f'<path d="{STADIUM}"/>'), None)


def test_two_closed_curves_or_none_are_refused(svg, dxf):
    with pytest.raises(InputError, match=r"has 2 closed curves \(board.svg\) - export the outline alone"):
        read_polyline_m(svg("", '<circle r="50"/><circle r="60"/>'), "mm")
    with pytest.raises(InputError, match=r"has no closed curve \(board.svg\)"):
        read_polyline_m(svg("", '<path d="M0 0 L100 0 L100 100"/><text>board</text>'), "mm")
    with pytest.raises(InputError, match=r"has no closed curve \(board.dxf\)"):
        read_polyline_m(dxf(lambda space: space.add_line((0, 0), (9, 9))), "mm")


def test_far_too_many_curves_are_refused(dxf):
    def draw(space):
        for index in range(1001):
            space.add_line((index, 0), (index, 1))

    with pytest.raises(InputError, match="has more than 1000 curves"):
        read_polyline_m(dxf(draw), None)


@pytest.mark.parametrize("name", ["board.svg", "board.dxf"])
@pytest.mark.parametrize("content", [b"", b"<svg", b"0\nSECTION\n2\nHEADER\n9\n", b"\x00\xff" * 50, b"<a/>"])
def test_a_damaged_drawing_is_refused(tmp_path, name, content):
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(InputError, match=r"is no sound (SVG|DXF) file|has no closed curve"):
        read_polyline_m(path, "mm")


@pytest.mark.parametrize("centre", [(7.125, 0, 0), (0, 0, 7.125)])
@pytest.mark.parametrize("number", ["1e999", "nan", "1e300"])
def test_a_dxf_with_an_infinite_coordinate_is_refused_and_never_flattened(dxf, number, centre):
    path = dxf(lambda space: space.add_circle(centre, 50))
    path.write_text(path.read_text().replace("\n7.125\n", f"\n{number}\n"))
    with pytest.raises(InputError, match=r"has a point further than 1000 m away|is no sound DXF file"):
        read_polyline_m(path, None)


@pytest.mark.parametrize("place", ["1e999", "-1e300"])
def test_an_svg_with_an_infinite_coordinate_is_refused_before_it_is_flattened(svg, place):
    path = svg("", f'<path transform="translate({place} 4)" d="M0 0 C 0 100 300 100 300 0 Z"/>')
    with pytest.raises(InputError, match=r"has a point further than 1000 m away|is no sound SVG file"):
        read_polyline_m(path, "mm")


def test_another_kind_of_file_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"is no drawing that can be read \(board.png\) - .csv, .dxf, .svg are read"):
        read_polyline_m(tmp_path / "board.png", "mm")


def test_a_missing_or_huge_file_is_refused(tmp_path):
    with pytest.raises(StorageError, match=r"cannot be read .*board.csv: No such file"):
        read_polyline_m(tmp_path / "board.csv", "mm")
    (tmp_path / "large.csv").write_bytes(b"\n" * 10_000_001)
    with pytest.raises(InputError, match=r"is larger than 10 MB \(large.csv\)"):
        read_polyline_m(tmp_path / "large.csv", "mm")


@pytest.mark.parametrize(("name", "library"), [("board.svg", "svgelements"), ("board.dxf", "ezdxf")])
def test_a_missing_library_is_told_with_the_way_to_install_it(tmp_path, monkeypatch, name, library):
    (tmp_path / name).write_text("")
    monkeypatch.setitem(sys.modules, library, None)
    with pytest.raises(InputError, match=rf"needs {library} to be read - install it: pip install 'layup\[drawing\]'"):
        read_polyline_m(tmp_path / name, "mm")


# --- laws of the geometry


@given(radius=st.floats(0.001, 20.0), turn=st.floats(0.01, 2 * pi), tolerance=st.floats(1e-5, 1e-3))
def test_a_flattened_arc_stays_within_its_tolerance(radius, turn, tolerance):
    points = flatten(lambda share: (radius * cos(share * turn), radius * sin(share * turn)), tolerance)
    for (x0, y0), (x1, y1) in pairwise(points):
        assert radius - hypot((x0 + x1) / 2, (y0 + y1) / 2) <= tolerance * 1.001
    assert all(hypot(x, y) == pytest.approx(radius) for x, y in points)


@given(
    corners=st.integers(3, 12),
    order=st.randoms(use_true_random=False),
    gap=st.floats(0.0, 0.4),
)
def test_the_sides_of_a_polygon_join_to_one_closed_line_in_any_order_and_sense(corners, order, gap):
    ring = [(cos(2 * pi * k / corners), sin(2 * pi * k / corners)) for k in range(corners)]
    sides = [[a, (b[0] + gap * JOINT_m, b[1])] for a, b in pairwise([*ring, ring[0]])]
    sides = [side[::-1] if order.random() < 0.5 else side for side in sides]
    order.shuffle(sides)
    [line] = join(sides, JOINT_m)
    assert is_closed(line, JOINT_m)
    assert len(line) == corners + 1
    assert all(min(dist(at, corner) for corner in ring) <= JOINT_m for at in line)
