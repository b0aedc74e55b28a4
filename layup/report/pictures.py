"""Pictures made of characters: bars over time, a slack curve, lines against time. Plain data in, lines of text out.

They are drawn in one colour and in words, so that they read in monochrome and on paper.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, log10

EIGHTHS = " ▁▂▃▄▅▆▇█"
HALVES = " ▀▄█"
"""A cell by which of its halves are filled: 1 the upper, 2 the lower. Every font has them."""


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of one bar, drawn with one character."""

    begin: float
    end: float
    fill: str


def bars(rows: Sequence[tuple[str, Sequence[Span]]], *, end: float, width: int, mark: float | None = None) -> list[str]:
    """Draw one bar a row over 0..`end`, in `width` characters of which the labels take what they need.

    Later spans cover earlier ones. `mark` draws an upright line through all rows.
    """
    label_width = max((len(label) for label, _ in rows), default=0) + 1
    cells = max(width - label_width, 1)
    column = None if mark is None else min(int(mark / end * cells), cells - 1)
    lines = []
    for label, spans in rows:
        line = [" "] * cells
        for span in spans:
            first = min(int(span.begin / end * cells), cells - 1)
            last = max(ceil(span.end / end * cells), first + 1)
            line[first:last] = span.fill * (min(last, cells) - first)
        if column is not None:
            line[column] = "┃"
        lines.append(f"{label:<{label_width}}" + "".join(line))
    return lines


def time_axis(*, end_min: float, width: int, label_width: int) -> str:
    """Return an axis line in minutes under a picture of the same width, with each number that has room whole."""
    cells = max(width - label_width, 1)
    tick = nice_step(end_min / max(cells / 10, 1))
    line = ""
    for number in range(cells):
        at, text = int(number * tick / end_min * cells), f"{number * tick:g}"
        if at + len(text) + len(" min") > cells:
            break
        line = line.ljust(at) + text
    return f"{'':<{label_width}}{line} min" if line else ""


def nice_step(rough: float) -> float:
    """Return the step 1, 2, 5 x 10^n that is nearest above `rough`."""
    scale = 10.0 ** floor(log10(rough))
    return next(step * scale for step in (1.0, 2.0, 5.0, 10.0) if step * scale >= rough * 0.999)


def columns(values: Sequence[float | None], *, top: float, rows: int) -> list[str]:
    """Draw one column a value, 0..`top` over `rows` lines; None and anything at or below zero draw nothing."""
    lines = []
    for row in range(rows - 1, -1, -1):
        line = ""
        for value in values:
            filled = 0.0 if value is None or value <= 0 else min(value / top, 1.0) * rows - row
            line += EIGHTHS[max(0, min(8, ceil(filled * 8)))]
        lines.append(line)
    return lines


def line_plot(
    series: Sequence[Sequence[tuple[float, float]]],
    *,
    x_range: tuple[float, float],
    y_range: tuple[float, float],
    width: int,
    height: int,
) -> list[str]:
    """Draw each series of (x, y) in `width` x `height` cells of two halves, one above the other."""
    grid = [[0] * width for _ in range(height)]
    for points in series:
        for (x0, y0), (x1, y1) in pairwise(points):
            for step in range(33):
                share = step / 32
                _dot(grid, _scaled(x0 + (x1 - x0) * share, x_range), _scaled(y0 + (y1 - y0) * share, y_range))
    return ["".join(HALVES[cell] for cell in row) for row in grid]


def _scaled(value: float, limits: tuple[float, float]) -> float:
    return (value - limits[0]) / (limits[1] - limits[0])


def _dot(grid: list[list[int]], x: float, y: float) -> None:
    """Fill the half cell at x, y in 0..1; outside draws nothing."""
    if not (0 <= x <= 1 and 0 <= y <= 1):
        return
    across = min(int(x * len(grid[0])), len(grid[0]) - 1)
    down = min(int((1 - y) * len(grid) * 2), len(grid) * 2 - 1)
    grid[down // 2][across] |= 1 + down % 2
