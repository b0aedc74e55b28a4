"""What an outline measures: area, perimeter, length and width, from stations or from a closed line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import dist, hypot

from layup.errors import RangeError
from layup.planning.monotone import Curve, monotone_curve
from layup.planning.ring import Point, crossing


@dataclass(frozen=True, slots=True)
class Shape:
    """What an outline measures: `length_m` and `widest_m` are None where only an area is known."""

    area_m2: float
    perimeter_m: float | None
    length_m: float | None
    widest_m: float | None


def shape_of_stations(stations: Sequence[tuple[float, float]]) -> Shape:
    """Measure a piece given by its full width at places along its length.

    Parameters
    ----------
    stations : Sequence[tuple[float, float]]
        Distance and full width, from end to end [m]

    Returns
    -------
    Shape
        Area, perimeter, length and greatest width [m^2, m]

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

    Parameters
    ----------
    points : Sequence[Point]
        Corners (x, y) in order; the last joins the first [m]

    Returns
    -------
    Shape
        Area, perimeter, and the sides of the box around it as length and width [m^2, m]

    Raises
    ------
    RangeError
        A line that crosses itself or encloses nothing.

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
    knot = crossing(edges)
    if knot:
        raise RangeError(
            "outline drawing",
            "crosses itself",
            value=f"near x {knot[0]:.4g} m, y {knot[1]:.4g} m",
            allowed="one closed line",
            todo="join the ends of the outline and export it alone",
        )
    sides = sorted(max(axis) - min(axis) for axis in zip(*ring, strict=True))
    return Shape(area, perimeter, sides[1], sides[0])
