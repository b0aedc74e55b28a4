"""The journal of a session: the only writer of its folder. An event that `append` confirmed is on the disk.

A line is written at one go and flushed to the disk. If the disk is full or fails, events are kept in memory in their
order and written as soon as it can; `fault` says so meanwhile. What was confirmed is remembered, too: where a syncing
folder replaces, cuts or deletes the file it is written anew, whole, and what stood in its place is kept beside it. A
line torn by a power cut is set aside into a file of its own when the journal is opened again.

After a flush that failed the system may hold as written what is on no disk, and say yes to the next flush. So the file
is then written anew from memory, and what a program that died left behind is written again before it is built upon.
"""

from __future__ import annotations

import errno
import os
from codecs import BOM_UTF8
from collections import deque
from collections.abc import Mapping
from contextlib import suppress
from datetime import datetime
from itertools import count
from math import floor
from pathlib import Path
from typing import Literal, Self

from layup import __version__
from layup.errors import Problem, StorageError
from layup.files.durable import JOURNAL, PLAN, RESIN_COPY, sync_file, sync_folder, write_new
from layup.files.toml import read_plain
from layup.session.clock import Clock, Jump, Moment, advance, told
from layup.session.fields import AGE_LIMIT_S, SEQ_LIMIT
from layup.session.folder import Lock, bytes_of, not_readable, not_writable, read_open, same_file
from layup.session.lines import DIGITS, digits, line_of, summed
from layup.session.reader import LineReader, collector_paused
from layup.session.records import ClockJumped, ClockTold, JournalOpened, MachineRestarted, extend, half_told, record_of
from layup.session.state import Event, Record, SessionStarted, SessionState

_FLAGS = os.O_RDWR | os.O_APPEND | getattr(os, "O_BINARY", 0)
ROOM = 50_000_000
"""What is left for a session that is gone on with, in lines and in seconds: more than a year."""

# -- the file on the disk ---------------------------------------------------------------------------------------------


class JournalFile:
    """The file of one journal and the lock on its folder."""

    def __init__(self, folder: Path, clock: Clock, flags: int, files: Mapping[str, bytes]) -> None:
        """Take the lock of `folder`, write `files` and open the journal file."""
        self.path = folder / JOURNAL
        self._clock = clock
        self._lock = Lock.take(folder, clock.utc())
        try:
            for name, data in files.items():
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                write_new(folder / name, data)
            self._fd = os.open(self.path, _FLAGS | flags, 0o644)
            sync_folder(folder)
            sync_folder(folder.parent)
        except OSError as error:
            self._lock.release()
            if isinstance(error, FileExistsError):
                todo = "resume that session, or start one in a new folder"
                raise StorageError(str(error.filename), "exists already", todo=todo) from error
            raise not_writable(self.path, error) from error
        self.pending: deque[bytes] = deque()
        """Lines that are in memory only."""
        self.trouble = ""
        """Why they are."""
        self.mended = ""
        """What another program did to the files, and what was done about it; empty where nothing was."""
        self._kept = bytearray()
        self._torn = b""
        self._named = True
        """Whether the name of the file is durable."""
        self._in_doubt = False
        """Whether more than what was kept may stand at the end of the file."""
        self._flush_failed = False
        """Whether the disk may hold less than the file shows."""
        self._only_read = False
        """Whether what was kept was only read so far, perhaps from the system's memory alone."""
        self._spoilt = ""
        """What another program did to the file, as long as it is not put right."""
        self._mark = self._marked()
        self._copies = {name: copy for name in (PLAN, RESIN_COPY) if (copy := bytes_of(folder / name)) is not None}
        """What stands beside a journal, and is no use without."""

    def take_up(self, data: bytes, torn: bytes) -> None:
        """Go on after `data`, which stands in the file; `torn` stands after it and is set aside by the first write."""
        self._kept = bytearray(data)
        self._torn, self._in_doubt = torn, bool(torn)
        self._only_read = True

    def flush_pending(self) -> bool:
        """Write what is in memory only, in order, as far as the disk takes it, and anew what another program spoilt.

        Return whether all of it is saved.
        """
        written: list[bytes] = []
        self.trouble = ""
        try:
            self._mend()
            for line in self.pending:
                self._in_doubt = True
                if os.write(self._fd, line) < len(line):
                    raise OSError(errno.ENOSPC, "only a part of the line could be written")
                written.append(line)
        except OSError as error:
            self.trouble = error.strerror or str(error)
        except StorageError as error:
            self.trouble = f"{error.wrong}: {error.value}"
        try:
            if written:
                self._sync(self._fd)
        except OSError as error:
            self.trouble = error.strerror or str(error)
            return False
        for line in written:
            self._kept += line
            self.pending.popleft()
        self._in_doubt = self._in_doubt and bool(self.trouble)
        if written and not self._in_doubt:
            self._mark = self._marked()
        return not self.trouble

    def unsaved_text(self) -> str:
        """Return the lines that are in memory only: all of them, where the file is gone and cannot be written anew."""
        return b"".join((bytes(self._kept) if self._spoilt else b"", *self.pending)).decode("utf-8", "replace")

    def _mend(self) -> None:
        """Make the file hold what was kept and nothing else, if it does not; and see that the lock is still ours."""
        if not self._lock.holds() and self.path.parent.is_dir():
            lock = Lock.take(self.path.parent, self._clock.utc())
            self._lock.release()
            self._lock = lock
        self._spoilt = self._what_happened()
        if self._spoilt:
            self._put_back(self._spoilt)
        elif self._flush_failed or self._only_read:
            self._write_again()
        elif self._in_doubt:
            self._cut()
        if not self._named:
            self._flush_failed = True
            sync_folder(self.path.parent)
            self._named, self._flush_failed = True, False
        self._put_copies_back()

    def _what_happened(self) -> str:
        """Return what another program did to the file since it was last written, in a word; empty for nothing."""
        try:
            if not same_file(self.path, self._fd):
                return "replaced" if os.path.lexists(self.path) else "deleted"
        except OSError:
            return ""  # that cannot be told now; the file that is open may still take what is written
        mark = self._marked()
        if self._in_doubt:
            return "cut" if mark[1] < len(self._kept) else ""
        if mark != self._mark and read_open(self._fd, mark[1]) != self._kept:
            return "changed"
        self._mark = mark
        return ""

    def _marked(self) -> tuple[int, int, int]:
        """Return what changes when another program writes the file: which it is, its size, its time."""
        now = os.fstat(self._fd)
        return now.st_ino, now.st_size, now.st_mtime_ns

    def _cut(self) -> None:
        """Cut the file back to its last good line; bytes found torn are kept in a file of their own first."""
        self._set_torn_aside()
        os.ftruncate(self._fd, len(self._kept))
        self._sync(self._fd)
        self._in_doubt = False
        self._mark = self._marked()

    def _sync(self, fd: int) -> None:
        """Flush a file to the disk, and remember where that failed."""
        try:
            sync_file(fd)
        except OSError:
            self._flush_failed = True
            raise

    def _write_again(self) -> None:
        """Bring what was kept to the disk once more, from memory: in a fresh file where the disk failed, else in place.

        A disk without room for a second file is written in place, too.
        """
        if self._flush_failed:
            with suppress(OSError):
                self._put_back()
                return
        self._set_torn_aside()
        self._write_in_place()
        self._in_doubt = self._flush_failed = self._only_read = False
        self._mark = self._marked()

    def _write_in_place(self) -> None:
        """Write what was kept over what stands in the file."""
        fd = os.open(self.path, os.O_WRONLY | getattr(os, "O_BINARY", 0))  # one that does not append
        try:
            left = bytes(self._kept)
            while left:
                left = left[os.write(fd, left) :]
            os.ftruncate(fd, len(self._kept))
            self._sync(fd)
        finally:
            os.close(fd)

    def _set_torn_aside(self) -> None:
        if self._torn:
            write_new(self.aside("torn", "txt"), self._torn)
            self._torn = b""

    def aside(self, what: str, ending: str) -> Path:
        """Return a free name beside the journal for what does not belong into it."""
        names = (self.path.with_name(f"journal.{what}-{n}.{ending}") for n in count(1))
        return next(path for path in names if not os.path.lexists(path))

    def _put_back(self, what: str = "") -> None:
        """Write the journal anew, whole; what another program put in its place is kept, unless it is an older state.

        `what` that program did; nothing where only the disk failed.
        """
        self.path.parent.mkdir(parents=True, exist_ok=True)
        self._set_torn_aside()
        there = bytes_of(self.path) if what else b""
        other: Path | None = None
        if there is None and os.path.lexists(self.path):
            other = self.aside("other", "jsonl")
            self.path.rename(other)  # a folder, or something else that cannot be read
        elif there is not None and not self._kept.startswith(there):
            other = self.aside("other", "jsonl")
            write_new(other, there)
        fresh = self.path.with_name(f"journal.fresh-{os.getpid()}.tmp")
        fresh.unlink(missing_ok=True)
        write_new(fresh, bytes(self._kept))
        if not self._take_its_place(fresh):
            self._write_in_place()  # the fresh file is there until that is done, should the power fail meanwhile
            fresh.unlink()
        self._spoilt = ""
        self._in_doubt = self._flush_failed = self._only_read = self._named = False
        self._mark = self._marked()
        if not what:
            return
        kept_as = f", and what was put in its place is kept as {other.name}" if other else ""
        self.mended = f"{self.path.name} was {what} by another program: it is written anew, whole{kept_as}"

    def _take_its_place(self, fresh: Path) -> bool:
        """Move a fresh file to the journal's name and go on in it; return False where no open file can be replaced."""
        fd = os.open(fresh, _FLAGS)
        try:
            fresh.replace(self.path)
        except OSError as error:
            os.close(fd)
            if isinstance(error, PermissionError) and same_file(self.path, self._fd):
                return False  # Windows
            raise
        os.close(self._fd)
        self._fd = fd
        return True

    def _put_copies_back(self) -> None:
        """Write the copies of plan and resin anew where they are gone; a day can only be gone on with if they are."""
        for name, data in self._copies.items():
            path = self.path.with_name(name)
            if not os.path.lexists(path):
                with suppress(OSError):  # what is logged comes first; this is tried again
                    write_new(path, data)
                    self.mended = f"{name} was deleted by another program: it is written anew"

    def close(self) -> None:
        """Let others write."""
        os.close(self._fd)
        self._lock.release()


# -- the session ------------------------------------------------------------------------------------------------------


class Journal(JournalFile):
    """One session, open for writing. `state` is what its records amount to so far."""

    def __init__(self, folder: Path, clock: Clock, flags: int, files: Mapping[str, bytes]) -> None:
        super().__init__(folder, clock, flags, files)
        self.state = SessionState()
        self._reader = LineReader(str(self.path))
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
        journal = cls(folder, clock, os.O_CREAT | os.O_EXCL, files or {})
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
        journal = cls(folder, clock, 0, {})
        try:
            journal._resume()
        except OSError as error:
            JournalFile.close(journal)
            raise not_readable(path, error) from error
        except StorageError:
            JournalFile.close(journal)
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
            self.state = extend(self.state, self._reader.settle())
        line = self._reader.line
        if ended:
            good = len(data)
            self.pending.append(b"\n")
        elif good < len(data):
            words = f"the last line was torn: its {len(data) - good} bytes go to {self.aside('torn', 'txt').name}"
            hint = "it was not confirmed when the power or the program failed; log it again if it happened"
            self._reader.note(line + 1, "", words, hint)
        self.take_up(data[:good], data[good:])
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
    def fault(self) -> str:
        """Why events are in memory only, and what to do, for the first line of the screen; empty when all is saved."""
        if not self.trouble:
            return ""
        events = {0: "the journal is", 1: "1 event is"}.get(len(self.pending), f"{len(self.pending)} events are")
        return f"NOT SAVED: {events} in memory only ({self.trouble}) - make room or mend the disk, keep this running"

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
        record = summed(record_of(event, stamp), self._sum)
        self._next_seq += 1
        self._sum = record.sum[DIGITS:]
        self.state = extend(self.state, (record,))
        self.pending.append(line_of(record))
        return record

    def close(self) -> None:
        """Write what can be written and let others write; raise StorageError if events are left unsaved."""
        saved = self.flush_pending()
        super().close()
        if not saved:
            raise StorageError(str(self.path), self.fault, todo="keep the lines that follow:\n" + self.unsaved_text())

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _to_the_ms(time_s: float) -> float:
    """Return a time as it is written: down, so that no age is below zero."""
    return floor(time_s * 1000) / 1000
