"""The ends of a piece that was measured between them: a sketch has no station at its very tip and tail."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, pi, sin
from typing import Literal

from layup.errors import RangeError
from layup.planning.outline import COVERED, require_span
from layup.units import cloth_length

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

    Parameters
    ----------
    stations_m : From the tail, which is at 0, to the tip [m]
    length_m : The length of the piece [m]
    ends : round: half an ellipse from the last station on; straight: as wide as there, cut off square [-]

    Examples
    --------
    >>> with_ends([(0.1, 0.06, 0.06), (1.0, 0.05, 0.05)], 1.0, "straight")[0]
    (0.0, 0.06, 0.06)
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
