"""Pages that look back: what all sessions teach, two days of Logbook on one axis, a failed layup told from memory."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from rich.text import Text
from textual import events, work
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.widgets import Input, Static

from layup.app.form_fields import FieldEntry
from layup.app.place import LOOKS_ON
from layup.app.prompts import Dialog, Page
from layup.bench.planner import hanging
from layup.errors import LayupError
from layup.report.advice import NOTHING, ShortLesson, detail_lines, in_short, short_lines
from layup.report.day_axis import two_days_lines
from layup.report.hindsight import looked_back
from layup.report.report_blocks import told_lines
from layup.review.compare import ALIGNS, Align, Comparison, aligned, compare
from layup.review.lessons import Lessons, judge, workshop_lessons
from layup.review.review import Review, review, verdict_line
from layup.session.archive import Sessions, stored_session
from layup.session.told import KEYS, Interview

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


PAGE_TEXT = 92
"""Columns of a page of text at most, without its frame."""
WAYS = "Enter (empty: not known) · ↑ back · Esc later"


class RecallForm(Dialog[str | None]):
    """The questions one after the other; each answer is kept before the next one is asked."""

    BINDINGS = [("up", "back", "back"), ("escape", "dismiss(None)", "later")]

    def __init__(self, talk: Interview) -> None:
        super().__init__()
        self.talk = talk

    def compose(self) -> ComposeResult:
        with Vertical(classes="prompt"):
            yield Static(id="recall-title", classes="prompt-title")
            with VerticalScroll(classes="prompt-text", can_focus=False):
                yield Static(id="recall-choices")
            yield FieldEntry(max_length=2000)
            yield Static(id="hint")
            yield Static(WAYS, classes="dim")

    def on_mount(self) -> None:
        """Ask the first question that is left."""
        self.ask_on()
        self.query_one(Input).focus()

    def on_resize(self) -> None:
        """Leave the choices what the question, its answer and the frame do not take."""
        self.query_one(".prompt-text").styles.max_height = max(int(0.96 * self.app.size.height) - 9, 1)

    def ask_on(self) -> None:
        """Show the question that stands."""
        question = self.talk.question
        if question is None:
            self.dismiss("told")
            return
        self.query_one("#recall-title", Static).update(Text(f"{self.talk.at + 1}/{len(KEYS)} {question.title}"))
        self.query_one("#recall-choices", Static).update(Text("\n".join(self.talk.choices())))
        self.query_one("#hint", Static).update(Text(question.hint))
        entry = self.query_one(Input)
        entry.value = self.talk.answers.get(question.key, "")
        entry.cursor_position = len(entry.value)

    def action_back(self) -> None:
        """Go back to the answer before."""
        self.talk.back()
        self.ask_on()

    def took(self, event: events.Key) -> bool:
        """Leave all other keys to the line and the bindings."""
        del event
        return False

    def entered(self, text: str) -> None:
        """Take the answer, or say what is wrong with it."""
        try:
            self.talk.answer(text)
        except LayupError as error:
            self.query_one("#hint", Static).update(Text(f"! {error.words}"))
        else:
            self.ask_on()


def recall(app: Host) -> None:
    """Ask about a layup that failed before, and show its cause."""
    if app.watch_only:
        app.say(LOOKS_ON)
        return
    path = app.planner.plan_path
    try:
        talk = Interview(app.planner.workshop, app.clock.utc(), path.parent.name if path else None)
    except LayupError as error:
        app.say(str(error))
        return

    def told(_answer: str) -> None:
        app.say("looking back ...")
        app.run_worker(lambda: _look_back(app, talk), thread=True, exclusive=True, group="recall")

    app.ask(RecallForm(talk), told)


def _look_back(app: Host, talk: Interview) -> None:
    """Keep what was told, and look back on it beside the screen."""
    try:
        found, plan = looked_back(app.planner.workshop, talk.story())
    except LayupError as error:
        app.call_from_thread(app.say, f"{error} - your answers are kept")
        return
    talk.forget()
    width = min(PAGE_TEXT, int(0.96 * app.size.width) - 8)
    lines = told_lines(found, plan, width=max(width, 30))

    def show() -> None:
        app.say("")
        app.action_go("logbook")
        app.learn_again()
        app.push_screen(Page("Told from memory", Text("\n".join(lines))))

    app.call_from_thread(show)
