"""The shape of one piece, seen from above: its area, its length, and what it grows to with an overhang."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import isfinite, pi

from layup.chemistry.ranges import require_between, require_positive
from layup.errors import InputError, RangeError
from layup.planning.shape import Shape, shape_of_polyline, shape_of_stations


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

    Parameters
    ----------
    outline : Outline
        One piece from above [-]
    overhang_m : float
        Cloth beyond the outline on every side, 0 or more [m]

    Returns
    -------
    float
        Area [m^2]

    Raises
    ------
    InputError
        Only an area is known, and no length.

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
    """Return the length of one piece, for work that cannot do without.

    Parameters
    ----------
    outline : Outline
        One piece from above [-]
    what : str
        What the length is for, in words [-]

    Returns
    -------
    float
        Length [m]

    Raises
    ------
    InputError
        Only an area is known.
    """
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
                value=f"{here:g} m then {after:g} m",
                allowed="distances that increase",
                todo="sort them, and measure each place once",
            )
    for at, width in stations:
        require_between(f"width at {at:g} m", width, 0.0, 10.0, unit="m")
    if max(width for _, width in stations) == 0.0:
        raise RangeError("stations", "have no width anywhere", value="0 m", allowed="above 0 m")
    span = stations[-1][0] - stations[0][0]
    if length_m is not None and abs(span - length_m) > 0.002 * length_m:
        raise RangeError(
            "stations",
            "do not cover the stated length",
            value=f"{span:g} m",
            allowed=f"{length_m:g} m",
            todo="measure from the very tip to the very tail",
        )
