"""The lessons page: what all sessions teach in eight lines, and a key away every number with its spread."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text
from textual import work
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.widgets import Static

from layup.app.prompts import Dialog
from layup.errors import LayupError
from layup.report.hindsight import NOTHING, detail_lines, short_lines
from layup.review.judged import ShortLesson, in_short, judge
from layup.review.lessons import Lessons, workshop_lessons
from layup.session.archive import Sessions

if TYPE_CHECKING:
    from layup.app.place import Host

EVERY = 5
"""How many sessions are judged between two words of how far it is."""


class LessonsPage(Dialog[None]):
    """What the sessions teach; `d` shows the spread, and hides it."""

    BINDINGS = [("escape,enter,q,v", "dismiss(None)", "close"), ("d", "detail", "detail")]

    def __init__(self, app: Host) -> None:
        super().__init__()
        self.layup = app
        self.lessons: Lessons | None = None
        self.short: tuple[ShortLesson, ...] = ()
        self.detail = False

    def compose(self) -> ComposeResult:
        with Vertical(classes="page"):
            yield Static("LESSONS", id="lessons-title", classes="heading")
            with VerticalScroll(can_focus=True):
                yield Static("reading the sessions ...", id="lessons-body")
            yield Static("D spread   ↑↓   Esc", classes="dim")

    def on_mount(self) -> None:
        """Work them out beside the screen."""
        self._read()

    def on_resize(self) -> None:
        """Break the lines anew."""
        self._draw()

    def action_detail(self) -> None:
        """Show the spread of every number, or hide it."""
        self.detail = not self.detail
        self._draw()

    @work(thread=True, exclusive=True, group="lessons")
    def _read(self) -> None:
        workshop, keep = self.layup.planner.workshop, not self.layup.watch_only
        try:
            lessons = workshop_lessons(workshop, progress=self._progress)
            sessions = Sessions(workshop, keep=keep).all()
            names = [one.name for one in sessions if one.over or one.closed_s is not None]
            judged = judge(workshop, names, keep=keep, progress=lambda a, b: self._progress("judging sessions", a, b))
            short = in_short(lessons, judged.values(), workshop.resins(), sessions)
        except LayupError as error:
            self.app.call_from_thread(self._say, str(error))
            return
        self.app.call_from_thread(self._show_read, lessons, short)

    def _progress(self, what: str, done: int, of: int) -> None:
        if done % EVERY == 0 and self.is_attached:
            self.app.call_from_thread(self._say, f"{what} ... {done} of {of}")

    def _say(self, words: str) -> None:
        if self.is_attached:
            self.query_one("#lessons-body", Static).update(Text(words))

    def _show_read(self, lessons: Lessons, short: tuple[ShortLesson, ...]) -> None:
        self.lessons, self.short = lessons, short
        if self.is_attached:
            title = f"LESSONS   {lessons.sessions} session{'' if lessons.sessions == 1 else 's'}"
            self.query_one("#lessons-title", Static).update(title)
        self._draw()

    def _draw(self) -> None:
        if self.lessons is None or not self.is_attached:
            return
        width = max(self.query_one(VerticalScroll).size.width - 3, 30)
        lines = [*short_lines(self.short, width=width)] if self.short else [NOTHING]
        lines += ["", *detail_lines(self.lessons)] if self.detail else []
        self._say("\n".join(lines))
