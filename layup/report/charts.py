"""The charts of a report: the day as planned and as it went, the temperatures, and the time to spare.

Pieces of SVG, drawn in greys, textures and dashes and never in colour alone. With them the blocks of plain text that a
report is before it is HTML or Markdown: nothing in a block is markup.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from html import escape
from math import ceil
from textwrap import wrap

from layup.bench.replay import Decided
from layup.chemistry.looks import LOOKS
from layup.chemistry.temperature import History
from layup.planning.schedule import Timeline
from layup.report.bars import share_of_span
from layup.review.changed_days import ChangedDay, ChangedDays
from layup.review.timeline import BatchTrack, StepTrack, Track
from layup.session.state import SessionState
from layup.session.state_parts import in_effect
from layup.units import in_hours, in_minutes, mass, spare_of, temperature

# -- svg -------------------------------------------------------------------------------------------------------------

SvgPoints = Sequence[tuple[float, float]]

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
class AxisScale:
    """A straight scale from values to units of the chart."""

    low: float
    high: float
    begin: float
    end: float

    def __call__(self, value: float) -> float:
        """Return where a value is drawn, no further out than the chart's edge."""
        return self.begin + share_of_span(value, self.low, self.high) * (self.end - self.begin)


@dataclass(slots=True)
class Canvas:
    """A chart while it is drawn."""

    height: float
    parts: list[str] = field(default_factory=list)

    def bar(self, ends: Iterable[float], y: float, height: float, *, fill: str) -> None:
        """Draw a bar from one end to the other, at least one unit wide."""
        x0, x1 = ends
        self.parts.append(
            f'<rect x="{x0:.1f}" y="{y:.1f}" width="{max(x1 - x0, 1.0):.1f}" height="{height:.1f}" fill="{fill}" '
            'stroke="#000" stroke-width="0.7"/>'
        )

    def line(self, points: SvgPoints, *, dash: str = "", width: float = 1.4, stroke: str = "#000") -> None:
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
        return [(mark * 60.0, in_hours(60.0 * mark, "g")) for mark in marks]
    return [(mark * 60.0, in_minutes(60.0 * mark)) for mark in marks]


def thinned(points: SvgPoints, most: int = 400) -> list[tuple[float, float]]:
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
        canvas.bar((x, x + 14.0), y - 8.0, 8.0, fill=fill)
        canvas.text(x + 18.0, y, words, size=10.0)
        x += 26.0 + 5.6 * len(words)


# -- blocks ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; level 1 is the report's own."""

    text: str
    level: int = 2


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph; `strong` for the verdict."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Points:
    """A list of points; `numbered` where their order says something."""

    items: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A table; columns named in `numbers` are set flush right."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart as SVG, with what it shows in words for those who cannot see it."""

    svg: str
    words: str


@dataclass(frozen=True, slots=True)
class Space:
    """An empty frame for what is glued or clipped on, with what belongs there."""

    words: str


@dataclass(frozen=True, slots=True)
class EmbeddedPhoto:
    """A photo with its caption; without bytes only its words are shown."""

    data: bytes
    media: str
    words: str


Block = Heading | Paragraph | Points | Table | Chart | Space | EmbeddedPhoto


# -- charts ----------------------------------------------------------------------------------------------------------

ROW, EDGE, TOP = 22.0, 16.0, 32.0
SPARE, DEGREES = 90.0, 130.0
"""How tall the time to spare and the temperatures are drawn."""
DASHES = {"air": "", "mould": "6 3", "cans": "2 2"}
CUP_DASH = "1 3"


def day_picture(
    track: Track, state: SessionState, turned: Decided | None = None, changed: ChangedDays | None = None
) -> Chart:
    """Draw a day on one time axis: steps, batches, the minute that decided it, the day with one thing changed, the time
    to spare, and the temperatures at the bench."""
    closed_s = track.end_s if state.closed_s is None else state.closed_s
    read = _readings(state, 0.0, max(closed_s, 60.0))
    spare = track.spare_s()
    ends = [track.end_s, track.planned_closed_s or 0.0, *(step.planned.end_s for step in track.steps)]
    ends += [batch.cup.low for batch in track.batches if batch.cup and batch.left_cup_s]
    scale = AxisScale(0.0, max(ends) * 1.03 + 60.0, LABELS, WIDTH - EDGE)
    others = changed.all if changed else ()
    rows: list[StepTrack | BatchTrack | ChangedDay] = [*track.steps, *track.batches, *others]
    height = TOP + ROW * len(rows) + (SPARE + 8.0 if spare else 0.0) + (DEGREES + 8.0 if read else 0.0)
    canvas = Canvas(height + 46.0)
    _time_axis(canvas, scale, height + 14.0)
    y = TOP
    for row in rows:
        if isinstance(row, StepTrack):
            _step_row(canvas, scale, y, row)
        elif isinstance(row, BatchTrack):
            _batch_row(canvas, scale, y, row, track)
        else:
            _other_row(canvas, scale, y, row)
        y += ROW
    for time_s, words, dash in ((track.planned_closed_s, "to be closed ", "3 3"), (track.closed_s, " closed", "")):
        if time_s is not None:
            canvas.line([(scale(time_s), TOP - 4.0), (scale(time_s), height)], dash=dash, width=1.0)
            canvas.text(scale(time_s), TOP - 8.0, words, anchor="end" if dash else "start", size=9.0)
    if turned is not None:
        canvas.line([(scale(turned.at_s), 12.0), (scale(turned.at_s), height)], width=2.4, dash="7 2 2 2")
        canvas.text(scale(turned.at_s), 9.0, "✗ decided", anchor="middle", size=10.0)
    if spare:
        _spare(canvas, scale, y + 8.0, spare)
        y += SPARE + 8.0
    if read:
        _temperatures(canvas, scale, y + 8.0, read)
    legend(
        canvas,
        height + 36.0,
        [("#fff", "planned"), ("#999", "step done"), ("url(#hatch)", "in the cup"), ("#444", "on the part")],
    )
    if others:
        canvas.text(8.0, height + 36.0, "→ one thing changed, simulated", size=10.0)
    letters = " ".join(look.letter for look in LOOKS.values())
    canvas.text(LABELS + 320.0, height + 36.0, f"├─┤ thickens (80 %)   {letters}: how it looked", size=10.0)
    over = ((step.name, step.over_s or 0.0) for step in track.steps)
    late = [f"{name} {in_minutes(over_s, '+.0f')}" for name, over_s in over if over_s > 60.0]
    said = [f"slower than planned: {', '.join(late)}." if late else "no step was slower than planned by a minute."]
    said += [] if track.closed_s is None else [f"The press was closed after {in_minutes(track.closed_s)}."]
    if spare:
        least_s = min(value for _, value in spare)
        least = f"{in_minutes(abs(least_s))}{' over' if least_s < 0.0 else ''}"
        said.append(f"The least time to spare was {least}, by the early end of the 80 % band.")
    said += [] if turned is None else [f"It was decided after {in_minutes(turned.at_s)}."]
    said += ["Below the batches stands the day with one thing changed."] if others else []
    said += [f"Temperatures: {_ranges(read)}"] if read else []
    return _named(canvas, "The day as planned and as it went", " ".join(said))


def _other_row(canvas: Canvas, scale: AxisScale, y: float, one: ChangedDay) -> None:
    """Draw a day with one thing changed, as simulated: its cups, its part until the press is closed, what it spares."""
    words = [*wrap(f"→ {one.words}", 40)[:2], spare_of(one.spare_s)]  # the spare time always has room
    lines = [words[0], ", ".join(words[1:])] if len(", ".join(words[1:])) <= 40 else [words[0], words[-1]]
    for place, line in enumerate(lines):
        canvas.text(LABELS - 6.0, y + 6.0 + 9.0 * place, line, anchor="end", size=9.0)
    for cup in one.cups:
        canvas.bar(map(scale, cup), y, 7.0, fill="url(#hatch)")
    laid_s = min((end_s for _, end_s in one.cups), default=one.closed_s)
    canvas.bar((scale(laid_s), scale(one.closed_s)), y + 8.0, 6.0, fill="#444")


def cure_chart(state: SessionState) -> Chart | None:
    """Draw the temperatures that were read after the closing; None where there are none."""
    closed_s = state.closed_s
    places = [reading for history in (state.air, state.mould, state.resin) for reading in history]
    if closed_s is None or max((at_s for at_s, _ in places), default=closed_s) <= closed_s:
        return None
    end_s = max(*(at_s for at_s, _ in places), state.demoulded_s or 0.0)
    read = _readings(state, closed_s, end_s, cups=False)
    canvas = Canvas(DEGREES + 40.0)
    scale = AxisScale(closed_s, end_s, LABELS, WIDTH - EDGE)
    _time_axis(canvas, scale, DEGREES + 22.0)
    _temperatures(canvas, scale, 8.0, read)
    return _named(canvas, "Temperatures in the cure", _ranges(read))


STRIP_FILLS = {"stirring": "#fff", "in the cup": "url(#hatch)", "on the part": "#999", "closing": "#000"}


def day_strip(day: Timeline) -> str:
    """Return the plan of a day on one time axis: each batch in its cup and on the part, the closing, and press by."""
    rows = (*day.batches, day.closing)
    canvas = Canvas(ROW * len(rows) + 54.0)
    scale = AxisScale(0.0, max(day.closed_s, day.press_by_s.low) * 1.03, 110.0, WIDTH - EDGE)
    _time_axis(canvas, scale, ROW * len(rows) + 22.0)
    for place, row in enumerate(rows):
        y = 8.0 + ROW * place
        canvas.text(104.0, y + 11.0, row.label, anchor="end")
        for span in row.spans:
            if span.kind in STRIP_FILLS:
                canvas.bar((scale(span.begin_s), scale(span.end_s)), y, 14.0, fill=STRIP_FILLS[span.kind])
    x, bottom = scale(day.press_by_s.low), ROW * len(rows) + 6.0
    canvas.line([(x, 4.0), (x, bottom)], width=2.4)
    canvas.text(x - 4.0, bottom - 2.0, f"press by {in_minutes(day.press_by_s.low)}", anchor="end", size=10.0)
    legend(canvas, ROW * len(rows) + 44.0, [(fill, kind) for kind, fill in STRIP_FILLS.items()])
    return canvas.svg("The batches and the closing on one time axis")


def _time_axis(canvas: Canvas, scale: AxisScale, y: float) -> None:
    for time_s, words in time_ticks_s(scale.low, scale.high):
        canvas.line([(scale(time_s), 4.0), (scale(time_s), y - 12.0)], width=0.4, stroke="#bbb")
        canvas.text(scale(time_s), y, words, anchor="middle", size=9.0)


def _step_row(canvas: Canvas, scale: AxisScale, y: float, step: StepTrack) -> None:
    canvas.text(LABELS - 6.0, y + 12.0, step.name[:32], anchor="end")
    canvas.bar(map(scale, step.planned), y, 7.0, fill="#fff")
    if step.real is not None:
        canvas.bar(map(scale, step.real), y + 8.0, 8.0, fill="#999")


def _batch_row(canvas: Canvas, scale: AxisScale, y: float, batch: BatchTrack, track: Track) -> None:
    canvas.text(LABELS - 6.0, y + 12.0, f"Batch {batch.number}, {mass(batch.mass_g)}", anchor="end")
    if batch.planned is not None:
        canvas.bar(map(scale, batch.planned), y, 7.0, fill="#fff")
    if batch.contact_s is None:
        return
    for lived, fill in zip(track.lives(batch), ("url(#hatch)", "#444"), strict=False):
        canvas.bar(map(scale, lived), y + 8.0, 8.0, fill=fill)
    if batch.lost_s is not None:
        canvas.text(scale(batch.lost_s) + 3.0, y + 16.0, "lost", size=9.0)
    if batch.cup is not None:
        low, high = scale(batch.cup.low), scale(batch.cup.high)
        canvas.line([(low, y + 3.5), (high, y + 3.5)], width=1.0)
        for x in (low, high):
            canvas.line([(x, y), (x, y + 7.0)], width=1.0)
    for at_s, word in batch.observations:
        canvas.text(scale(at_s), y + 7.0, LOOKS[word].letter, anchor="middle", size=10.0)


def _named(canvas: Canvas, title: str, words: str) -> Chart:
    return Chart(canvas.svg(title), f"{title}: {words}")


def _readings(state: SessionState, begin_s: float, end_s: float, *, cups: bool = True) -> list[tuple[str, History]]:
    """Return the temperatures that counted in a stretch, by where they were read."""
    places = {"air": state.air, "mould": state.mould, "cans": state.resin}
    lines: list[tuple[str, History]] = [  # those of a place count on from the last one before
        (name, tuple((max(at_s, begin_s), kelvin) for at_s, kelvin in in_effect(history, begin_s, end_s)))
        for name, history in places.items()
    ]
    for batch in state.batches if cups else ():
        read = tuple(reading for reading in batch.temperatures if begin_s <= reading[0] <= end_s)
        lines.append((f"cup {batch.number}", read))
    return [(name, history) for name, history in lines if history]


def _temperatures(canvas: Canvas, across: AxisScale, y: float, read: list[tuple[str, History]]) -> None:
    """Draw temperatures over the time axis of the picture, each with its own dashes, named at its own line's end."""
    kelvins = [kelvin for _, history in read for _, kelvin in history]
    up = AxisScale(min(kelvins) - 1.0, max(kelvins) + 1.0, y + DEGREES, y)
    step = 2 if up.high - up.low < 12.0 else 5 if up.high - up.low < 40.0 else 20
    for mark in range(-40, 500, step):
        if up.low <= temperature.value(mark) <= up.high:
            at_y = up(temperature.value(mark))
            canvas.line([(LABELS, at_y), (WIDTH - EDGE, at_y)], width=0.4, stroke="#bbb")
            canvas.text(LABELS - 6.0, at_y + 3.0, f"{mark} {temperature.sign}", anchor="end", size=9.0)
    for index, (name, history) in enumerate(read):
        dash = DASHES.get(name, CUP_DASH)
        points = [(across(at_s), up(kelvin)) for at_s, kelvin in thinned(history)]
        canvas.line([*points, (across(across.high), points[-1][1])] if name in DASHES else points, dash=dash)
        for x, at_y in points if len(points) < 40 else ():
            canvas.bar((x - 1.5, x + 1.5), at_y - 1.5, 3.0, fill="#000")
        at_y = y + 12.0 + 15.0 * index
        canvas.line([(8.0, at_y), (34.0, at_y)], dash=dash)
        canvas.text(40.0, at_y + 4.0, name, size=10.0)


def _ranges(read: list[tuple[str, History]]) -> str:
    said = []
    for name, history in read:
        low_K, high_K = (extreme(kelvin for _, kelvin in history) for extreme in (min, max))
        low = f"{temperature.digits(low_K, '.1f')} to " if high_K - low_K >= 0.05 else ""
        said.append(f"{name} {low}{temperature(high_K, '.1f')}")
    return ", ".join(said) + "."


def _spare(canvas: Canvas, across: AxisScale, y: float, line: SvgPoints) -> None:
    """Draw what was left, at each moment, until the first of all mix in hand was over."""
    values = [value for _, value in line]
    up = AxisScale(min(0.0, *values) / 60.0, max(values) / 60.0 * 1.05 + 1.0, y + SPARE, y)
    canvas.text(8.0, y + 12.0, "time to spare", size=10.0)
    canvas.line([(LABELS, up(0.0)), (WIDTH - EDGE, up(0.0))], width=1.2)
    canvas.text(LABELS - 6.0, up(0.0) + 3.0, in_minutes(0.0), anchor="end", size=9.0)
    for value in (max(values), min(values)):
        if abs(value) > 0.1 * (max(values) - min(values)):
            canvas.text(LABELS - 6.0, up(value / 60.0) + 3.0, in_minutes(value), anchor="end", size=9.0)
    canvas.line([(across(at_s), up(value / 60.0)) for at_s, value in line])
