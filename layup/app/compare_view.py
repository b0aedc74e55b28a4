"""Two days of Logbook on one axis: what differed first, each step, and what was to spare as it was done."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from rich.text import Text
from textual import work
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.widgets import Static

from layup.app.prompts import Dialog
from layup.bench.planner import hanging
from layup.errors import LayupError
from layup.report.day_axis import two_days_lines
from layup.review.compare import ALIGNS, Align, Comparison, aligned, compare
from layup.review.review import Review, review
from layup.review.verdict import verdict_line
from layup.session.archive import stored_session

if TYPE_CHECKING:
    from layup.app.place import Host


class ComparePage(Dialog[None]):
    """Two days over each other; `a` lays them over each other at the other moment."""

    BINDINGS = [("escape,enter,q,c", "dismiss(None)", "close"), ("a", "align", "align")]

    def __init__(self, app: Host, left: str, right: str) -> None:
        super().__init__()
        self.layup = app
        self.names = (left, right)
        self.by: Align = "contact"
        self.days: tuple[Review, Review] | None = None
        self.found: Comparison | None = None

    def compose(self) -> ComposeResult:
        with Vertical(classes="page"):
            yield Static(Text(f"A {self.names[0]}\nB {self.names[1]}"), classes="prompt-title")
            with VerticalScroll(can_focus=True):
                yield Static("reading both days ...", id="compare-body")
            yield Static("A contact or closing   ↑↓   Esc", classes="dim")

    def on_mount(self) -> None:
        """Look back on both beside the screen."""
        self._read()

    def on_resize(self) -> None:
        """Draw both at the new width."""
        self._draw()

    def action_align(self) -> None:
        """Lay them over each other at the other moment."""
        self.by = next(each for each in ALIGNS if each != self.by)
        self._draw()

    @work(thread=True, exclusive=True, group="compare")
    def _read(self) -> None:
        folder = self.layup.planner.workshop.sessions_folder
        try:
            left, right = (review(stored_session(folder / name)) for name in self.names)
            found = compare(left, right)
        except LayupError as error:
            self.app.call_from_thread(self._say, str(error))
            return
        self.app.call_from_thread(self._show_read, (left, right), found)

    def _show_read(self, days: tuple[Review, Review], found: Comparison) -> None:
        self.days, self.found = days, found
        self._draw()

    def _draw(self) -> None:
        if self.is_attached and self.days is not None and self.found is not None:
            width = max(self.query_one(VerticalScroll).size.width - 3, 30)
            self._say("\n".join(_lines(self.days, self.found, self.by, width)))

    def _say(self, words: str) -> None:
        if self.is_attached:
            self.query_one("#compare-body", Static).update(Text(words))


def _lines(days: tuple[Review, Review], found: Comparison, by: Align, width: int) -> Iterator[str]:
    """Yield what differed first, what cannot be compared, both days on one axis, then all else that differs."""
    for side, day in zip("AB", days, strict=True):
        yield from hanging(f"{side} ", verdict_line(day), width)
    first = found.first
    differs = f"{first.topic}: {first.left} / {first.right}" if first else "nothing: they are the same"
    yield from hanging("First to differ: ", differs, width)
    for words in found.not_compared:
        yield from hanging("Not compared: ", words, width)
    yield ""
    if not found.not_compared:
        try:
            yield from two_days_lines(aligned(*days, by), width=width)
        except LayupError as error:
            yield from hanging("", str(error), width)
        yield ""
    for row in found.differing:
        yield from hanging("  ", f"{row.topic}: {row.left} / {row.right}", width)
