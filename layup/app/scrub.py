"""One session of the Logbook, minute by minute: its day on one axis, and the bench as it stood at the cursor."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from textwrap import wrap
from threading import Lock

from rich.text import Text
from textual import events, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.widgets import Static
from textual.worker import get_current_worker

from layup.app.bench_lines import Picture, picture
from layup.bench.replay import Decided, MarkKind, Minute, Replay, axis_end_s, decided, marks_of, minute_of, next_mark
from layup.errors import LayupError
from layup.files.workshop import Workshop
from layup.report.day_axis import DayAxis, axis_lines
from layup.review.review import Review, review, verdict_line
from layup.session.archive import stored_session
from layup.session.clock import Clock
from layup.units import in_minutes

MINUTE_S = 60.0
TEN = 10
BESIDE = 110
"""Columns from which on what was done stands beside the bench instead of above it."""
DID, FEW = 5, 4
"""Lines for what was done and missed where it stands below the bench, and where there are few rows."""
LOW = 16
"""Rows below which there are few."""
TALL = 36
"""Rows from which on the curves are taller."""
LEAST_BENCH = 5
"""Lines that the bench keeps for itself below the axis."""
TOLD_ROWS = 4
"""Lines of the axis of a day from memory: its plan, when it got thick, when it was closed, the cursor."""
MEMORY = "FROM MEMORY: as it was told"
FINDINGS: frozenset[MarkKind] = frozenset({"finding", "decided"})


Drawn = tuple[Minute, Picture, str]
"""A moment worked out: what happened, the bench drawn for the size, and the clock."""


@dataclass(slots=True)
class OpenedDay:
    """A session that was opened: looked back on at once, its minutes worked out one by one beside the screen."""

    replay: Replay
    """For the thread that works the minutes out, and for no other."""
    found: Review
    axis: DayAxis
    turned: Decided | None
    turned_at: str
    """The clock at which it was decided; empty where nothing decided it."""
    size: tuple[int, int] = (0, 0)
    """Columns and rows that the bench is drawn for."""
    minutes: dict[float, Drawn] = field(default_factory=dict)
    alone: Lock = field(default_factory=Lock)
    """Held by the one thread that asks the replay."""

    def moments(self) -> list[float]:
        """Return every moment of the open day that the cursor can stand at and that is not worked out yet.

        What comes after the closing takes a forecast of the cure each, and is worked out when it is asked for.
        """
        closed_s = self.found.stored.state.closed_s
        end_s = self.axis.end_s if closed_s is None else closed_s - 1.0
        minutes = {MINUTE_S * minute for minute in range(int(end_s / MINUTE_S) + 1)}
        return sorted({*minutes, *(mark.at_s for mark in self.axis.marks if mark.at_s <= end_s)} - set(self.minutes))

    def work_out(self, at_s: float) -> None:
        """Keep what there is to draw of a moment."""
        width, rows = self.size
        with self.alone:
            view = self.replay.view_at(min(at_s, self.replay.last_s))
            day = self.replay.day
            drawn = picture(day, view, width=width, rows=rows)
            self.minutes[at_s] = minute_of(self.found.stored.state, view), drawn, day.clock_time(at_s)


class DayScrub(Vertical):
    """The opened session: arrows a minute, page keys ten, up and down from entry to entry, a click anywhere on it."""

    can_focus = True
    BINDINGS = [
        Binding("left", "move(-1)", show=False),
        Binding("right", "move(1)", show=False),
        Binding("pageup", f"move(-{TEN})", show=False),
        Binding("pagedown", f"move({TEN})", show=False),
        Binding("home", "end(-1)", show=False),
        Binding("end", "end(1)", show=False),
        Binding("up", "jump(-1)", show=False),
        Binding("down", "jump(1)", show=False),
    ]

    def __init__(self) -> None:
        super().__init__(id="log-day")
        self.opened: OpenedDay | None = None
        self.at_s = 0.0

    def compose(self) -> ComposeResult:
        yield Static(id="day-verdict")
        yield Static(id="day-axis")
        with Horizontal(id="day-columns"):
            yield Static(id="day-bench")
            yield Static(id="day-did")

    # -- opening ----------------------------------------------------------------------------------------------------

    @work(thread=True, exclusive=True, group="day")
    def open_session(self, workshop: Workshop, name: str, clock: Clock) -> None:
        """Read a session beside the screen, and show it."""
        folder = workshop.sessions_folder / name
        try:
            found = review(stored_session(folder))
            replay = Replay(folder, workshop, clock)
            turned = decided(replay, found)
        except LayupError as error:
            self.app.call_from_thread(self.query_one("#day-verdict", Static).update, Text(str(error)))
            return
        at = "" if turned is None else replay.go_to(turned.at_s).clock_time(turned.at_s)
        axis = DayAxis(found.track, found.stored.state, marks_of(found, turned), axis_end_s(found))
        if get_current_worker().is_cancelled:  # it was closed meanwhile, and another may be open
            return
        self.app.call_from_thread(self._show_opened, OpenedDay(replay, found, axis, turned, at))

    def _show_opened(self, opened: OpenedDay) -> None:
        self.opened = opened
        contact_s = opened.axis.track.contact_s if opened.axis.track else None
        self.at_s = opened.turned.at_s if opened.turned else min(contact_s or 0.0, opened.axis.end_s)
        self.show()

    @work(thread=True, exclusive=True, group="day")
    def _work_out(self, opened: OpenedDay) -> None:
        """Work out every moment beside the screen, always the one nearest the cursor first."""
        worker, left, begins = get_current_worker(), opened.moments(), True
        while not worker.is_cancelled:
            wanted_s = self.at_s
            asked = begins or wanted_s not in opened.minutes  # who was asked before may be done, and may not draw it
            begins = False
            if not asked and not left:
                return
            at_s = wanted_s if asked else min(left, key=lambda at: abs(at - wanted_s))
            opened.work_out(at_s)
            left = [at for at in left if at != at_s]
            if asked and not worker.is_cancelled:
                self.app.call_from_thread(self.show)

    def reading(self) -> None:
        """Say that a session is being read."""
        self.query_one("#day-verdict", Static).update("reading the day ...")

    def close_session(self) -> None:
        """Forget the session."""
        self.opened = None
        self.workers.cancel_group(self, "day")
        for part in self.query(Static):
            part.update("")

    # -- keys -------------------------------------------------------------------------------------------------------

    def go_to(self, at_s: float) -> None:
        """Move the cursor to a moment of the session."""
        if self.opened is None:
            return
        last = max([self.opened.axis.end_s, *(mark.at_s for mark in self.opened.axis.marks)])
        self.at_s = min(max(at_s, 0.0), last)
        self.show()

    def action_move(self, minutes: int) -> None:
        """Move by so many whole minutes, on the axis."""
        if self.opened is not None:
            whole = self.at_s / MINUTE_S
            start = int(whole) if minutes > 0 or whole == int(whole) else int(whole) + 1
            self.go_to(min(MINUTE_S * (start + minutes), self.opened.axis.end_s))

    def action_end(self, end: int) -> None:
        if self.opened is not None:
            self.go_to(self.opened.axis.end_s if end > 0 else 0.0)

    def action_jump(self, step: int) -> None:
        """Move to the entry after the cursor, or before it."""
        self.jump(step, frozenset())

    def jump(self, step: int, kinds: frozenset[MarkKind]) -> None:
        """Move to the next mark of some kinds; after the last one to the first again."""
        if self.opened is None:
            return
        marks = self.opened.axis.marks
        found = next_mark(marks, self.at_s, step, kinds) or (next_mark(marks, -1.0, 1, kinds) if kinds else None)
        if found is not None:
            self.go_to(found.at_s)

    def on_click(self, event: events.Click) -> None:
        """Go to the minute that is clicked on the axis."""
        self.focus()
        if self.opened is None or event.widget is not self.query_one("#day-axis"):
            return
        self.go_to(MINUTE_S * self.opened.axis.minute_at(event.x, self.size.width))

    # -- picture ----------------------------------------------------------------------------------------------------

    def on_resize(self) -> None:
        """Draw it for the new size."""
        self.call_after_refresh(self.show)

    def show(self) -> None:
        """Draw the axis with its cursor, and the bench at it."""
        opened, width, rows = self.opened, self.size.width, self.size.height
        if opened is None or width < 1 or rows < 1:
            return
        head = wrap(verdict_line(opened.found), width)[: 2 if rows >= 14 else 1]
        said = FEW if rows < LOW else DID
        batches = len(opened.axis.track.batches) if opened.axis.track else 0
        axis_rows = min(8 + batches + (4 if rows >= TALL else 0), max(rows - len(head) - LEAST_BENCH - said, 4))
        axis_rows = axis_rows if opened.found.stored.state.recalled is None else min(axis_rows, TOLD_ROWS)
        side = width >= BESIDE
        below = rows - len(head) - axis_rows
        bench = (width * 3 // 5 if side else width, below if side else max(below - said, 1))
        if opened.size != bench:
            self.opened = opened = replace(opened, size=bench, minutes={})
        self.set_class(side, "-beside")
        self.query_one("#day-verdict", Static).update(Text("\n".join(head), style="bold"))
        known = opened.minutes.get(self.at_s)
        self._draw_axis(opened, in_minutes(self.at_s) if known is None else known[2], width, axis_rows)
        if known is None:  # it is drawn as soon as it is worked out
            self._work_out(opened)
            return
        minute, drawn, clock = known
        if opened.found.stored.state.recalled is not None:  # nobody stood at this bench: what was told is shown
            lines = [MEMORY, *axis_lines(opened.found, width=bench[0])][: bench[1]]
        else:
            lines = [line.words for line in (*drawn.act, *drawn.main, *drawn.rest)][: bench[1]]
        self.query_one("#day-bench", Static).update(Text("\n".join(lines), no_wrap=True, overflow="ellipsis"))
        did = self._did(opened, minute, clock, width - bench[0] - 2 if side else width, below if side else said)
        self.query_one("#day-did", Static).update(did)

    def _draw_axis(self, opened: OpenedDay, clock: str, width: int, rows: int) -> None:
        """Draw the axis, the column of the cursor reversed."""
        text, cell = Text(no_wrap=True), opened.axis.cell_of(self.at_s, width)
        lines = opened.axis.lines(self.at_s, clock, width=width, rows=rows)
        for number, line in enumerate(lines):
            text.append(line + ("\n" if number + 1 < len(lines) else ""))
            if number + 1 < len(lines):
                at = sum(len(one) + 1 for one in lines[:number]) + cell
                text.stylize("reverse", at, at + 1)
        self.query_one("#day-axis", Static).update(text)

    def _did(self, opened: OpenedDay, minute: Minute, clock: str, width: int, rows: int) -> Text:
        """Return what was done and missed in the minute, and what was decided at it."""
        text = Text()
        lines: list[tuple[str, str]] = []
        turned = opened.turned
        if turned is not None and opened.turned_at == clock:
            lines.append((f"✗ DECIDED: {turned.why}", "bold"))
            lines += [(f"would have helped: {turned.way}", "bold")] if turned.way else []
        for number, finding in enumerate(opened.found.findings, 1):
            if any(abs(mark.at_s - self.at_s) < MINUTE_S / 2 for mark in opened.axis.marks if mark.number == number):
                lines.append((f"{number} {finding.brief or finding.cause}, {finding.certainty}", "bold"))
        if opened.found.stored.state.recalled is not None:
            minute = replace(minute, done=(), missed=())  # of no minute anybody knows what was done in it
        else:
            lines.append((f"did     {'; '.join(minute.done) or 'nothing logged'}", ""))
        if minute.missed:
            lines.append((f"missed  {'; '.join(minute.missed)}", "bold"))
        used = 0
        for words, style in lines:
            for line in wrap(words, max(width, 20), subsequent_indent="  "):
                if used < rows:
                    text.append(line + "\n", style=style)
                    used += 1
        text.rstrip()
        return text
