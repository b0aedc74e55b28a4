"""The shape of one piece, seen from above: its area, its length, and what it grows to with an overhang.

What an outline measures: area, perimeter, length and width, from stations or from a closed line.

Closed lines from drawings: do they cross themselves?
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import dist, hypot, isfinite, pi

from layup.chemistry.numerics import Curve, monotone_curve
from layup.chemistry.ranges import require_between, require_positive
from layup.errors import InputError, RangeError
from layup.units import cloth_length

# -- ring ------------------------------------------------------------------------------------------------------------

Point = tuple[float, float]
Edge = tuple[Point, Point]


def self_intersection(edges: Sequence[Edge]) -> Point | None:
    """Find where a closed line meets itself.

    Notes
    -----
    Edges are swept along x, so that only those that overlap in x are compared.

    Examples
    --------
    >>> square = [((0.0, 0.0), (1.0, 0.0)), ((1.0, 0.0), (1.0, 1.0)), ((1.0, 1.0), (0.0, 0.0))]
    >>> self_intersection(square) is None
    True
    """
    count = len(edges)
    order = sorted(range(count), key=lambda i: min(edges[i][0][0], edges[i][1][0]))
    alive: list[int] = []
    for i in order:
        left = min(edges[i][0][0], edges[i][1][0])
        alive = [j for j in alive if max(edges[j][0][0], edges[j][1][0]) >= left]
        for j in alive:
            near = abs(i - j) in (1, count - 1)
            if _doubles_back(edges[min(i, j)], edges[max(i, j)]) if near else _meet(edges[i], edges[j]):
                return edges[i][0]
        alive.append(i)
    return None


def _side(a: Point, b: Point, p: Point) -> float:
    """Return above zero if `p` lies left of the line from `a` to `b`, below zero if right of it."""
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])


def _between(a: Point, b: Point, p: Point) -> bool:
    """Return whether `p`, on the line of `a` and `b`, lies between them."""
    return min(a[0], b[0]) <= p[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= p[1] <= max(a[1], b[1])


def _meet(one: Edge, other: Edge) -> bool:
    """Return whether two edges have a point in common."""
    (a, b), (c, d) = one, other
    s1, s2, s3, s4 = _side(a, b, c), _side(a, b, d), _side(c, d, a), _side(c, d, b)
    if s1 * s2 < 0.0 and s3 * s4 < 0.0:
        return True
    touching = ((s1, a, b, c), (s2, a, b, d), (s3, c, d, a), (s4, c, d, b))
    return any(side == 0.0 and _between(p, q, r) for side, p, q, r in touching)


def _doubles_back(one: Edge, other: Edge) -> bool:
    """Return whether two neighbouring edges lie on each other."""
    (a, b), (c, d) = one, other
    if b != c:  # the ring's last edge meets its first
        (a, b), (c, d) = (c, d), (a, b)
    if _side(a, b, d) != 0.0:
        return False
    return (b[0] - a[0]) * (d[0] - b[0]) + (b[1] - a[1]) * (d[1] - b[1]) < 0.0


# -- shape -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Shape:
    """What an outline measures: `length_m` and `widest_m` are None where only an area is known."""

    area_m2: float
    perimeter_m: float | None
    length_m: float | None
    widest_m: float | None


def shape_of_stations(stations: Sequence[tuple[float, float]]) -> Shape:
    """Measure a piece given by its full width at places along its length.

    Notes
    -----
    Width is the shape-preserving piecewise cubic through the stations (`monotone_curve`), whose integral is exact;
    the edges lie half of it on either side of the middle line.

    Examples
    --------
    >>> shape_of_stations(((0.0, 0.1), (1.0, 0.1))).area_m2
    0.1
    """
    x = [at for at, _ in stations]
    width = [w for _, w in stations]
    curve = monotone_curve(x, width)
    perimeter = width[0] + width[-1] + 2.0 * _edge_m(curve)
    return Shape(curve.integral(), perimeter, x[-1] - x[0], max(width))


def _edge_m(curve: Curve) -> float:
    """Return the length of one edge, half the width's curve away from the middle line (16 chords a station)."""
    total = 0.0
    for a, b in pairwise(curve.x):
        places = [a + (b - a) * i / 16 for i in range(16)] + [b]
        half = [curve(at) / 2.0 for at in places]
        total += sum(
            hypot(x1 - x0, y1 - y0) for x0, x1, y0, y1 in zip(places, places[1:], half, half[1:], strict=False)
        )
    return total


def shape_of_polyline(points: Sequence[Point]) -> Shape:
    """Measure a piece given by a closed line.

    Notes
    -----
    The shoelace formula, A = |sum(x_i y_(i+1) - x_(i+1) y_i)| / 2.

    Examples
    --------
    >>> shape_of_polyline(((0.0, 0.0), (2.0, 0.0), (0.0, 1.0))).area_m2
    1.0
    """
    ring = [point for i, point in enumerate(points) if point != points[i - 1]]
    if len(ring) < 3:
        raise RangeError("outline drawing", "has too few points", value=len(ring), allowed="three or more corners")
    edges = list(zip(ring, ring[1:] + ring[:1], strict=True))
    area = abs(sum(ax * by - bx * ay for (ax, ay), (bx, by) in edges)) / 2.0
    perimeter = sum(dist(a, b) for a, b in edges)
    if area <= 1e-9 * perimeter**2:
        raise RangeError(
            "outline drawing", "encloses no area", value=f"{area:g} m^2", todo="check its unit and its layer"
        )
    knot = self_intersection(edges)
    if knot:
        raise RangeError(
            "outline drawing",
            "crosses itself",
            value=f"near x {cloth_length(knot[0], '.4g')}, y {cloth_length(knot[1], '.4g')}",
            allowed="one closed line",
            todo="join the ends of the outline and export it alone",
        )
    sides = sorted(max(axis) - min(axis) for axis in zip(*ring, strict=True))
    return Shape(area, perimeter, sides[1], sides[0])


# -- outline ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Outline:
    """One piece from above: `stations` along its length, or an area, or a closed polyline; one of the three.

    `stations` are (distance_m, full_width_m) from one end to the other, distances strictly increasing. With an area
    only, `length_m` is needed for cut cloth and strips. `overhang_m` is the cloth cut beyond the outline on every
    side.
    """

    length_m: float | None = None
    stations: tuple[tuple[float, float], ...] = ()
    stated_area_m2: float | None = None
    polyline_m: tuple[tuple[float, float], ...] = ()
    """A closed polyline (x, y), where the outline comes from a drawing; the last point joins the first."""
    overhang_m: float = 0.0
    roll_width_m: float | None = None

    def __post_init__(self) -> None:
        given = [bool(self.stations), self.stated_area_m2 is not None, bool(self.polyline_m)].count(True)
        if given != 1:
            raise InputError(
                "outline",
                "gives no shape" if given == 0 else "gives more than one shape",
                allowed="stations, an area, or a drawing",
                todo="state one of them",
            )
        require_between("overhang", self.overhang_m, 0.0, 1.0, unit="m", todo="25-50 mm is usual")
        if self.roll_width_m is not None:
            require_positive("roll width", self.roll_width_m, unit="m")
        if self.length_m is not None:
            require_positive("length", self.length_m, unit="m")
        if self.stated_area_m2 is not None:
            require_positive("area", self.stated_area_m2, unit="m^2")
        if self.stations:
            _check_stations(self.stations, self.length_m)
        if self.polyline_m and not all(isfinite(x) and isfinite(y) for x, y in self.polyline_m):
            raise RangeError("outline drawing", "has a point that is not a number", todo="check the export")


@lru_cache(maxsize=64)
def shape(outline: Outline) -> Shape:
    """Measure an outline.

    Parameters
    ----------
    outline : Outline
        One piece from above [-]

    Returns
    -------
    Shape
        Area, perimeter, length and greatest width [m^2, m]

    Raises
    ------
    RangeError
        A drawing that crosses itself or encloses nothing, or stations without any width.

    Notes
    -----
    Stations are joined by a shape-preserving piecewise cubic (see `monotone_curve`), whose integral is exact. A
    drawing's area is the shoelace formula; its length is the longer side of the box around it. An area with a length
    counts as a rectangle.

    Examples
    --------
    >>> shape(Outline(stations=((0.0, 0.1), (1.0, 0.1)))).area_m2
    0.1
    """
    if outline.stations:
        return shape_of_stations(outline.stations)
    if outline.polyline_m:
        return shape_of_polyline(outline.polyline_m)
    assert outline.stated_area_m2 is not None  # held by Outline
    area, length = outline.stated_area_m2, outline.length_m
    if length is None:
        return Shape(area, None, None, None)
    return Shape(area, 2.0 * (length + area / length), length, area / length)


def area_m2(outline: Outline) -> float:
    """Return the area of one piece.

    Parameters
    ----------
    outline : Outline
        One piece from above [-]

    Returns
    -------
    float
        Area [m^2]

    Raises
    ------
    RangeError
        As `shape`.

    Examples
    --------
    >>> area_m2(Outline(polyline_m=((0.0, 0.0), (2.0, 0.0), (0.0, 1.0))))
    1.0
    """
    return shape(outline).area_m2


def offset_area_m2(outline: Outline, overhang_m: float) -> float:
    """Return the area of one piece grown by an overhang on every side.

    Notes
    -----
    A + P o + pi o^2 with the perimeter P: exact where the outline bulges everywhere, with rounded corners; a hollow
    in it counts slightly too much, which errs on the side of enough cloth and resin.

    References
    ----------
    Steiner's formula for parallel bodies.

    Examples
    --------
    >>> round(offset_area_m2(Outline(stated_area_m2=0.1, length_m=1.0), 0.02), 6)
    0.145257
    """
    require_between("overhang", overhang_m, 0.0, 1.0, unit="m", todo="25-50 mm is usual")
    body = shape(outline)
    if overhang_m == 0.0:
        return body.area_m2
    if body.perimeter_m is None:
        raise _no_length("cloth with an overhang")
    return body.area_m2 + body.perimeter_m * overhang_m + pi * overhang_m**2


def needed_length_m(outline: Outline, what: str) -> float:
    """Return the length of one piece, for work that cannot do without."""
    length = shape(outline).length_m
    if length is None:
        raise _no_length(what)
    return length


def _no_length(what: str) -> InputError:
    return InputError("outline", f"has an area but no length, so {what} cannot be cut", todo="state the length")


def _check_stations(stations: Sequence[tuple[float, float]], length_m: float | None) -> None:
    """Refuse stations that no board can have."""
    if len(stations) < 2:
        raise RangeError("stations", "are too few", value=len(stations), allowed="two or more, from end to end")
    for (here, _), (after, _) in pairwise(stations):
        if not here < after:
            raise RangeError(
                "stations",
                "do not run from one end to the other",
                value=f"{cloth_length(here, 'g')} then {cloth_length(after, 'g')}",
                allowed="distances that increase",
                todo="sort them, and measure each place once",
            )
    for at, width in stations:
        require_between(f"width at {cloth_length(at, 'g')}", width, 0.0, 10.0, unit="m")
    if max(width for _, width in stations) == 0.0:
        raise RangeError("stations", "have no width anywhere", value="0 m", allowed="above 0 m")
    span = stations[-1][0] - stations[0][0]
    if length_m is not None and abs(span - length_m) > 0.002 * length_m:
        raise RangeError(
            "stations",
            "do not cover the stated length",
            value=f"{cloth_length(span, 'g')}",
            allowed=f"{cloth_length(length_m, 'g')}",
            todo="measure from the very tip to the very tail",
        )
