"""What stands around every place: the line on top and the bar of keys at the bottom."""

from __future__ import annotations

from collections.abc import Sequence

from rich.segment import Segment
from rich.text import Text
from textual.color import Color
from textual.filter import LineFilter
from textual.widgets import Static

from layup.app.keys import PLACES, actions_of, shown_key
from layup.session.text import plain


class DrawnPlain(LineFilter):
    """What every line goes through before it is drawn: no text on it commands the terminal or turns it round.

    The marks that it takes out have no width, so that nothing on the line moves.
    """

    def apply(self, segments: Sequence[Segment], background: Color) -> list[Segment]:  # noqa: ARG002 - as textual calls it
        """Return the pieces of a line with plain text."""
        return [Segment(plain(text), style, control) for text, style, control in segments]


class TopLine(Static):
    """The one line that is always there: how long until the press must be closed."""

    def say(self, words: str, urgent: bool) -> None:
        """Show `words`; an urgent line is drawn reversed."""
        self.set_class(not urgent, "plain")
        self.update(Text(words), layout=False)


class KeyBar(Static):
    """The keys that do something here, and the places."""

    def __init__(self, *, id: str) -> None:
        super().__init__(id=id)
        self.shown = ("", False, False)

    def show_place(self, place: str, *, plan: bool, day: bool) -> None:
        """List the places and the keys of `place`, with or without a plan and a press day, if they are others."""
        if self.shown != (place, plan, day):
            self.shown = place, plan, day
            self._draw()

    def _draw(self) -> None:
        place, plan, day = self.shown
        text = Text(no_wrap=True, overflow="ellipsis")
        for key, (name, title, _) in PLACES.items():
            text.append(f" {key} ", style="bold reverse" if name == place else "bold")
            text.append(f" {title}  ", style="bold underline" if name == place else "")
        used, width = 0, max(self.app.size.width - 2, 20)
        text.append("\n")
        for action in actions_of(place, plan=plan, day=day):
            key, label = shown_key(action), action.label
            size = len(key) + len(label) + 3
            if used and used + size - 2 > width:
                text.append("\n")
                used = 0
            text.append(key, style="bold")
            text.append(f" {label}  ")
            used += size
        self.update(text)

    def on_resize(self) -> None:
        """List them anew at the new width."""
        self._draw()
