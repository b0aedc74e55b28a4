"""A journal's bytes on the disk: appended durably, and kept whole whatever the disk or another program does.

A line is written at one go and flushed to the disk. What the disk does not take waits in memory, in its order. What
was confirmed is remembered, too: where a syncing folder replaces, cuts or deletes the file it is written anew, whole,
and what stood in its place is kept beside it.

After a flush that failed the system may hold as written what is on no disk, and say yes to the next flush. So the file
is then written anew from memory, and what a program that died left behind is written again before it is built upon.
"""

from __future__ import annotations

import errno
import os
from collections import deque
from collections.abc import Mapping
from contextlib import suppress
from itertools import count
from pathlib import Path

from layup.errors import StorageError
from layup.files.durable import JOURNAL, PLAN, RESIN_COPY, sync_file, sync_folder, write_new
from layup.files.toml import read_plain
from layup.session.clock import Clock
from layup.session.folder import Lock, not_writable, same_file

_FLAGS = os.O_RDWR | os.O_APPEND | getattr(os, "O_BINARY", 0)
_COPIES = (PLAN, RESIN_COPY)
"""What stands beside a journal, and is no use without."""
_Mark = tuple[int, int, int]


class JournalFile:
    """The file of one journal and the lock on its folder."""

    def __init__(self, path: Path, fd: int, lock: Lock, clock: Clock) -> None:
        self.path = path
        self.pending: deque[bytes] = deque()
        """Lines that are in memory only."""
        self.trouble = ""
        """Why they are."""
        self.mended = ""
        """What another program did to the files, and what was done about it; empty where nothing was."""
        self._fd = fd
        self._lock = lock
        self._clock = clock
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
        self._copies = {name: data for name in _COPIES if (data := _bytes_of(path.with_name(name))) is not None}

    @classmethod
    def opened(cls, folder: Path, clock: Clock, flags: int, files: Mapping[str, bytes]) -> JournalFile:
        """Take the lock of `folder`, write `files` and open the journal file."""
        path = folder / JOURNAL
        lock = Lock.take(folder, clock.utc())
        try:
            for name, data in files.items():
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
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

    def take_up(self, data: bytes, torn: bytes) -> None:
        """Go on after `data`, which stands in the file; `torn` stands after it and is set aside by the first write."""
        self._kept = bytearray(data)
        self._torn, self._in_doubt = torn, bool(torn)
        self._only_read = True

    def flush(self) -> bool:
        """Write what is in memory only, in order, as far as the disk takes it; return whether all of it is saved."""
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

    def unsaved(self) -> bytes:
        """Return the lines that are in memory only: all of them, where the file is gone and cannot be written anew."""
        return (bytes(self._kept) if self._spoilt else b"") + b"".join(self.pending)

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
        if mark != self._mark and _read(self._fd, mark[1]) != self._kept:
            return "changed"
        self._mark = mark
        return ""

    def _marked(self) -> _Mark:
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
        there = _bytes_of(self.path) if what else b""
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


def _read(fd: int, size: int) -> bytes:
    """Return what an open file holds, wherever its next write goes."""
    os.lseek(fd, 0, os.SEEK_SET)
    with open(fd, "rb", closefd=False) as file:
        return file.read(size)


def _bytes_of(path: Path) -> bytes | None:
    """Return what a file holds; None where there is no plain file that can be read."""
    try:
        return read_plain(path)
    except OSError:
        return None
