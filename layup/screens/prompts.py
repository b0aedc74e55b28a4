"""Small questions over the screen: a number, one of a few choices, a line of text. Esc leaves without an answer."""

from __future__ import annotations

from collections.abc import Callable

from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Static

FRAME_ROWS = 3
"""Rows that the frame of a question and the line below its answers take."""
Check = Callable[[str], str | None]
"""Return what is wrong with the typed text, or None where it can be taken."""


class Ask(ModalScreen[str | None]):
    """Ask for a number with its unit or a line of text; `check` says what is wrong before it is taken."""

    BINDINGS = [("escape", "dismiss(None)", "leave")]

    def __init__(self, title: str, hint: str, *, check: Check, value: str = "", max_length: int = 2000) -> None:
        super().__init__()
        self.title_text = title
        self.hint = hint
        self.check = check
        self.first_value = value
        self.max_length = max_length

    def compose(self) -> ComposeResult:
        with Vertical(classes="prompt"):
            yield Static(Text(self.title_text), classes="prompt-title")
            yield Input(value=self.first_value, max_length=self.max_length)
            yield Static(Text(self.hint), id="hint")
            yield Static("Enter keeps it    Esc leaves without", classes="dim")

    def on_input_submitted(self, event: Input.Submitted) -> None:
        wrong = self.check(event.value)
        if wrong:
            self.query_one("#hint", Static).update(Text(f"! {wrong}"))
            return
        self.dismiss(event.value)


class Choose(ModalScreen[str | None]):
    """Ask for one of a few choices, each taken with one key, with the arrow keys or with a tap."""

    def __init__(self, title: str, choices: list[tuple[str, str, str]], *, at: int = 0) -> None:
        """`choices` are (key, answer, words); Enter alone takes the one at `at`."""
        super().__init__()
        self.title_text = title
        self.choices = choices
        self.at = at

    def compose(self) -> ComposeResult:
        with Vertical(classes="prompt"):
            with VerticalScroll(classes="prompt-text", can_focus=False):
                yield Static(Text(self.title_text), classes="prompt-title")
            yield Static(self._list(), id="choices")
            yield Static("its key, or ↑↓ and Enter    Esc leaves without", classes="dim")

    def on_mount(self) -> None:
        """Make room for the answers, however long the question is."""
        self.on_resize()

    def on_resize(self) -> None:
        """Leave the question what the answers and the frame do not take."""
        room = int(0.96 * self.app.size.height) - len(self.choices) - FRAME_ROWS
        self.query_one(".prompt-text").styles.max_height = max(room, 1)

    def _list(self) -> Text:
        text = Text()
        for index, (key, _, words) in enumerate(self.choices):
            mark = "▸" if index == self.at else " "
            text.append(f"{mark} {key}  {words}\n", style="reverse" if index == self.at else "")
        text.right_crop(1)
        return text

    def on_key(self, event: events.Key) -> None:
        if event.key in ("up", "down"):
            self.at = (self.at + (1 if event.key == "down" else -1)) % len(self.choices)
            self.query_one("#choices", Static).update(self._list())
        elif event.key == "enter":
            self.dismiss(self.choices[self.at][1])
        elif event.key == "escape":
            self.dismiss(None)
        elif event.key in ("pageup", "pagedown"):
            scroll = self.query_one(VerticalScroll)
            scroll.scroll_relative(y=scroll.size.height * (1 if event.key == "pagedown" else -1), animate=False)
        else:
            taken = [answer for key, answer, _ in self.choices if event.character == key]
            if taken:
                self.dismiss(taken[0])
            else:
                self.app.bell()  # the key does nothing while a question stands
        event.stop()


def sure(title: str, yes: str, no: str = "no") -> Choose:
    """Return a question that y answers with "yes"; Enter alone means no."""
    return Choose(title, [("y", "yes", yes), ("n", "no", no)], at=1)


def if_yes(then: Callable[[], None]) -> Callable[[str], None]:
    """Return what to do with an answer: `then` for a yes."""
    return lambda answer: then() if answer == "yes" else None


class Page(ModalScreen[None]):
    """A page of text over the screen, closed by any of Esc, Enter, q or ?."""

    BINDINGS = [("escape,enter,q,question_mark", "dismiss(None)", "close")]

    def __init__(self, title: str, body: Text) -> None:
        super().__init__()
        self.title_text = title
        self.body = body

    def compose(self) -> ComposeResult:
        with Vertical(classes="page"):
            yield Static(Text(self.title_text), classes="prompt-title")
            with VerticalScroll(can_focus=True):
                yield Static(self.body)
            yield Static("↑↓ scroll    Esc closes", classes="dim")
