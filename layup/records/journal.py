"""The journal of a session: the only writer of its folder. An event that `append` confirmed is on the disk.

A line is written at one go, and flushed to the disk, before `append` returns. If the disk is full or fails, events
are kept in memory in their order and written as soon as it can; `fault` says so meanwhile. A line torn by a power
cut is set aside into a file of its own when the journal is opened again.
"""

from __future__ import annotations

import errno
import os
from collections import deque
from collections.abc import Mapping
from itertools import count
from math import floor
from pathlib import Path
from types import TracebackType
from typing import Literal, Self

from layup import __version__
from layup.errors import Problem, StorageError
from layup.records.clock import Clock, Jump, Moment, advance
from layup.records.events import RECORDS, ClockJumped, Event, JournalOpened, Record, SessionStarted
from layup.records.folder import JOURNAL_NAME, not_readable, not_writable, sync_folder, write_new
from layup.records.lines import LineReader, collector_paused
from layup.records.lock import Lock
from layup.records.state import SessionState, apply, extend, fold

_FLAGS = os.O_RDWR | os.O_APPEND | getattr(os, "O_BINARY", 0)


class Journal:
    """One session, open for writing. `state` is what its records amount to so far."""

    def __init__(self, path: Path, fd: int, lock: Lock, clock: Clock) -> None:
        self.path = path
        self.state = SessionState()
        self._fd = fd
        self._lock = lock
        self._clock = clock
        self._reader = LineReader(str(path))
        self._moment = Moment.first(clock)
        self._next_seq = 1
        self._size = 0
        self._links = os.fstat(fd).st_nlink
        self._tail_in_doubt = False
        self._torn = b""
        self._pending: deque[bytes] = deque()
        self._trouble = ""

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
        journal = cls._opened(folder, clock, os.O_CREAT | os.O_EXCL, files or {})
        journal.append(start)
        journal._say_opened("created")
        return journal

    @classmethod
    def open(cls, folder: Path, clock: Clock) -> Journal:
        """Go on with the session in `folder`; what was wrong with its journal is in `problems`.

        Raises StorageError if there is no journal, it cannot be written, or another process has it.
        """
        path = folder / JOURNAL_NAME
        if not path.exists():
            raise not_readable(path, FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT)))
        journal = cls._opened(folder, clock, 0, {})
        try:
            journal._resume()
        except OSError as error:
            journal._let_go()
            raise not_readable(path, error) from error
        journal._say_opened("resumed")
        return journal

    @classmethod
    def _opened(cls, folder: Path, clock: Clock, flags: int, files: Mapping[str, bytes]) -> Self:
        """Take the lock, write `files` and open the journal file."""
        path = folder / JOURNAL_NAME
        lock = Lock.take(folder, clock.utc())
        try:
            for name, data in files.items():
                write_new(folder / name, data)
            fd = os.open(path, _FLAGS | flags, 0o644)
            sync_folder(folder)
            sync_folder(folder.parent)
        except OSError as error:
            lock.release()
            if isinstance(error, FileExistsError):
                todo = "resume that session, or start one in a new folder"
                raise StorageError(str(error.filename), "exists already", todo=todo) from error
            raise not_writable(path, error) from error
        return cls(path, fd, lock, clock)

    def _resume(self) -> None:
        """Read what is there, and have its end mended by the first write."""
        data = self.path.read_bytes()
        with collector_paused():
            records = self._reader.feed(data)
            self.state = fold(records)
        tail = self._reader.tail
        self._size = len(data) - len(tail)
        if tail:
            self._look_at(tail)
        self._next_seq = max(self.state.seq, self._reader.line) + 1
        self._moment = self.state.moment or self._moment

    def _look_at(self, tail: bytes) -> None:
        """Have the last line ended if only its line end is missing; otherwise have it set aside and cut off."""
        line, found = self._reader.line + 1, len(self.problems)
        records = self._reader.feed(b"\n")
        if len(self.problems) == found:
            self.state = extend(self.state, records)
            self._size += len(tail)
            self._pending.append(b"\n")
            return
        self._reader.line = line - 1
        self._torn, self._tail_in_doubt = tail, True
        self.problems[found:] = [
            Problem(
                str(self.path),
                line,
                "",
                f"the last line was torn: its {len(tail)} bytes go to {self._aside().name}",
                "it was not confirmed when the power or the program failed; log it again if it happened",
            )
        ]

    def _aside(self) -> Path:
        """Return a free name for torn bytes."""
        names = (self.path.with_name(f"journal.torn-{n}.txt") for n in count(1))
        return next(path for path in names if not path.exists())

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
        return len(self._pending)

    @property
    def fault(self) -> str:
        """Why events are in memory only, and what to do, for the first line of the screen; empty when all is saved."""
        if not self._pending:
            return ""
        events = "1 event is" if self.unsaved == 1 else f"{self.unsaved} events are"
        return f"NOT SAVED: {events} in memory only ({self._trouble}) - make room or mend the disk, keep this running"

    def now_s(self) -> float:
        """Return the session's age in s; it never falls."""
        return advance(self._moment, self._clock)[0].elapsed_s

    def tick(self) -> Jump | None:
        """Look at the clocks; log it and return how if they jumped. To be called about once a second."""
        self._moment, jump = advance(self._moment, self._clock)
        if jump is not None:
            self._log(ClockJumped(wall_s=jump.wall_s, monotonic_s=jump.monotonic_s, taken_s=jump.taken_s))
            self.flush_pending()
        return jump

    def append(self, event: Event) -> Record:
        """Log an event and return its record. It is on the disk, unless `fault` says otherwise."""
        self.tick()
        record = self._log(event)
        self.flush_pending()
        return record

    def _log(self, event: Event) -> Record:
        """Stamp an event with the last moment, let it count, and queue its line."""
        to_the_ms = floor(self._moment.elapsed_s * 1000) / 1000  # down, so that no age is below zero
        elapsed_s = max(to_the_ms, self.state.last_s)  # 4.035 * 1000 is less than 4035
        stamp = {"seq": self._next_seq, "at": self._moment.utc, "elapsed_s": elapsed_s}
        record = RECORDS[event.event].model_validate(stamp | dict(event))
        self._next_seq += 1
        self.state = apply(self.state, record)
        self._pending.append(record.model_dump_json().encode() + b"\n")
        return record

    def flush_pending(self) -> bool:
        """Write what is in memory only, in order, as far as the disk takes it; return whether all of it is saved."""
        whole = size = 0
        try:
            if self._tail_in_doubt:
                self._cut()
            if os.fstat(self._fd).st_nlink < self._links:
                raise OSError(errno.ENOENT, "the journal was deleted or replaced")
            for line in self._pending:
                self._tail_in_doubt = True
                self._write_whole(line)
                whole, size = whole + 1, size + len(line)
        except OSError as error:
            self._trouble = error.strerror or str(error)
        try:
            if whole:
                os.fsync(self._fd)
        except OSError as error:  # the system may have dropped what it could not write: write all of it again
            self._trouble = error.strerror or str(error)
            return False
        self._size += size
        for _ in range(whole):
            self._pending.popleft()
        self._tail_in_doubt = self._tail_in_doubt and bool(self._pending)
        return not self._pending

    def _write_whole(self, line: bytes) -> None:
        written = os.write(self._fd, line)
        if written < len(line):
            raise OSError(errno.ENOSPC, "only a part of the line could be written")

    def _cut(self) -> None:
        """Cut the file back to its last good line; bytes found torn are kept in a file of their own first."""
        if self._torn:
            write_new(self._aside(), self._torn)
            self._torn = b""
        os.ftruncate(self._fd, self._size)
        os.fsync(self._fd)
        self._tail_in_doubt = False

    def unsaved_text(self) -> str:
        """Return the lines that are in memory only, to be shown or kept elsewhere."""
        return b"".join(self._pending).decode()

    def close(self) -> None:
        """Write what can be written and let others write; raise StorageError if events are left unsaved."""
        saved = self.flush_pending()
        self._let_go()
        if not saved:
            raise StorageError(str(self.path), self.fault, todo="keep the lines that follow:\n" + self.unsaved_text())

    def _let_go(self) -> None:
        os.close(self._fd)
        self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
