"""The console that commands print on: words stay words, long lines hang below their own text, pictures keep shape."""

from __future__ import annotations

import re
import sys
from shutil import get_terminal_size
from typing import Any, NoReturn

from rich.console import Console
from rich.text import Text

from layup.errors import printable

INDENT = re.compile(r" *(?:[-!] )?")
"""What a line that goes on is indented by: its own blanks and the mark of a list or of a warning."""


class Paper(Console):
    """A console that text from a file can neither style nor steer, and that never prints wider than it is."""

    def __init__(self) -> None:
        super().__init__(file=sys.stdout, width=get_terminal_size().columns)

    def print(self, *objects: Any, **options: Any) -> None:  # Any: as rich has it
        """Print lines of text; what is no text is printed as rich does."""
        wrap = not options.get("soft_wrap", False)
        super().print(*(self._line(each, wrap=wrap) if isinstance(each, str) else each for each in objects), **options)

    def on_broken_pipe(self) -> NoReturn:
        """Let the command line end quietly; rich would end with the exit code for "does not fit"."""
        raise BrokenPipeError

    def _line(self, text: str, *, wrap: bool) -> Text:
        line = Text(printable(text))
        indent = INDENT.match(text)
        depth = indent.end() if indent else 0
        if not wrap or line.cell_len <= self.width or depth >= self.width // 2:
            return line
        pieces = line[depth:].wrap(self, self.width - depth)
        for piece in pieces:
            piece.rstrip()
        return line[:depth] + Text("\n" + " " * depth).join(pieces)
