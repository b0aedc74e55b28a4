"""The app in a real terminal: keys, what is on the screen, and how it ended."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import sys
import termios
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType

import pytest

PATIENCE_S = 60.0
"""How long something may take on a busy machine before it counts as never."""
SIZE = 100, 30
UNDISTURBED = 10_000
AGAIN_S = 5.0
"""After how long a key that had no answer is pressed again."""
_ESCAPES = re.compile(rb"\x1b(?:\[[0-9;?<>=$]*[ -/]*[@-~]|\][^\x07\x1b]*(?:\x07|\x1b\\)|[()][A-Z0-9]|[=>78cDEM])")


_RUNNING: list[Terminal] = []


@pytest.fixture
def no_app_left() -> Iterator[None]:
    """Kill what a test that failed left running."""
    yield
    while _RUNNING:
        _RUNNING[0].ended(signal.SIGKILL)


class KilledError(Exception):
    """The moment to kill the app has come."""


class Terminal:
    """The app under a pseudo-terminal. After `reads` pieces of its output the moment to kill it has come."""

    def __init__(
        self, root: Path, reads: int, *, size: tuple[int, int] = SIZE, env: Mapping[str, str] = MappingProxyType({})
    ) -> None:
        self.reads = reads
        columns, rows = size
        self.seen = b""
        self.process, self._fd = pty.fork()
        if self.process == 0:
            os.environ |= {"TERM": "xterm-256color", "COLUMNS": str(columns), "LINES": str(rows)} | env
            os.execv(sys.executable, [sys.executable, "-m", "layup", "--workshop", str(root)])
        _RUNNING.append(self)
        fcntl.ioctl(self._fd, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    @property
    def text(self) -> str:
        """What was written to the screen since the last key, without what moves the cursor and colours it."""
        return _ESCAPES.sub(b"", self.seen).decode("utf-8", "replace")

    def press(self, keys: str) -> None:
        """Press keys; what is read from now on is the answer to them."""
        self.seen = b""
        os.write(self._fd, keys.encode())

    def wait_for(self, words: str) -> None:
        """Read until some words are on the screen, or until the moment to kill the app.

        The clocks on the screen go on for ever: that something is shown does not mean that the words will come.
        """
        give_up_s = time.monotonic() + PATIENCE_S
        while words not in self.text:
            assert time.monotonic() < give_up_s, f"no {words!r} in {PATIENCE_S:.0f} s: {self.text[-500:]!r}"
            if self.reads <= 0:
                raise KilledError
            self.reads -= 1
            ready, _, _ = select.select([self._fd], [], [], PATIENCE_S)
            assert ready, f"nothing more is shown, and no {words!r}: {self.text[-500:]!r}"
            assert self._read(), f"the app ended, and no {words!r}: {self.text[-500:]!r}"

    def _read(self) -> bytes:
        """Return some output; empty once the app has ended."""
        try:
            piece = os.read(self._fd, 4096)
        except OSError:
            piece = b""
        self.seen += piece
        return piece

    def hang_up(self) -> int:
        """Close the terminal, as one closes its window; return how the app ended."""
        _RUNNING.remove(self)
        os.close(self._fd)
        return os.waitstatus_to_exitcode(os.waitpid(self.process, 0)[1])

    def ended(self, signal_: int | None = None) -> int:
        """Return how the app ended, after sending it a signal if one is given; all that it wrote is read first."""
        if signal_ is not None:
            os.kill(self.process, signal_)
        while self._read():
            pass
        return self.hang_up()

    def left(self) -> int:
        """Press the keys that leave a press day, however slow the machine is, until the app ends; return how."""
        give_up_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < give_up_s:
            self.press("q")
            self.press("y")  # lost where the question does not stand yet: then it stands for the next
            again_s = time.monotonic() + AGAIN_S
            while (left_s := again_s - time.monotonic()) > 0.0:
                if select.select([self._fd], [], [], left_s)[0] and not self._read():
                    return self.hang_up()
        raise AssertionError(f"the app does not end in {PATIENCE_S:.0f} s: {self.text[-500:]!r}")
