"""Digits made of full blocks, to be read from two metres: five rows high, ten where there is room."""

from __future__ import annotations

from rich.text import Text
from textual.widgets import Static

GLYPHS = {
    "0": ("###", "# #", "# #", "# #", "###"),
    "1": (" # ", "## ", " # ", " # ", "###"),
    "2": ("###", "  #", "###", "#  ", "###"),
    "3": ("###", "  #", " ##", "  #", "###"),
    "4": ("# #", "# #", "###", "  #", "  #"),
    "5": ("###", "#  ", "###", "  #", "###"),
    "6": ("###", "#  ", "###", "# #", "###"),
    "7": ("###", "  #", "  #", " # ", " # "),
    "8": ("###", "# #", "###", "# #", "###"),
    "9": ("###", "# #", "###", "  #", "###"),
    ":": (" ", "#", " ", "#", " "),
    ".": (" ", " ", " ", " ", "#"),
    "+": ("   ", " # ", "###", " # ", "   "),
    "-": ("   ", "   ", "###", "   ", "   "),
    " ": (" ", " ", " ", " ", " "),
    "A": ("###", "# #", "###", "# #", "# #"),
    "G": ("###", "#  ", "# #", "# #", "###"),
    "I": ("#", "#", "#", "#", "#"),
    "N": ("#  #", "## #", "# ##", "#  #", "#  #"),
    "O": ("###", "# #", "# #", "# #", "###"),
    "T": ("###", " # ", " # ", " # ", " # "),
    "W": ("#   #", "#   #", "# # #", "## ##", "#   #"),
}
"""Each character as five rows of pixels."""
ROWS = 5


def big_lines(value: str, *, wide: int = 1, tall: int = 1) -> list[str]:
    """Return `value` as lines of blocks, each pixel `wide` columns and `tall` rows."""
    rows = [" ".join(GLYPHS[character][row] for character in value) for row in range(ROWS)]
    lines = ["".join(("█" if pixel == "#" else " ") * wide for pixel in row).rstrip() for row in rows]
    return [line for line in lines for _ in range(tall)]


class BigDigits(Static):
    """A number to be read from afar; `value` is what it shows."""

    def __init__(self, value: str = "", *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.value = value

    def on_mount(self) -> None:
        """Draw the first value."""
        self._draw()

    def on_resize(self) -> None:
        """Draw it anew: there may be room for wider digits."""
        self._draw()

    def say(self, value: str) -> None:
        """Show another value, if it is another."""
        if value != self.value:
            self.value = value
            self._draw()

    def _draw(self) -> None:
        width = max(map(len, big_lines(self.value)), default=0) or 1
        tall = max(self.size.height // ROWS, 1)
        wide = max(min(self.size.width // width, 2 * tall), 1)
        lines = big_lines(self.value, wide=wide, tall=tall if wide >= tall else 1)
        self.update(Text("\n".join(lines), no_wrap=True), layout=False)
