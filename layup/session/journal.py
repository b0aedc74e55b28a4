"""The journal of a session: the only writer of its folder. An event that `append` confirmed is on the disk.

If the disk is full or fails, events are kept in memory in their order and written as soon as it can; `fault` says so
meanwhile. A line torn by a power cut is set aside into a file of its own when the journal is opened again.
"""

from __future__ import annotations

import errno
import os
from codecs import BOM_UTF8
from collections.abc import Mapping
from datetime import datetime
from math import floor
from pathlib import Path
from types import TracebackType
from typing import Literal, Self

from layup import __version__
from layup.errors import Problem, StorageError
from layup.files.durable import JOURNAL
from layup.files.toml import read_plain
from layup.session.clock import Clock, Jump, Moment, advance, told
from layup.session.disk import JournalFile
from layup.session.fields import AGE_LIMIT_S, SEQ_LIMIT
from layup.session.folder import not_readable, not_writable
from layup.session.lines import DIGITS, digits, line_of, summed
from layup.session.reader import LineReader, collector_paused
from layup.session.records import (
    RECORDS,
    ClockJumped,
    ClockTold,
    JournalOpened,
    MachineRestarted,
    apply,
    fold,
    half_told,
)
from layup.session.state import Event, Record, SessionStarted, SessionState

ROOM = 50_000_000
"""What is left for a session that is gone on with, in lines and in seconds: more than a year."""


class Journal:
    """One session, open for writing. `state` is what its records amount to so far."""

    def __init__(self, file: JournalFile, clock: Clock) -> None:
        self.path = file.path
        self.state = SessionState()
        self._file = file
        self._clock = clock
        self._reader = LineReader(str(file.path))
        self._moment = Moment.first(clock)
        self._next_seq = 1
        self._sum = digits(b"")
        """What stands for all lines so far in the next one's sum."""

    @classmethod
    def create(
        cls, folder: Path, clock: Clock, start: SessionStarted, *, files: Mapping[str, bytes] | None = None
    ) -> Journal:
        """Start a session in `folder` (made if missing), with copies of the plan and resin files it uses.

        Raises StorageError if the folder cannot be written, holds a journal already, or another process has it.
        """
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise not_writable(folder, error) from error
        journal = cls(JournalFile.opened(folder, clock, os.O_CREAT | os.O_EXCL, files or {}), clock)
        journal.append(start)
        journal._say_opened("created")
        return journal

    @classmethod
    def open(cls, folder: Path, clock: Clock) -> Journal:
        """Go on with the session in `folder`; what was wrong with its journal is in `problems`.

        Raises StorageError if there is no journal, it cannot be written, or another process has it.
        """
        path = folder / JOURNAL
        if not path.exists():
            raise not_readable(path, FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT)))
        journal = cls(JournalFile.opened(folder, clock, 0, {}), clock)
        try:
            journal._resume()
        except OSError as error:
            journal._file.close()
            raise not_readable(path, error) from error
        except StorageError:
            journal._file.close()
            raise
        half = half_told(journal.state)
        if half is not None:
            journal.append(*half)
        journal._say_opened("resumed")
        return journal

    def _resume(self) -> None:
        """Read what is there, and have its end mended by the first write."""
        data = read_plain(self.path)
        good = data.rfind(b"\n") + 1
        with collector_paused():
            self._reader.take(data)
            ended = self._reader.take_tail()
            self.state = fold(self._reader.settle())
        line = self._reader.line
        if ended:
            good = len(data)
            self._file.pending.append(b"\n")
        elif good < len(data):
            words = f"the last line was torn: its {len(data) - good} bytes go to {self._file.aside('torn', 'txt').name}"
            hint = "it was not confirmed when the power or the program failed; log it again if it happened"
            self._reader.note(line + 1, "", words, hint)
        self._file.take_up(data[:good], data[good:])
        whole = data[:good].removeprefix(BOM_UTF8) + (b"\n" if ended else b"")
        self._sum = self._reader.chain.own or digits(whole)
        self._next_seq = max(self.state.seq, line) + 1
        if self._next_seq > SEQ_LIMIT - ROOM or self.state.last_s > AGE_LIMIT_S - ROOM:
            raise StorageError(
                str(self.path),
                "cannot be gone on with",
                value=f"seq {self._next_seq}, {self.state.last_s:.0f} s old",
                allowed=f"a journal goes to seq {SEQ_LIMIT} and {AGE_LIMIT_S:.0f} s",
                todo="look at it only",
            )
        self._moment = self.state.moment or self._moment

    def _say_opened(self, reason: Literal["created", "resumed"]) -> None:
        self.append(
            JournalOpened(
                boot_id=self._clock.boot_id(),
                monotonic_s=self._clock.monotonic_s(),
                process_id=os.getpid(),
                program=f"layup {__version__}",
                reason=reason,
            )
        )

    @property
    def problems(self) -> list[Problem]:
        """What was wrong with the journal when it was opened."""
        return self._reader.problems

    @property
    def unsaved(self) -> int:
        """How many events are in memory only."""
        return len(self._file.pending)

    @property
    def fault(self) -> str:
        """Why events are in memory only, and what to do, for the first line of the screen; empty when all is saved."""
        if not self._file.trouble:
            return ""
        events = {0: "the journal is", 1: "1 event is"}.get(self.unsaved, f"{self.unsaved} events are")
        return (
            f"NOT SAVED: {events} in memory only ({self._file.trouble}) - make room or mend the disk, keep this running"
        )

    @property
    def mended(self) -> str:
        """What another program did to the session's files, and what was done about it; empty if nothing was."""
        return self._file.mended

    def now_s(self) -> float:
        """Return the session's age in s; it never falls."""
        return advance(self._moment, self._clock)[0].elapsed_s

    def tick(self) -> Jump | None:
        """Look at the clocks and at the file; log it and return how if the clocks jumped. To be called each second."""
        self._moment, jump = advance(self._moment, self._clock)
        if jump is not None:
            if jump.restarted:
                self._log(MachineRestarted(wall_s=jump.wall_s, taken_s=jump.taken_s))
            else:
                self._log(ClockJumped(wall_s=jump.wall_s, monotonic_s=jump.monotonic_s, taken_s=jump.taken_s))
        self.flush_pending()
        return jump

    def append(self, event: Event, happened_s: float | None = None) -> Record:
        """Log an event, maybe told afterwards, and return its record; it is on the disk, but where `fault` says no."""
        self.tick()
        record = self._log(event, happened_s)
        self.flush_pending()
        return record

    def tell_clock(self, utc: datetime | None = None) -> float:
        """Log what time it is, as a person says; None for what the wall clock shows. Return the time counted for it."""
        self.tick()
        said = utc or self._moment.utc
        self._moment, taken_s = told(self._moment, said)
        self._log(ClockTold(utc=said, taken_s=taken_s))
        self.flush_pending()
        return taken_s

    def _log(self, event: Event, happened_s: float | None = None) -> Record:
        """Stamp an event with the last moment, let it count, and queue its line."""
        elapsed_s = max(_to_the_ms(self._moment.elapsed_s), self.state.last_s)  # 4.035 * 1000 is less than 4035
        told_s = None if happened_s is None else _to_the_ms(happened_s)
        stamp = {"seq": self._next_seq, "at": self._moment.utc, "elapsed_s": elapsed_s, "happened_s": told_s}
        record = summed(RECORDS[event.event].model_validate(stamp | dict(event)), self._sum)
        self._next_seq += 1
        self._sum = record.sum[DIGITS:]
        self.state = apply(self.state, record)
        self._file.pending.append(line_of(record))
        return record

    def flush_pending(self) -> bool:
        """Write what is in memory only, and anew what another program spoilt; return whether all of it is saved."""
        return self._file.flush()

    def unsaved_text(self) -> str:
        """Return the lines that are in memory only, to be shown or kept elsewhere."""
        return self._file.unsaved().decode("utf-8", "replace")

    def close(self) -> None:
        """Write what can be written and let others write; raise StorageError if events are left unsaved."""
        saved = self.flush_pending()
        self._file.close()
        if not saved:
            raise StorageError(str(self.path), self.fault, todo="keep the lines that follow:\n" + self.unsaved_text())

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _to_the_ms(time_s: float) -> float:
    """Return a time as it is written: down, so that no age is below zero."""
    return floor(time_s * 1000) / 1000
