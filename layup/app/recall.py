"""A failed layup told from memory, in the app: one question a screen, then its cause and what the next plan does."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.widgets import Input, Static

from layup.app.form_fields import FieldEntry
from layup.app.place import LOOKS_ON
from layup.app.prompts import Dialog, Page
from layup.bench.next_plan import looked_back
from layup.errors import LayupError
from layup.report.report_blocks import told_lines
from layup.session.interview import KEYS, Interview

if TYPE_CHECKING:
    from layup.app.place import Host

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
