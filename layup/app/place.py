"""What all places have in common."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from textual.containers import Vertical, VerticalScroll

if TYPE_CHECKING:
    from layup.app.app import LayupApp


class Place(Vertical):
    """One of the five places of the app. `show` redraws it from what the app holds."""

    DEFAULT_CLASSES = "place"
    can_focus = True

    @property
    def layup(self) -> LayupApp:
        """The app, with its desk and its press day."""
        return cast("LayupApp", self.app)

    def enter(self) -> None:
        """Take the keyboard as the place comes to the screen."""
        self.focus()

    def show(self) -> None:
        """Redraw the place."""

    def on_resize(self) -> None:
        """Redraw at the new size."""
        if self.layup.ready:
            self.show()

    def tick(self) -> None:
        """Redraw what changes with time alone."""

    def page(self, down: int) -> None:
        """Scroll by a screen, where the place can be longer than that."""
        for scroll in self.query(VerticalScroll):
            scroll.scroll_relative(y=down * max(scroll.size.height - 2, 1), animate=False)

    def arrow(self, right: int, down: int) -> None:
        """Take an arrow key."""
