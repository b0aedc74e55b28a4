"""The shape of one piece, seen from above: its area, its length, and what it grows to with an overhang.

Measured from stations or from a closed line, which may not cross itself; and the ends of a piece that was measured
between them, for a sketch has no station at its very tip and tail.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import cos, dist, isfinite, pi, sin
from typing import Literal

from layup.chemistry.numerics import Curve, monotone_curve, require_between, require_stated
from layup.errors import InputError, RangeError
from layup.units import cloth_length

# -- ring ------------------------------------------------------------------------------------------------------------

Point = tuple[float, float]
Edge = tuple[Point, Point]
SAME_M = 1e-9
"""Points so near to each other are one."""
OWN_SIDE = "measure each edge from the centre line, to its own side"


def self_intersection(edges: Sequence[Edge]) -> Point | None:
    """Find where a closed line meets itself.

    Edges are swept along x, so that only those that overlap in x are compared.

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


CHORDS = 16
"""Chords of an edge between two stations."""


def shape_of_edges(left: Curve, right: Curve) -> Shape:
    """Measure a piece between two edges, each how far it lies from the centre line along the length.

    Each edge is the shape-preserving piecewise cubic through its stations (`monotone_curve`), whose integral is exact;
    `widest_m` is the width of the box around the piece.

    >>> edge = monotone_curve((0.0, 1.0), (0.05, 0.05))
    >>> shape_of_edges(edge, edge).area_m2
    0.1
    """
    sides = drawn_m(left), drawn_m(right)
    for (at, to_left), (_, to_right) in zip(*sides, strict=True):
        if to_left + to_right < -SAME_M:
            raise RangeError(
                "stations",
                "have edges that cross",
                value=f"at {cloth_length(at, '.4g')}",
                todo=OWN_SIDE,
            )
    ends = left.y[0] + right.y[0] + left.y[-1] + right.y[-1]
    perimeter = ends + sum(dist(a, b) for side in sides for a, b in pairwise(side))
    return Shape(left.integral() + right.integral(), perimeter, left.x[-1] - left.x[0], max(left.y) + max(right.y))


def drawn_m(edge: Curve) -> list[Point]:
    """Return an edge as points, so many chords a station."""
    places = [a + (b - a) * i / CHORDS for a, b in pairwise(edge.x) for i in range(CHORDS)] + [edge.x[-1]]
    return [(at, edge(at)) for at in places]


def shape_of_polyline(points: Sequence[Point]) -> Shape:
    """Measure a piece given by a closed line.

    The shoelace formula, A = |sum(x_i y_(i+1) - x_(i+1) y_i)| / 2.

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
    """One piece from above: `stations` or `edges_m` along its length, or an area, or a closed polyline; one of them.

    `stations` are (distance_m, full_width_m) from one end to the other, distances strictly increasing; `edges_m` are
    (distance_m, left_m, right_m) where its edges differ, each from the centre line, with the tip ahead. With an area
    only, `length_m` is needed for cut cloth and strips. `overhang_m` is the cloth cut beyond the outline on every
    side.
    """

    length_m: float | None = None
    stations: tuple[tuple[float, float], ...] = ()
    edges_m: tuple[tuple[float, float, float], ...] = ()
    stated_area_m2: float | None = None
    polyline_m: tuple[tuple[float, float], ...] = ()
    """A closed polyline (x, y), where the outline comes from a drawing; the last point joins the first."""
    overhang_m: float = 0.0
    roll_width_m: float | None = None

    def __post_init__(self) -> None:
        shapes = (self.stations, self.edges_m, self.stated_area_m2 is not None, self.polyline_m)
        given = [bool(each) for each in shapes].count(True)
        if given != 1:
            raise InputError(
                "outline",
                "gives no shape" if given == 0 else "gives more than one shape",
                allowed="stations, an area, or a drawing",
                todo="state one of them",
            )
        require_between("overhang", self.overhang_m, 0.0, 1.0, unit="m", todo="25-50 mm is usual")
        require_stated("roll width", self.roll_width_m, unit="m", open_low=True)
        require_stated("length", self.length_m, unit="m", open_low=True)
        require_stated("area", self.stated_area_m2, unit="m^2", open_low=True)
        if self.stations or self.edges_m:
            widths = self.stations or tuple((at, left_m + right_m) for at, left_m, right_m in self.edges_m)
            _check_stations(widths, self.length_m, OWN_SIDE if self.edges_m else "")
        if self.polyline_m and not all(isfinite(x) and isfinite(y) for x, y in self.polyline_m):
            raise RangeError("outline drawing", "has a point that is not a number", todo="check the export")


@lru_cache(maxsize=64)
def shape(outline: Outline) -> Shape:
    """Measure an outline.

    Raises RangeError for a drawing that crosses itself or encloses nothing, or stations without any width.

    Stations are joined by a shape-preserving piecewise cubic (see `monotone_curve`), whose integral is exact. A
    drawing's area is the shoelace formula; its length is the longer side of the box around it. An area with a length
    counts as a rectangle.

    >>> shape(Outline(stations=((0.0, 0.1), (1.0, 0.1)))).area_m2
    0.1
    """
    sides = edges(outline)
    if sides is not None:
        return shape_of_edges(*sides)
    if outline.polyline_m:
        return shape_of_polyline(outline.polyline_m)
    assert outline.stated_area_m2 is not None  # held by Outline
    area, length = outline.stated_area_m2, outline.length_m
    if length is None:
        return Shape(area, None, None, None)
    return Shape(area, 2.0 * (length + area / length), length, area / length)


def edges(outline: Outline) -> tuple[Curve, Curve] | None:
    """Return how far the left and the right edge lie from the centre line along a piece.

    >>> left, right = edges(Outline(edges_m=((0.0, 0.1, 0.1), (1.0, 0.2, 0.1))))
    >>> round(left(0.5), 9), right(0.5)
    (0.15, 0.1)
    """
    stations = outline.edges_m or tuple((at, width / 2.0, width / 2.0) for at, width in outline.stations)
    if not stations:
        return None
    at, left, right = zip(*stations, strict=True)
    return monotone_curve(at, left), monotone_curve(at, right)


def ring_m(outline: Outline, what: str) -> list[Point]:
    """Return the outline as a closed line against the clock: its length along x from 0, its left edge above.

    Its corners, the last of which is joined to the first; y is from the centre line, or from the drawing's own zero.
    Raises InputError for an area without a length; RangeError as `shape`.

    Parameters
    ----------
    what : What needs it, for the error [-]
    """
    body, sides = shape(outline), edges(outline)
    if body.length_m is None or body.widest_m is None:
        raise _no_length(what)
    if sides is not None:
        left, right = ([(at - edge.x[0], away) for at, away in drawn_m(edge)] for edge in sides)
        points = [(x, -y) for x, y in right] + left[::-1]
    elif outline.polyline_m:
        spans = [max(axis) - min(axis) for axis in zip(*outline.polyline_m, strict=True)]
        along = [(y, -x) if spans[1] > spans[0] else (x, y) for x, y in outline.polyline_m]
        first_m = min(x for x, _ in along)
        points = [(x - first_m, y) for x, y in along]
    else:
        right_m, half_m = body.length_m, body.widest_m / 2.0
        points = [(0.0, -half_m), (right_m, -half_m), (right_m, half_m), (0.0, half_m)]
    ring = [point for at, point in enumerate(points) if dist(point, points[at - 1]) > SAME_M]
    turns = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:] + ring[:1], strict=True))
    return ring if turns > 0.0 else ring[::-1]


def area_m2(outline: Outline) -> float:
    """Return the area of one piece [m^2].

    >>> area_m2(Outline(polyline_m=((0.0, 0.0), (2.0, 0.0), (0.0, 1.0))))
    1.0
    """
    return shape(outline).area_m2


def offset_area_m2(outline: Outline, overhang_m: float) -> float:
    """Return the area of one piece grown by an overhang on every side.

    A + P o + pi o^2 with the perimeter P: exact where the outline bulges everywhere, with rounded corners; a hollow in
    it counts slightly too much, which errs on the side of enough cloth and resin. Source: Steiner's formula for
    parallel bodies.

    >>> round(offset_area_m2(Outline(stated_area_m2=0.1, length_m=1.0), 0.02), 6)
    0.145257
    """
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


COVERED = 0.002
"""Stations that end so near to the end, as a share of the length, reach it (our own judgement)."""
MISTYPED = 2.0
"""A length that many times off its stations is a slip of the length, not of the tape (our own judgement)."""


def _check_stations(stations: Sequence[tuple[float, float]], length_m: float | None, crossed: str) -> None:
    """Refuse stations that no board can have; `crossed` is what to do about a width below zero."""
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
        require_between(
            f"width at {cloth_length(at, 'g')}", width, 0.0, 10.0, unit="m", todo=crossed if width < 0.0 else ""
        )
    if max(width for _, width in stations) == 0.0:
        raise RangeError("stations", "have no width anywhere", value="0 m", allowed="above 0 m")
    span = stations[-1][0] - stations[0][0]
    if length_m is not None:
        require_span(span, length_m)
    if length_m is not None and abs(span - length_m) > COVERED * length_m:
        raise RangeError(
            "stations",
            "do not cover the stated length",
            value=cloth_length(span, "g"),
            allowed=cloth_length(length_m, "g"),
            todo="measure from the very tip to the very tail, or say how the ends close: round or straight",
        )


def require_span(span_m: float, length_m: float) -> None:
    """Refuse a length that is no length of what the stations run over."""
    if not 1.0 / MISTYPED < span_m / length_m < MISTYPED:
        raise RangeError(
            "length",
            "is far off its stations",
            value=f"{cloth_length(length_m, 'g')}?",
            allowed=f"they run over {cloth_length(span_m, 'g')}",
            todo="check its number and its unit",
        )


# -- ends ------------------------------------------------------------------------------------------------------------

Ends = Literal["round", "straight"]
Edges = tuple[float, float, float]
"""Where, and how far the left and the right edge lie from the centre line there [m]."""
LONGEST = 0.9
"""An end that is a greater share of the length is a slip of the length (our own judgement)."""
OF_ROUND = 6
"""Stations that a round end is drawn through."""


def with_ends(stations_m: Sequence[Edges], length_m: float, ends: Ends) -> list[Edges]:
    """Close both ends of a piece beyond its stations, up to its stated length.

    The stations from end to end. Raises RangeError for a station beyond the length, or a length far off the stations.

    >>> with_ends([(0.1, 0.06, 0.06), (1.0, 0.05, 0.05)], 1.0, "straight")[0]
    (0.0, 0.06, 0.06)

    Parameters
    ----------
    stations_m : From the tail, which is at 0, to the tip [m]
    length_m : The length of the piece [m]
    ends : round: half an ellipse from the last station on; straight: as wide as there, cut off square [-]
    """
    first, last = stations_m[0], stations_m[-1]
    if len(stations_m) > 1 and max(first[0], length_m - last[0]) > LONGEST * length_m:
        require_span(last[0] - first[0], length_m)
    for at in (first[0], last[0]):
        if not -COVERED * length_m <= at <= (1.0 + COVERED) * length_m:
            long = cloth_length(length_m, "g")
            wrong = "lie beyond the length"
            raise RangeError("stations", wrong, value=cloth_length(at, ".4g"), allowed=f"0 to {long}")
    return [*_beyond(first, 0.0, length_m, ends)[::-1], *stations_m, *_beyond(last, length_m, length_m, ends)]


def _beyond(station: Edges, end_m: float, length_m: float, ends: Ends) -> list[Edges]:
    """Return what closes one end, outwards; nothing where the station stands at it."""
    at, left, right = station
    if abs(end_m - at) <= COVERED * length_m:
        return []
    if ends == "straight":
        return [(end_m, left, right)]
    angles = (step * pi / 2.0 / OF_ROUND for step in range(1, OF_ROUND))
    inner = [(at + (end_m - at) * sin(each), left * cos(each), right * cos(each)) for each in angles]
    return [*inner, (end_m, 0.0, 0.0)]
