"""Look on while another process writes: a session's state, kept current from its journal."""

from __future__ import annotations

import os
from pathlib import Path

from layup.errors import Problem
from layup.materials.names import JOURNAL
from layup.records.clock import Clock, advance
from layup.records.folder import not_readable
from layup.records.lines import LineReader, collector_paused
from layup.records.state import SessionState, extend

_REMEMBERED = 64
"""So many bytes of a journal's end hold the number and the time of its last line."""


class Follower:
    """A session, open for looking on. `poll` reads what is new; a line half written waits for its end."""

    def __init__(self, folder: Path, clock: Clock) -> None:
        self.path = folder / JOURNAL
        self._clock = clock
        self._forget()

    def _forget(self) -> None:
        self.state = SessionState()
        self._reader = LineReader(str(self.path))
        self._read = 0
        """How many bytes of complete lines were read."""
        self._last = b""
        """The last of them: where others stand in their place, the journal was written anew."""
        self._inode = 0

    @property
    def problems(self) -> list[Problem]:
        """What is wrong with the journal so far."""
        return self._reader.problems

    def poll(self) -> bool:
        """Read what was written since the last time; return whether the state changed.

        A journal that was replaced is read anew, and so is one where the order of what was read turns out to be
        another. Raises StorageError if it cannot be read.
        """
        changed = self._read_on()
        if self._reader.anew:
            before = self.state
            self._forget()
            self._read_on()
            changed = self.state != before
        return changed

    def _read_on(self) -> bool:
        """Read what was written since the last time; return whether any of it counts."""
        try:
            with self.path.open("rb") as file:
                stat = os.fstat(file.fileno())
                file.seek(self._read - len(self._last))
                if self._inode not in (0, stat.st_ino) or file.read(len(self._last)) != self._last:
                    self._forget()
                self._inode = stat.st_ino
                file.seek(self._read)
                data = file.read()
        except OSError as error:
            raise not_readable(self.path, error) from error
        self._reader.drop_tail()  # read again from its start: the writer may have cut a torn line off
        with collector_paused():
            records = self._reader.feed(data)
            self.state = extend(self.state, records)
        good = data[: data.rfind(b"\n") + 1]
        self._read += len(good)
        self._last = (self._last + good)[-_REMEMBERED:]
        return bool(records)

    def now_s(self) -> float:
        """Return the session's age in s; 0 before anything was read."""
        moment = self.state.moment
        return 0.0 if moment is None else advance(moment, self._clock)[0].elapsed_s
