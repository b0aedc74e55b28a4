"""Pieces of SVG: a scale, bars, lines, letters, drawn in greys, textures and dashes and never in colour alone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from html import escape
from math import ceil

Points = Sequence[tuple[float, float]]

WIDTH, LABELS = 760.0, 190.0
"""Units of a chart across, and of its column of labels."""
TICKS_MIN = (1, 2, 5, 10, 15, 30, 60, 120, 240, 480, 720, 1440, 2880, 10080)
"""Distances between the marks of an axis of time, in minutes."""
MOST_TICKS = 12
LONGEST_s = 1e300
"""A damaged journal may hold times that end no axis; beyond this they are no whole minutes any more."""
HATCH = (
    '<pattern id="hatch" width="4" height="4" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<line x1="0" y1="0" x2="0" y2="4" stroke="#000" stroke-width="1"/></pattern>'
)


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale from values to units of the chart."""

    low: float
    high: float
    begin: float
    end: float

    def __call__(self, value: float) -> float:
        """Return where a value is drawn, no further out than the chart's edge."""
        share = (value - self.low) / (self.high - self.low) if self.high > self.low else 0.0
        return self.begin + min(max(share, 0.0), 1.0) * (self.end - self.begin)


@dataclass(slots=True)
class Canvas:
    """A chart while it is drawn."""

    height: float
    parts: list[str] = field(default_factory=list)

    def bar(self, x0: float, x1: float, y: float, height: float, *, fill: str, stroke: str = "#000") -> None:
        """Draw a bar at least one unit wide."""
        width = max(x1 - x0, 1.0)
        self.parts.append(
            f'<rect x="{x0:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{fill}" '
            f'stroke="{stroke}" stroke-width="0.7"/>'
        )

    def line(self, points: Points, *, dash: str = "", width: float = 1.4, stroke: str = "#000") -> None:
        """Draw a line through points."""
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(f'<polyline points="{path}" fill="none" stroke="{stroke}" stroke-width="{width:g}"{dashes}/>')

    def text(self, x: float, y: float, words: str, *, anchor: str = "start", size: float = 11.0) -> None:
        """Write words, escaped."""
        self.parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" text-anchor="{anchor}">{escape(words)}</text>'
        )

    def svg(self, title: str) -> str:
        """Return the whole chart, named for those who cannot see it."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {self.height:.0f}" role="img" '
            f'font-family="sans-serif"><title>{escape(title)}</title><defs>{HATCH}</defs>{"".join(self.parts)}</svg>'
        )


def time_ticks_s(begin_s: float, end_s: float) -> list[tuple[float, str]]:
    """Return the marks of an axis of time from the session's start, each with its words; a few however long it is."""
    end_s = min(end_s, LONGEST_s)
    span_min = max(end_s - begin_s, 60.0) / 60.0
    longest = TICKS_MIN[-1] * ceil(span_min / MOST_TICKS / TICKS_MIN[-1])
    step = next((tick for tick in TICKS_MIN if span_min / tick <= MOST_TICKS), longest)
    first = -(-int(begin_s // 60) // step) * step
    marks = range(first, int(end_s // 60) + 1, step)
    if step >= 60:
        return [(mark * 60.0, f"{mark / 60:g} h") for mark in marks]
    return [(mark * 60.0, f"{mark} min") for mark in marks]


def thinned(points: Points, most: int = 400) -> list[tuple[float, float]]:
    """Return points fit to draw: of many, the lowest and the highest of each stretch."""
    if len(points) <= most:
        return list(points)
    size = -(-2 * len(points) // most)
    found = [points[0]]
    for begin in range(0, len(points), size):
        stretch = points[begin : begin + size]
        found += sorted({min(stretch, key=lambda p: p[1]), max(stretch, key=lambda p: p[1])})
    return [*found, points[-1]]


def legend(canvas: Canvas, y: float, entries: Iterable[tuple[str, str]]) -> None:
    """Write a legend: a sample bar of each fill with its words, in one row."""
    x = LABELS
    for fill, words in entries:
        canvas.bar(x, x + 14.0, y - 8.0, 8.0, fill=fill)
        canvas.text(x + 18.0, y, words, size=10.0)
        x += 26.0 + 5.6 * len(words)
