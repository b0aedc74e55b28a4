"""A channel for a cast wall, routed at an offset from the outline: its middle line, and what it holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import dist, hypot
from typing import Literal

from layup.chemistry.film import Skin
from layup.chemistry.numerics import require_between, require_positive, require_stated
from layup.errors import RangeError
from layup.planning.outline import SAME_M, Outline, Point, ring_m, shape
from layup.units import cloth_length, length, volume

Sides = Literal["both", "one", "around"]


@dataclass(frozen=True, slots=True)
class Channel:
    """A channel of one piece: along both long sides, along one, or all the way around.

    `offset_m` is from the outline inwards to its near wall, below zero where it is cut over the outline. `begin_m` and
    `end_m` are where it begins and ends, along the piece from the end where its stations or its drawing begin.
    """

    width_m: float
    """At the top."""
    depth_m: float
    offset_m: float = 0.0
    sides: Sides = "both"
    bottom_m: float | None = None
    """Its width at the bottom, where its walls slope."""
    begin_m: float | None = None
    end_m: float | None = None

    def __post_init__(self) -> None:
        require_positive("channel: width", self.width_m, unit="m")
        require_positive("channel: depth", self.depth_m, unit="m")
        require_between("channel: offset", self.offset_m, -self.width_m, 1.0, unit="m")
        require_stated("channel: bottom", self.bottom_m, unit="m", open_low=True)
        ends = self.begin_m is not None or self.end_m is not None
        if ends and self.sides == "around":
            raise RangeError("channel", "goes around and has ends", todo="leave out begin and end, or take both sides")
        if self.begin_m is not None and self.end_m is not None and self.begin_m >= self.end_m:
            raise RangeError(
                "channel", "begins where it ends", value=cloth_length(self.begin_m, "g"), todo="begin before end"
            )

    @property
    def section_m2(self) -> float:
        return 0.5 * (self.width_m + (self.bottom_m or self.width_m)) * self.depth_m

    @property
    def section_words(self) -> str:
        bottom = "" if self.bottom_m is None else f", {length(self.bottom_m, 'g')} at the bottom"
        return f"{length.digits(self.width_m, 'g')} x {length(self.depth_m, 'g')}{bottom}"

    def skin(self, density_g_cm3: float) -> Skin:
        """Return a mix of a density in it [g/cm3], as what warms itself on its wood."""
        bottom_m = self.bottom_m or self.width_m
        return Skin.channel(self.section_m2, self.depth_m, bottom_m, self.width_m, density_g_cm3)


USUAL_WALL = Channel(0.008, 0.012)
"""Whose heat a pour has where only its volume is stated (common practice, no source)."""


@lru_cache(maxsize=64)
def middle_lines_m(outline: Outline, channel: Channel) -> tuple[tuple[Point, ...], ...]:
    """Return the middle lines of a channel, one a side; that of one all the way around ends where it begins.

    The outline moved inwards by the offset and half the width, its corners mitred; where it turns more tightly than
    that, edges that have shrunk to nothing fall out, as in a straight skeleton. On one side it is the longer one.
    Source: O. Aichholzer et al., J. Universal Computer Science 1 (1995) 752: edges that shrink to nothing as a polygon
    does.
    """
    inwards_m = channel.offset_m + channel.width_m / 2.0
    ring, widest_m = ring_m(outline, "a channel"), shape(outline).widest_m or 0.0
    if channel.offset_m + channel.width_m > widest_m / (1.0 if channel.sides == "one" else 2.0):
        raise _too_tight(inwards_m)
    if channel.sides == "around":
        moved = _moved(ring, inwards_m, closed=True)
        return ((*moved, moved[0]),)
    lines = [_moved(_between(side, channel), inwards_m, closed=False) for side in _sides(ring)]
    if channel.sides == "one":
        lines = [max(lines, key=line_length_m)]
    return tuple(map(tuple, lines))


def line_length_m(line: Sequence[Point]) -> float:
    """Return the length of a line [m]."""
    return sum(dist(a, b) for a, b in pairwise(line))


def held_m3(outline: Outline, channel: Channel) -> float:
    """Return the volume of a channel of one piece, to the brim.

    Section times the length of the middle line (Pappus and Guldinus). Raises InputError for an outline without a
    length; RangeError for a channel that does not fit in the outline.
    """
    return channel.section_m2 * sum(map(line_length_m, middle_lines_m(outline, channel)))


def channel_words(outline: Outline, channel: Channel) -> str:
    """Return how long a channel is, its section, and what it holds, for one piece."""
    along_m = sum(map(line_length_m, middle_lines_m(outline, channel)))
    held = volume(held_m3(outline, channel))
    where = {"both": "along both sides", "one": "along one side", "around": "all around"}[channel.sides]
    return f"{cloth_length(along_m, '.2f')} of channel {where}, {channel.section_words}: {held} a piece to the brim"


# -- lines -----------------------------------------------------------------------------------------------------------


def _sides(ring: Sequence[Point]) -> tuple[list[Point], list[Point]]:
    """Return the two long sides of a closed line, without the ends that go straight across."""
    low, high = min(x for x, _ in ring), max(x for x, _ in ring)
    tail = [at for at, (x, _) in enumerate(ring) if x - low <= SAME_M]
    tip = [at for at, (x, _) in enumerate(ring) if high - x <= SAME_M]

    def across(at: int) -> float:
        return ring[at][1]

    return (
        _along(ring, min(tail, key=across), min(tip, key=across)),
        _along(ring, max(tip, key=across), max(tail, key=across)),
    )


def _along(ring: Sequence[Point], first: int, last: int) -> list[Point]:
    count = (last - first) % len(ring)
    return [ring[(first + step) % len(ring)] for step in range(count + 1)]


def _between(side: Sequence[Point], channel: Channel) -> list[Point]:
    """Return the part of a side between the ends of a channel."""
    low = min(x for x, _ in side) if channel.begin_m is None else channel.begin_m
    high = max(x for x, _ in side) if channel.end_m is None else channel.end_m
    found: list[Point] = []
    for a, b in pairwise(side):
        run = b[0] - a[0]
        ends = sorted((low, high)) if run >= 0.0 else sorted((low, high), reverse=True)
        if abs(run) <= SAME_M:
            shares = (0.0, 1.0) if low <= a[0] <= high else ()
        else:
            begin, end = (min(max((at - a[0]) / run, 0.0), 1.0) for at in ends)
            shares = (begin, end) if begin < end else ()
        for share in shares:
            point = a[0] + share * run, a[1] + share * (b[1] - a[1])
            if not found or dist(found[-1], point) > SAME_M:
                found.append(point)
    if len(found) < 2:
        raise RangeError("channel", "lies beyond the ends of the piece", todo="give begin and end along the piece")
    return found


@dataclass(frozen=True, slots=True)
class _Edge:
    """An edge as a line: a point of it, and its direction as a unit vector."""

    at: Point
    along: Point


def _moved(points: Sequence[Point], inwards_m: float, *, closed: bool) -> list[Point]:
    """Return a line moved to its left; ends of an open one go straight across."""
    ends = [*points, points[0]] if closed else [*points]
    edges = [_Edge(a, ((b[0] - a[0]) / dist(a, b), (b[1] - a[1]) / dist(a, b))) for a, b in pairwise(ends)]
    while True:
        corners = _corners(edges, ends, closed=closed)
        moved = [_mitred(corner, one, other, inwards_m) for corner, one, other in corners]
        lengths = [
            (b[0] - a[0]) * edge.along[0] + (b[1] - a[1]) * edge.along[1]
            for edge, (a, b) in zip(edges, pairwise([*moved, moved[0]] if closed else moved), strict=True)
        ]
        before = [dist(a[0], b[0]) for a, b in pairwise([*corners, corners[0]] if closed else corners)]
        gone = [at for at, left_m in enumerate(lengths) if left_m <= 0.0]
        if not gone:
            return moved
        if len(edges) - 1 < (3 if closed else 1):
            raise _too_tight(inwards_m)
        first = min(gone, key=lambda at: before[at] / (before[at] - lengths[at]))
        edges.pop(first)
        if not closed and first in (0, len(edges)):
            ends = [ends[0] if first else edges[0].at, ends[-1]]


def _corners(edges: Sequence[_Edge], ends: Sequence[Point], *, closed: bool) -> list[tuple[Point, _Edge, _Edge]]:
    """Return where each edge meets the next, with both; an open line also begins and ends."""
    inner = [(_meeting(one, other), one, other) for one, other in pairwise(edges)]
    if closed:
        return [(_meeting(edges[-1], edges[0]), edges[-1], edges[0]), *inner]
    return [(ends[0], edges[0], edges[0]), *inner, (ends[-1], edges[-1], edges[-1])]


def _meeting(one: _Edge, other: _Edge) -> Point:
    """Return where two lines meet; of lines that go on in each other, where the second begins."""
    cross = one.along[0] * other.along[1] - one.along[1] * other.along[0]
    if abs(cross) < SAME_M:
        return other.at
    away = other.at[0] - one.at[0], other.at[1] - one.at[1]
    along = (away[0] * other.along[1] - away[1] * other.along[0]) / cross
    return one.at[0] + along * one.along[0], one.at[1] + along * one.along[1]


def _mitred(corner: Point, one: _Edge, other: _Edge, inwards_m: float) -> Point:
    """Return a corner of two edges moved to their left."""
    across = -one.along[1] - other.along[1], one.along[0] + other.along[0]
    with_each = hypot(*across) ** 2 / 2.0
    if with_each < SAME_M:
        raise _too_tight(inwards_m)
    return corner[0] + across[0] * inwards_m / with_each, corner[1] + across[1] * inwards_m / with_each


def _too_tight(inwards_m: float) -> RangeError:
    return RangeError(
        "channel",
        "does not fit in the outline",
        value=f"its middle lies {length(inwards_m, 'g')} inside",
        todo="a smaller offset or width, or leave the ends out with begin and end",
    )
