"""Bars, fans, strips, curves and tables made of characters: plain text in one colour, exactly as wide as it is told.

Bars fill in eighths of a cell, curves in the dots of a Braille cell, so that they read in monochrome and on paper.
Tables are laid out by rich: columns as wide as their words, numbers to the right. On the console that commands print on
words stay words, long lines hang below their own text, and pictures keep their shape.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, isfinite, log10
from shutil import get_terminal_size
from typing import Any, NoReturn

from rich.console import Console
from rich.table import Table
from rich.text import Text

from layup.errors import printable

# -- bars ------------------------------------------------------------------------------------------------------------

EIGHTHS_ACROSS = " ▏▎▍▌▋▊▉█"
EIGHTHS_UP = " ▁▂▃▄▅▆▇█"
MARK = "┃"
"""The moment by which something must be done, in every picture."""
AHEAD, BAND = "·", "▓"
"""What is still to come of a fan, and the band in which it may end."""
CUP, PART, WORK = "▓", "░", "█"
"""A batch in its cup, on the part, and work that takes the hands."""


def share_of_span(at: float, start: float, end: float) -> float:
    """Return how far `at` lies between two moments, 0 to 1; before or beyond them it is at the nearer end."""
    if at <= start:
        return 0.0
    if at >= end:
        return 1.0
    return (at - start) / (end - start)


def column(at: float, start: float, end: float, width: int) -> int:
    """Return the cell that stands for a moment: the first one at `start` or before, the last one at `end` or later."""
    return min(int(share_of_span(at, start, end) * width), max(width - 1, 0))


def bar(share: float, width: int) -> str:
    """Fill a share of `width` cells, in eighths of a cell: none only where it is none, all only where it is the whole.

    >>> bar(0.3125, 4)
    '█▎  '
    """
    cells = max(width, 0)
    share = min(max(share, 0.0), 1.0)
    eighths = 8 * cells if share == 1.0 else min(ceil(8 * cells * share - 1e-9), max(8 * cells - 1, 0))
    full, rest = divmod(eighths, 8)
    return ("█" * full + (EIGHTHS_ACROSS[rest] if rest else "")).ljust(cells)


def fan(
    start_s: float,
    now_s: float,
    act_by_s: float,
    low_s: float,
    high_s: float,
    end_s: float,
    width: int,
    *,
    word: str = "",
) -> str:
    """Draw a countdown on `width` cells: full up to now, dots until it may end, then the 80 % band in which it may.

    By when to act is marked unless it lies outside; the band may be endless, and holds `word` where there is room and
    now has not reached it.

    >>> fan(0, 30, 60, 70, 90, 100, 20)
    '██████······┃·▓▓▓▓  '
    """
    width = max(width, 0)
    first, past = (round(share_of_span(edge_s, start_s, end_s) * width) for edge_s in (low_s, max(high_s, low_s)))
    if low_s < end_s and width:  # a band too narrow to see is one cell
        first = min(first, width - 1)
        past = max(past, first + 1)
    cells = list(AHEAD * first + BAND * (past - first) + " " * (width - past))
    gone = bar(share_of_span(now_s, start_s, end_s), width).rstrip()
    if word and past - first >= len(word) + 2 and len(gone) <= first:
        at = first + (past - first - len(word)) // 2
        cells[at : at + len(word)] = word
    cells[: len(gone)] = gone
    if cells and start_s <= act_by_s <= end_s:
        cells[column(act_by_s, start_s, end_s, width)] = MARK
    return "".join(cells)


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of a strip, drawn with one character; `word` stands in it where there is room for all of it."""

    begin: float
    end: float
    fill: str
    word: str = ""


def strip(spans: Iterable[Span], start_s: float, end_s: float, width: int) -> str:
    """Draw stretches on an axis of `width` cells; what lies outside is not drawn.

    A later stretch covers an earlier one, and one too short to see is still one cell.

    >>> strip([Span(0, 40, "▓", "cup"), Span(40, 80, "░"), Span(90, 90, "┃")], 0, 100, 20)
    'cup▓▓▓▓▓░░░░░░░░  ┃ '
    """
    cells = [" "] * max(width, 0)
    for span in spans:
        if cells and span.begin <= end_s and span.end >= start_s:
            first = column(span.begin, start_s, end_s, width)
            last = max(ceil(share_of_span(span.end, start_s, end_s) * width - 1e-9), first + 1)
            word = span.word if len(span.word) < last - first else ""
            cells[first:last] = word + span.fill * (last - first - len(word))
    return "".join(cells)


def bars(rows: Sequence[tuple[str, Sequence[Span]]], *, end: float, width: int, mark: float | None = None) -> list[str]:
    """Draw one strip a row over 0..`end`, in `width` characters of which the labels take what they need.

    `mark` draws an upright line through all rows.
    """
    label_width = max((len(label) for label, _ in rows), default=0) + 1
    marked = () if mark is None else (Span(min(mark, end), min(mark, end), MARK),)
    cells = max(width - label_width, 1)
    return [f"{label:<{label_width}}" + strip((*spans, *marked), 0.0, end, cells) for label, spans in rows]


def labels(marks: Iterable[tuple[float, str]], start: float, end: float, width: int) -> str:
    """Write words under the moments that they name on an axis of `width` cells, or ending at its right end.

    The mark that matters most comes first; one that has no room beside those before it is left out.

    >>> labels([(0, "now"), (50, "38 out"), (60, "gone"), (100, "47")], 0, 100, 20)
    'now       38 out  47'
    """
    cells = [" "] * max(width, 0)
    for at, words in marks:
        first = min(column(at, start, end, width), width - len(words))
        around = cells[max(first - 1, 0) : first + len(words) + 1]
        if words and first >= 0 and start <= at <= end and not "".join(around).strip():
            cells[first : first + len(words)] = words
    return "".join(cells)


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
            line += EIGHTHS_UP[max(0, min(8, ceil(filled * 8)))]
        lines.append(line)
    return lines


# -- curves ----------------------------------------------------------------------------------------------------------

DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
"""The bit of each dot of a Braille cell, by row and column."""
STROKES = ("1", "1110", "10")
"""Which dots of a line are drawn, so that a second and a third one can be told from the first."""


class _Canvas:
    """Dots on `width` x `height` cells, the first row of dots at the bottom."""

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = max(width, 0), max(height, 0)
        self.across, self.up = 2 * self.width, 4 * self.height
        self.cells = [[0] * self.width for _ in range(self.height)]

    def dot(self, across: int, up: int) -> None:
        """Set one dot; outside draws nothing."""
        if 0 <= across < self.across and 0 <= up < self.up:
            down = self.up - 1 - up
            self.cells[down // 4][across // 2] |= DOTS[down % 4][across % 2]

    def lines(self) -> list[str]:
        """Return the rows; a cell without a dot is blank."""
        return ["".join(chr(0x2800 + cell) if cell else " " for cell in row) for row in self.cells]


def curve(
    values: Sequence[float | None],
    width: int,
    rows: int,
    *,
    missing: str = "×",
    low: float | None = None,
    high: float | None = None,
) -> tuple[str, ...]:
    """Draw values that stand evenly over the width as one line, the highest row first.

    `missing` stands in the lowest row where there is no value. `low` and `high` are the values of the lowest and the
    highest dot, at which all beyond is drawn; without them the least and the greatest value.

    >>> curve([0, 1, None, None], 6, 1)
    ('⡠⠒××××',)
    """
    known = [value for value in values if value is not None and isfinite(value)]
    canvas = _Canvas(width, rows)
    if not canvas.width or not canvas.height:
        return ("",) * canvas.height
    least = min(known, default=0.0) if low is None else low
    most = max(known, default=0.0) if high is None else high
    heights: list[int | None] = []
    for at in range(canvas.across):
        value = _between(values, at / max(canvas.across - 1, 1))
        share = 0.0 if value is None else share_of_span(value, least, most)  # of values all alike the middle one
        dot = canvas.up // 2 if most <= least else round(share * (canvas.up - 1))
        heights.append(None if value is None else dot)
    before: int | None = None
    for across, height in enumerate(heights):
        if height is not None:
            begin = height if before is None else before + (height > before) - (height < before)
            for up in range(min(begin, height), max(begin, height) + 1):
                canvas.dot(across, up)
        before = height
    lines = canvas.lines()
    none = [heights[2 * cell] is None and heights[2 * cell + 1] is None for cell in range(canvas.width)]
    lines[-1] = "".join(missing if absent else drawn for absent, drawn in zip(none, lines[-1], strict=True))
    return tuple(lines)


def _between(values: Sequence[float | None], share: float) -> float | None:
    """Return the value at a share of the way through the values, between two of them; None beside one that is None."""
    if not values:
        return None
    at = share * (len(values) - 1)
    left = min(int(at), len(values) - 1)
    first, part = values[left], at - left
    if part < 1e-9:
        return first
    second = values[left + 1]
    return None if first is None or second is None else first + part * (second - first)


def line_plot(
    series: Sequence[Sequence[tuple[float, float]]],
    *,
    x_range: tuple[float, float],
    y_range: tuple[float, float],
    width: int,
    height: int,
) -> list[str]:
    """Draw each series of (x, y) in `width` x `height` cells: the first as a whole line, the next ones broken."""
    canvas = _Canvas(width, height)
    for number, points in enumerate(series):
        stroke = STROKES[min(number, len(STROKES) - 1)]
        places = [(_scaled(x, x_range) * canvas.across, _scaled(y, y_range) * canvas.up) for x, y in points]
        for (x0, y0), (x1, y1) in pairwise(places):
            steps = min(ceil(max(abs(x1 - x0), abs(y1 - y0), 1.0)), 4 * (canvas.across + canvas.up))
            for step in range(steps + 1):
                x, y = (a + (b - a) * step / steps for a, b in ((x0, x1), (y0, y1)))
                if 0 <= x <= canvas.across and 0 <= y <= canvas.up:
                    across, up = min(int(x), canvas.across - 1), min(int(y), canvas.up - 1)
                    if stroke[across % len(stroke)] == "1":
                        canvas.dot(across, up)
    return canvas.lines()


def _scaled(value: float, limits: tuple[float, float]) -> float:
    return (value - limits[0]) / (limits[1] - limits[0])


# -- tables ------------------------------------------------------------------------------------------------------------


def table_lines(
    heads: Sequence[str], rows: Iterable[Sequence[str]], *, left: str = "", width: int = 120, indent: int = 0
) -> list[str]:
    """Return a table as lines: no head where all of `heads` are empty; `left` names the columns of words by letters.

    `left` has one character a column, "l" for words, anything else for numbers; columns beyond it hold numbers. Two
    blanks stand between columns, and words too long for `width` columns in all are cut with an ellipsis. A column with
    a head and nothing below it is left out.
    """
    rows = [*rows]
    shown = [place for place, head in enumerate(heads) if not head or not rows or any(row[place] for row in rows)]
    table = Table(box=None, show_header=any(heads), header_style="", pad_edge=False, padding=(0, 2, 0, 0))
    for place in shown:
        words = left[place : place + 1] == "l"
        table.add_column(heads[place], justify="left" if words else "right", no_wrap=True, overflow="ellipsis")
    for row in rows:
        table.add_row(*(row[place] for place in shown))
    console = Console(width=width - indent, color_system=None, markup=False, highlight=False)
    with console.capture() as captured:
        console.print(table)
    return [(" " * indent + line).rstrip() for line in captured.get().splitlines()]


# -- on paper ----------------------------------------------------------------------------------------------------------

INDENT = re.compile(r" *(?:[-!] )?")
"""What a line that goes on is indented by: its own blanks and the mark of a list or of a warning."""


class Paper(Console):
    """A console that text from a file can neither style nor steer, and that never prints wider than it is."""

    def __init__(self) -> None:
        super().__init__(file=sys.stdout, width=get_terminal_size().columns)

    def print(self, *objects: Any, **options: Any) -> None:  # Any: as rich has it
        """Print lines of text; what is no text is printed as rich does."""
        wrap = not options.get("soft_wrap", False)
        super().print(*(self._line(each, wrap=wrap) if isinstance(each, str) else each for each in objects), **options)

    def on_broken_pipe(self) -> NoReturn:
        """Let the command line end quietly; rich would end with the exit code for "does not fit"."""
        raise BrokenPipeError

    def _line(self, text: str, *, wrap: bool) -> Text:
        line = Text(printable(text))
        indent = INDENT.match(text)
        depth = indent.end() if indent else 0
        if not wrap or line.cell_len <= self.width or depth >= self.width // 2:
            return line
        pieces = line[depth:].wrap(self, self.width - depth)
        for piece in pieces:
            piece.rstrip()
        return line[:depth] + Text("\n" + " " * depth).join(pieces)
