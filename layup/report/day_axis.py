"""A session on one axis in characters: temperature, time to spare, steps planned and real, cups and parts, marks.

Each line is exactly as wide as it is told to be; what has no room is left out whole, the temperature first. Two days on
one axis: each step as a bar of either, and the difference of what was to spare. The days before, as a table on one
axis: by when each thing must begin, what waits, and the chain that decides.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import floor

from layup.bench.replay import Mark
from layup.chemistry.temperature import DAY_S, temperature_at_K
from layup.planning.castings import Pouring
from layup.planning.night import Night
from layup.planning.planner import PlanResult
from layup.planning.warming import Placed, critical, network, tasks_of
from layup.report.bars import (
    AHEAD,
    CUP,
    MARK,
    PART,
    WORK,
    Span,
    bars,
    column,
    curve,
    labels,
    strip,
    table_lines,
    time_axis,
)
from layup.review.compare import Aligned
from layup.review.review import Review
from layup.review.timeline import BatchTrack, StepTrack, Stretch, Track, on_line, spare_words
from layup.session.fields import ToldDay
from layup.session.recall import told_rows
from layup.session.state import SessionState
from layup.session.text import shortened
from layup.units import axis_time, in_minutes, moment, show, temperature

LABEL = 7
SIGNS = {"entry": "·", "note": "n", "finding": "", "decided": "✗"}
"""How each kind of mark is drawn; a finding by its number. A later kind covers an earlier one."""
OVER = "×"
TALLEST = 4
"""Lines of a curve, where there is room."""


@dataclass(frozen=True, slots=True)
class DayAxis:
    """What stands on the axis, and where it ends."""

    track: Track | None
    state: SessionState
    marks: tuple[Mark, ...]
    end_s: float

    def minute_at(self, cell: int, width: int) -> int:
        """Return the minute that a cell of the axis stands for, counted from the left edge of its lines."""
        cells = max(width - LABEL, 1)
        share = min(max((cell - LABEL + 0.5) / cells, 0.0), 1.0)
        return round(share * self.end_s / 60.0)

    def cell_of(self, at_s: float, width: int) -> int:
        return LABEL + column(at_s, 0.0, self.end_s, max(width - LABEL, 1))

    def lines(self, at_s: float, clock: str, *, width: int, rows: int) -> list[str]:
        """Return the axis with its cursor, in at most so many lines; `clock` stands beside the cursor."""
        cells = max(width - LABEL, 1)
        told = self.state.recalled
        if told is not None:
            wanted = [*self._work(cells), *self._told(told, cells)]
            return [*wanted[max(len(wanted) + 1 - rows, 0) :], self._foot(at_s, f"about {in_minutes(at_s)}", cells)]
        wanted = [*self._work(cells), self._marks(cells)]
        tall = min(max((rows - len(wanted) - 1) // 2, 1), TALLEST)
        curves = [list(self._spare(cells, tall)), list(self._temperature(cells, tall))]
        foot = self._foot(at_s, clock, cells)
        for drawn in curves:
            if drawn and len(wanted) + len(drawn) + 1 <= rows:
                wanted = [*drawn, *wanted]
        return [*wanted[max(len(wanted) + 1 - rows, 0) :], foot]

    def _foot(self, at_s: float, words: str, cells: int) -> str:
        return f"{'':{LABEL}}{labels([(min(at_s, self.end_s), f'▲ {words}')], 0.0, self.end_s, cells)}"

    def _row(self, name: str, spans: Sequence[Span], cells: int) -> str:
        return f"{name:<{LABEL}}{strip(spans, 0.0, self.end_s, cells)}"

    def _told(self, told: ToldDay, cells: int) -> Iterator[str]:
        """Yield what was told of minutes, as wide as it was told; nobody knows more of such a day."""
        for name, width, fill in (("thick", told.thick_s, CUP), ("closed", told.closed_s, PART)):
            if width is not None:
                yield self._row(name, [Span(max(width.low, 0.0), width.high, fill)], cells)

    def _work(self, cells: int) -> Iterator[str]:
        """Yield the steps as planned and, of a day that was logged, as they went, and each cup."""
        if self.track is None:
            return
        yield self._row("plan", [_span(*one.planned, AHEAD, f"{one.number}") for one in self.track.steps], cells)
        if self.state.recalled is not None:
            return
        done = sorted((step.real, step.number) for step in self.track.steps if step.real is not None)
        spans = [Span(*real, WORK if place % 2 else CUP, f"{number}") for place, (real, number) in enumerate(done)]
        yield self._row("real", spans, cells)
        for batch in self.track.batches:
            if lives := self.track.lives(batch):
                yield self._row(f"cup {batch.number}", list(self._life(batch, lives)), cells)

    def _life(self, batch: BatchTrack, lives: Sequence[Stretch]) -> Iterator[Span]:
        """Yield a batch in its cup and on the part, and when each was over by the early edge of its band."""
        yield from (Span(*lived, fill) for lived, fill in zip(lives, (CUP, PART), strict=False))
        left_s = lives[0].end_s
        if batch.cup_by is not None and batch.cup_by.by_s < left_s:
            yield Span(batch.cup_by.by_s, left_s, OVER)
        if batch.part is not None and len(lives) > 1 and batch.part.low < min(lives[1].end_s, self.end_s):
            yield Span(max(batch.part.low, left_s), lives[1].end_s, OVER)

    def _marks(self, cells: int) -> str:
        order = list(SIGNS)
        spans = [
            Span(mark.at_s, mark.at_s, str(mark.number)[-1] if mark.kind == "finding" else SIGNS[mark.kind])
            for mark in sorted(self.marks, key=lambda mark: order.index(mark.kind))
            if mark.at_s <= self.end_s
        ]
        return self._row("marks", spans, cells)

    def _temperature(self, cells: int, rows: int) -> Iterator[str]:
        air = self.state.air
        if not air:
            return
        values = [temperature_at_K(air, self.end_s * i / cells) for i in range(cells + 1)]
        low, high = min(values), max(values)
        rows = rows if temperature(high) != temperature(low) else 1
        drawn = curve(values, cells, rows, low=low - 0.5, high=high + 0.5)
        names = [temperature(high), *[""] * (rows - 2), *([temperature(low)] if rows > 1 else [])]
        yield from (f"{name:<{LABEL}}{line}" for name, line in zip(names, drawn, strict=True))

    def _spare(self, cells: int, rows: int) -> Iterator[str]:
        line = () if self.track is None else self.track.spare_s()
        if not line:
            return
        values = [on_line(line, self.end_s * i / cells) for i in range(cells + 1)]
        above = [None if value is None or value < 0.0 else value for value in values]
        most = max((value for value in above if value is not None), default=0.0)
        drawn = [list(one) for one in curve(above, cells, rows, missing=" ", low=0.0, high=max(most, 60.0))]
        for cell in range(cells):
            value = values[cell]
            if value is not None and value < 0.0:
                drawn[-1][cell] = OVER
        names = ["spare", *([in_minutes(most)] if rows > 1 else []), *[""] * (rows - 2)]
        yield from (f"{name[:LABEL]:<{LABEL}}{''.join(one)}" for name, one in zip(names, drawn, strict=True))


# -- a printed day -----------------------------------------------------------------------------------------------------

LATE_S = 60.0
"""A step is late from a minute on: less is how exactly somebody presses a key."""


def axis_lines(found: Review, *, width: int, late_only: bool = False) -> list[str]:
    """Draw the day; of one told from memory, whose times are no axis, say what was told."""
    state = found.stored.state
    if state.recalled is not None:
        resin = state.resin_id
        return table_lines(("told", ""), told_rows(state.recalled, resin), left="ll", width=width)
    return [] if found.track is None else day_lines(found.track, width=width, late_only=late_only)


def day_lines(track: Track, *, width: int, late_only: bool = False) -> list[str]:
    """Draw the day: each step and batch planned above real, over minutes from the session's start.

    With `late_only` no step that went as planned, and no legend.
    """
    ends = [track.end_s, track.planned_closed_s or 0.0, *(step.planned.end_s for step in track.steps)]
    rows: list[tuple[str, list[Span]]] = []
    for step in track.steps:
        if late_only and (step.over_s or 0.0) < LATE_S:
            continue
        rows.append((shortened(step.name, 22), [_span(step.planned.begin_s, step.planned.end_s, AHEAD)]))
        rows.append((f"{_over(step):>22}", [_span(step.real.begin_s, step.real.end_s, WORK)] if step.real else []))
    for batch in track.batches:
        planned = [_span(batch.planned.begin_s, batch.planned.end_s, AHEAD)] if batch.planned else []
        rows.append((f"Batch {batch.number}", planned))
        real = [_span(*lived, fill) for lived, fill in zip(track.lives(batch), (CUP, PART), strict=False)]
        rows.append((f"{spare_words(batch.cup_left_s):>22}" if real else "", real))
    end_s = max([*ends, 60.0]) * 1.02
    lines = bars(rows, end=end_s, width=width, mark=track.closed_s)
    lines.append(time_axis(end_min=end_s / 60.0, width=width, label_width=max(len(label) for label, _ in rows) + 1))
    if late_only:
        return lines
    lines.append(f"{AHEAD} planned  {WORK} as it went  {CUP} in the cup  {PART} on the part  {MARK} press closed")
    lines.append("beside a batch: what its cup had to spare when it was empty, by the early end of the 80 % band")
    return lines


def _over(step: StepTrack) -> str:
    """Return how late a step was, in whole minutes, or what became of it instead."""
    if step.over_s is None:
        return step.instead
    return "as planned" if abs(step.over_s) < 30.0 else in_minutes(step.over_s, "+.0f")


def _span(begin_s: float, end_s: float, fill: str, word: str = "") -> Span:
    return Span(max(begin_s, 0.0), max(end_s, 0.0), fill, word)


# -- two days ----------------------------------------------------------------------------------------------------------

LEFT, RIGHT = "░", "█"
"""The bar of the left day, and of the right one."""
NAME, NARROW_NAME, NARROW, SPARE = 22, 12, 60, 9
"""Columns of a step's name, of one where there is little room, below how many there is, and of the difference."""

EXPLAINED = ("+ B had more to spare then, - less", "  (until its first mix sets)")


def two_days_lines(found: Aligned, *, width: int) -> list[str]:
    """Draw each step of both days on one axis, A above B, and how much more B had to spare as it was done."""
    name = NAME if width >= NARROW else NARROW_NAME
    cells = max(width - name - 3 - SPARE, 8)
    begin_s, end_s = found.begin_s, max(found.end_s, found.begin_s + 60.0) * 1.001
    at = {"contact": "first contact", "closing": "press closed"}[found.by]
    any_told = False
    lines = [f"{'':<{name}}   {'':<{cells}}{'B spare':>{SPARE}}"]
    for step in found.steps:
        more = step.spare_difference_s
        told = "" if more is None else in_minutes(60.0 * round(more / 60.0) + 0.0, "+.0f")
        sides = [
            [] if side is None else [Span(side.begin_s, side.end_s, fill)]
            for side, fill in ((step.left, LEFT), (step.right, RIGHT))
        ]
        drawn = [strip(spans, begin_s, end_s, cells) for spans in sides]
        any_told = any_told or bool(told)
        lines.append(f"{shortened(step.name, name):<{name}} A {drawn[0]}".rstrip())
        lines.append(f"{'':<{name}} B {drawn[1]}{told:>{SPARE}}".rstrip())
    for side, closed_s in zip("AB", found.closed_s, strict=True):
        if closed_s is not None:
            mark = strip([Span(closed_s, closed_s, MARK)], begin_s, end_s, cells)
            lines.append(f"{'press closed' if side == 'A' else '':<{name}} {side} {mark}".rstrip())
    marks = [(0.0, f"0 {at}"), *((at_s, in_minutes(at_s)) for at_s in (begin_s, end_s) if abs(at_s) >= 60.0)]
    return [*lines, f"{'':<{name}}   {labels(marks, begin_s, end_s, cells)}".rstrip(), *EXPLAINED[: 2 * any_told]]


# -- the days before ---------------------------------------------------------------------------------------------------

WAIT = "░"
DECIDES, MAY_WAIT = "*", " "
DRAWN = 60
"""Columns from which on the days are drawn."""


@dataclass(frozen=True, slots=True)
class Days:
    """The days before, placed on a clock that begins at a midnight."""

    midnight: datetime
    placed: tuple[Placed, ...]
    stated: bool
    """Whether the plan states work of its own for them."""


def days_of_plan(
    wanted: datetime, result: PlanResult, pours: Sequence[Pouring], night: Night, *, warm_up_s: float = 0.0
) -> Days:
    """Place all that a plan needs before the moment at which it is wanted out of the mould, the latest start first.

    `warm_up_s` is what cans, core and mould need to follow the shop. Raises InputError for two tasks of one name,
    RangeError for work that is longer than the shop's hours.
    """
    midnight = datetime(wanted.year, wanted.month, wanted.day)
    tasks = tasks_of(result.plan, result, pours, night, warm_up_s=warm_up_s)
    return Days(midnight, network(tasks, end_s=(wanted - midnight).total_seconds()), bool(result.plan.before))


def calendar_lines(placed: Sequence[Placed], midnight: datetime, *, width: int) -> list[str]:
    """Return when each task must begin at the latest, the chain that decides marked, and all of it on one axis.

    `midnight` is second 0 of the clock by which they are placed.
    """
    if not placed:
        return []
    start_s, end_s = placed[0].latest_s, max(each.latest_end_s for each in placed)
    at = [moment(midnight + timedelta(seconds=each.latest_s)) for each in placed]
    if width < DRAWN:
        return _narrow(placed, at, moment(midnight + timedelta(seconds=end_s)), width)
    takes = [show(60.0 * round(each.task.takes_s / 60.0), "time") if each.task.takes_s else "" for each in placed]
    named = min(max(len(each.task.name) for each in placed), max(width - 60, 18))
    room = max(width - named - max(map(len, at)) - max(map(len, takes)) - 8, 8)
    days = range(floor(start_s / DAY_S), floor(end_s / DAY_S) + 1)
    marks = [(max(day * DAY_S, start_s), axis_time(midnight + timedelta(days=day))) for day in days]
    nights = {column(day * DAY_S, start_s, end_s, room) for day in days if day * DAY_S > start_s}
    chain = critical(placed)
    rows = [
        (
            f"{DECIDES if each in chain else MAY_WAIT} {begins}",
            shortened(each.task.name, named),
            time,
            _task_bar(each, start_s, end_s, room, nights),
        )
        for each, begins, time in zip(placed, at, takes, strict=True)
    ]
    ends = moment(midnight + timedelta(seconds=end_s))
    lines = [f"THE DAYS BEFORE  start by {at[0]}, out {ends}"]
    lines += table_lines(("", "", "", ""), [("", "", "", labels(marks, start_s, end_s, room)), *rows], left="llrl")
    return [*lines, f"{DECIDES} decides: late here, late out   {WORK} work   {WAIT} wait"]


def _narrow(placed: Sequence[Placed], at: Sequence[str], ends: str, width: int) -> list[str]:
    """Return when each task must begin, where there is no room for a picture."""
    chain, lines, last = critical(placed), ["START BY".ljust(10) + at[0], "OUT".ljust(10) + ends], ""
    for each, begins in zip(placed, at, strict=True):
        day, _, clock = begins.rpartition(" ")
        lines += [day] if day != last else []
        lines.append(f"{DECIDES if each in chain else MAY_WAIT} {clock}  {each.task.name}"[:width])
        last = day
    return [*lines, f"{DECIDES} late here, late out"]


def _task_bar(each: Placed, start_s: float, end_s: float, room: int, nights: set[int]) -> str:
    """Return a task's stretch, work filled and waits light, over the midnights."""
    span = Span(each.latest_s, each.latest_end_s, WORK if each.task.hands else WAIT)
    drawn = strip([span], start_s, end_s, room)
    return "".join("│" if at in nights and cell == " " else cell for at, cell in enumerate(drawn))
