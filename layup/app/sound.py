"""What is heard of an alarm: the terminal's bell in a pattern, and a command of the user's own, such as a voice."""

from __future__ import annotations

import shlex
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from layup.errors import InputError
from layup.session.clock import Clock
from layup.session.text import clean

if TYPE_CHECKING:
    from layup.bench.acts import Act
    from layup.bench.alarms import AlarmBoard

STROKE_S, PAUSE_S = 0.25, 0.5
"""Between two strokes of the bell, and after each three: fewer would run together on a terminal that beeps."""
IN_A_ROW = 3
COMMAND_LIMIT_S = 30.0
"""A command that takes longer is ended: the next alarm must be heard."""


def strokes_at_s(strokes: int) -> tuple[float, ...]:
    """Return when to strike the bell, from now: one, or groups of three.

    >>> strokes_at_s(1), strokes_at_s(3), strokes_at_s(5)[3:]
    ((0.0,), (0.0, 0.25, 0.5), (1.25, 1.5))
    """
    return tuple(STROKE_S * each + PAUSE_S * (each // IN_A_ROW) for each in range(strokes))


def command_of(said: str) -> tuple[str, ...]:
    """Return the words of the command that `--aloud` names; InputError where it cannot be found."""
    try:
        words = shlex.split(said)
    except ValueError as error:
        words, said = [], f"{said}: {error}"
    if words and shutil.which(words[0]):
        return tuple(words)
    raise InputError(
        "--aloud",
        "is no command that can be found",
        value=clean(said),
        allowed="a program with its options; the words of the alarm come last",
        todo="try it in a terminal first",
    )


@dataclass(slots=True)
class Sound:
    """Rings and speaks for the alarms of a day. Off, it does neither."""

    clock: Clock
    command: tuple[str, ...] = ()
    on: bool = True
    trouble: str = ""
    """What was wrong with the command at the last alarm."""
    _running: subprocess.Popen[bytes] | None = None
    _since_s: float = 0.0
    _next: str = field(default="")

    def hear(self, board: AlarmBoard, strike: Callable[[float], None]) -> None:
        """Ring as a board says, through `strike` with how long from now; speak what is new on it."""
        if self.on:
            for after_s in strokes_at_s(board.strokes):
                strike(after_s)
            if self.command and board.strokes:
                loudest = next(iter(board.news), board.loudest)
                self._next = words_of(loudest) if loudest is not None else ""
        self._speak()

    def end(self) -> None:
        """End the command that still runs."""
        if self._running is not None and self._running.poll() is None:
            self._running.kill()
            self._running.wait()

    def _speak(self) -> None:
        """Run the command for the newest alarm, one at a time, and end one that takes too long."""
        now_s = self.clock.monotonic_s()
        if self._running is not None and self._running.poll() is None:
            if now_s - self._since_s < COMMAND_LIMIT_S:
                return
            self.end()
        if not self._next:
            return
        words, self._next, self._since_s = [*self.command, self._next], "", now_s
        quiet = subprocess.DEVNULL
        try:
            self._running = subprocess.Popen(words, stdin=quiet, stdout=quiet, stderr=quiet, start_new_session=True)
            self.trouble = ""
        except OSError as error:
            self.trouble = f"{self.command[0]} cannot be run ({error.strerror or error})"


def words_of(act: Act) -> str:
    """Return an alarm as it is spoken; it never looks like an option of the command."""
    return clean(act.aloud).replace("\n", " ").lstrip("- ")
