"""Bench: the next act, what it counts down to, and the day around it, big enough for two metres away."""

from __future__ import annotations

from collections.abc import Iterator

from rich.style import Style
from rich.text import Text
from textual import events
from textual.widget import AwaitMount
from textual.widgets import Static

from layup.app.bench_lines import TALL, BenchLine, act_of_enter, enter_words, picture, step_lines
from layup.app.mix import NO_DAY
from layup.app.place import Place
from layup.app.shell import tapped
from layup.bench.acts import Act
from layup.bench.day import PressDay
from layup.bench.forecast import log_lines
from layup.bench.view import BenchView
from layup.planning.clocks import STAGES

LOG_LINES = 12
TABLE_ROWS = 5
"""Rows from which on the steps are shown below the rest, where it is wide."""


class BenchPlace(Place):
    """The act on top, the worst batch in block digits, all else in one line each; below it the steps."""

    def __init__(self) -> None:
        super().__init__(id="bench")
        self.drawn: dict[str, tuple[BenchLine, ...]] = {}
        self.table_of: tuple[object, ...] = ()
        """What the day's table was drawn for."""

    def fill(self) -> Iterator[AwaitMount]:
        yield self.mount_all(Static(id=f"bench-{name}") for name in ("act", "main", "rest", "steps"))

    def show(self) -> None:
        """Redraw what is another than before."""
        self.tick()

    def on_resize(self) -> None:
        """Redraw everything at the new size."""
        self.drawn, self.table_of = {}, ()
        super().on_resize()

    def tick(self) -> None:
        """Redraw what changed since the last time."""
        day, view = self.layup.day, self.layup.view
        width, rows = self.size.width - 2, self.size.height
        if day is None or view is None or width < 1:
            self._draw("#bench-act", (BenchLine(NO_DAY, key="g"),))
            return
        tabled = self.screen.has_class("-wide") and rows >= TALL
        shown = picture(day, view, width=width, rows=rows, tabled=tabled)
        act = self.query_one("#bench-act", Static)
        act.set_class(shown.due > 0, "due")
        act.set_class(shown.due >= STAGES.index("now"), "now")
        main = self.query_one("#bench-main", Static)
        main.set_class(shown.urgency > 0, "soon")
        main.set_class(shown.urgency > 1, "over")
        self._draw("#bench-act", shown.act)
        self._draw("#bench-main", shown.main)
        self._draw("#bench-rest", shown.rest)
        left = rows - len(shown.act) - len(shown.main) - len(shown.rest) - 2
        table = self.query_one("#bench-steps")
        table.display = tabled and left >= TABLE_ROWS
        if table.display:
            self._show_steps(day, view, left)

    def _draw(self, name: str, lines: tuple[BenchLine, ...]) -> None:
        """Show lines that changed; everything is laid out anew only where there are more or fewer of them."""
        before = self.drawn.get(name)
        if before == lines:
            return
        self.drawn[name] = lines
        text = Text("\n", no_wrap=True).join(_styled(line) for line in lines)
        self.query_one(name, Static).update(text, layout=before is None or len(before) != len(lines))

    def _show_steps(self, day: PressDay, view: BenchView, rows: int) -> None:
        """Show the whole day as a table, anew as a minute has passed or something was logged."""
        of = (day, day.state.seq, int(day.now_s() / 60.0), rows)
        if of != self.table_of:
            self.table_of = of
            steps = step_lines(day, view, width=self.size.width - 3, rows=rows)
            self.query_one("#bench-steps", Static).update(Text("\n".join(steps), no_wrap=True))

    def details(self) -> list[str]:
        """Return the last entries of the journal, newest first."""
        day = self.layup.day
        return [] if day is None else list(log_lines(day, LOG_LINES))

    def accept(self) -> None:
        self.layup.do_act()

    def act_of_enter(self) -> Act | None:
        """Return the act on top or, where that only takes time, the other one's."""
        view = self.layup.view
        return None if view is None else act_of_enter(view)

    def able(self) -> frozenset[str]:
        """Do the act on top, where that is one to be logged."""
        return frozenset() if self.act_of_enter() is None else frozenset({"accept"})

    def act_words(self) -> str:
        return enter_words(self.act_of_enter())

    def on_click(self, event: events.Click) -> None:
        """Do the act that is tapped, or ask how the batch looks that is."""
        from layup.app.actions import looks_of

        meta = event.style.meta
        if key := meta.get("key"):
            self.app.simulate_key(key)
        elif (number := meta.get("batch")) is not None and self.layup.day is not None:
            looks_of(self.layup, self.layup.day, number)


def _styled(line: BenchLine) -> Text:
    """Return a line whose words can be tapped: a batch, or the key that they stand for."""
    text = Text(no_wrap=True)
    for words, batch in ((line.words, line.batch), (line.beside, line.other)):
        style = tapped(line.key) if line.key else Style(meta={"batch": batch}) if batch is not None else Style()
        text.append(words, style=style)
    return text
