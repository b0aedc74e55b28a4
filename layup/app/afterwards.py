"""What is added to a session afterwards, in the app: one form for outcome, note, photo, weights and thickness."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from rich.text import Text
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.widgets import Input, Static

from layup.app.prompts import Dialog
from layup.bench.afterwards import FIELDS, add_afterwards
from layup.errors import LayupError
from layup.session.journal import Journal

if TYPE_CHECKING:
    from textual import events

    from layup.app.place import Host

WAYS = "Enter next, at the last keep · ↑↓ · Esc back"


class AfterwardsForm(Dialog[str | None]):
    """One line for each thing that can be told; what is left empty is not told."""

    BINDINGS = [
        ("escape", "dismiss(None)", "back"),
        ("up", "app.focus_previous", "line before"),
        ("down", "app.focus_next", "next line"),
    ]

    def __init__(self, app: Host, folder: Path) -> None:
        super().__init__()
        self.host, self.folder = app, folder

    def compose(self) -> ComposeResult:
        with Vertical(classes="prompt"):
            yield Static(Text(f"How it turned out: {self.folder.name}"), classes="prompt-title")
            with VerticalScroll(classes="prompt-text", can_focus=False):
                for field in FIELDS:
                    yield Static(Text(field.title), classes="dim")
                    yield Input(id=f"after-{field.key}", max_length=2000)
            yield Static(id="hint")
            yield Static(WAYS, classes="dim")

    def on_mount(self) -> None:
        """Begin on the first line."""
        self.on_resize()
        self.query(Input).first().focus()

    def on_resize(self) -> None:
        """Leave the lines what the frame and the words below them do not take."""
        self.query_one(".prompt-text").styles.max_height = max(int(0.96 * self.app.size.height) - 8, 2)

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:
        """Say what may stand on the line."""
        hint = next((field.hint for field in FIELDS if f"after-{field.key}" == event.widget.id), "")
        self.query_one("#hint", Static).update(Text(hint))

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Go to the next line; keep all of them at the last."""
        event.stop()
        if event.input.id != f"after-{FIELDS[-1].key}":
            self.focus_next()
            return
        said = {field.key: self.query_one(f"#after-{field.key}", Input).value for field in FIELDS}
        day = self.host.day
        own = day is not None and day.folder == self.folder and isinstance(day.source, Journal)
        journal = day.source if day is not None and own and isinstance(day.source, Journal) else None
        try:
            words = add_afterwards(self.folder, said, self.host.clock, journal)
        except LayupError as error:
            self.query_one("#hint", Static).update(Text(f"! {error}"))
        else:
            self.dismiss("   ".join(words))


def ask_afterwards(app: Host, folder: Path) -> None:
    """Ask how a part turned out, and log it."""
    if app.watch_only:
        app.say("not now: this program only looks on")
        return

    def kept(words: str) -> None:
        app.action_go("logbook")
        app.say(words)

    app.ask(AfterwardsForm(app, folder), kept)
