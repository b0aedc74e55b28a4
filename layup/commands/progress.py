"""Show how far a long piece of work is: on the terminal's error stream, only where somebody watches."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

EVERY = 25
"""Steps between two lines, so that showing costs nothing."""


@contextmanager
def counted(what: str) -> Iterator[Callable[[str, int, int], None]]:
    """Yield a function to be told what is being done, how far it is and of how many; the line goes when it is over."""
    watched = sys.stderr.isatty()
    shown = 0

    def told(doing: str, done: int, of: int) -> None:
        nonlocal shown
        if watched and (done % EVERY == 0 or done == of):
            line = f"{doing or what}: {done} of {of}"
            sys.stderr.write(f"\r{line:<{shown}}")
            sys.stderr.flush()
            shown = len(line)

    try:
        yield told
    finally:
        if shown:
            sys.stderr.write(f"\r{'':<{shown}}\r")
            sys.stderr.flush()
