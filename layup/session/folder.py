"""Session folders that outlast a power cut; one writer each, by a lock that is let go however its process dies.

The lock is ours, and not the library `filelock` (4.3.1, tried on Linux): that one says nothing of who holds a lock,
takes a pipe for one, turns to a lock that outlives a killed program where a share cannot lock, does not see that its
file was deleted while it holds it, so that two hold it, and takes 90 ms to import.
"""

from __future__ import annotations

import errno
import json
import os
import socket
import stat
import sys
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import date, datetime
from pathlib import Path

from layup.errors import StorageError
from layup.files.durable import PLAN, free_path, slug
from layup.files.toml import read_plain
from layup.session.text import clean

# -- folder ----------------------------------------------------------------------------------------------------------


def session_folder(workshop: Path, day: date, title: str) -> Path:
    """Return the folder for a new session: sessions/YYYY-MM-DD-SLUG, with -2, -3 ... if the name is taken."""
    return free_path(workshop / "sessions" / f"{day.isoformat()}-{slug(title, 'session')}")


def copied(path: Path) -> bytes:
    """Return a file of the workshop as a session keeps a copy of it."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise StorageError(str(path), "cannot be read", value=error.strerror, todo="check the file") from error


def not_writable(path: Path, error: OSError) -> StorageError:
    """Return the error to raise where a session cannot be written."""
    return StorageError(
        str(path),
        "cannot be written",
        value=error.strerror or str(error),
        allowed="a press day needs a folder that you may write to, on a disk with room",
        todo="copy the workshop there, or open the session to look at it only",
    )


def not_readable(path: Path, error: OSError) -> StorageError:
    """Return the error to raise where a session cannot be read."""
    if isinstance(error, FileNotFoundError):
        if (path.parent / PLAN).is_file():
            return StorageError(
                str(path.parent), "was not pressed yet", todo=f"press it: layup press {path.parent.name}"
            )
        return StorageError(str(path), "does not exist", todo="name a session folder that holds a journal")
    return StorageError(str(path), "cannot be read", value=error.strerror or str(error), todo="check its permissions")


def read_open(fd: int, size: int) -> bytes:
    """Return what an open file holds, wherever its next write goes."""
    os.lseek(fd, 0, os.SEEK_SET)
    with open(fd, "rb", closefd=False) as file:
        return file.read(size)


def bytes_of(path: Path) -> bytes | None:
    """Return what a file holds; None where there is no plain file that can be read."""
    try:
        return read_plain(path)
    except OSError:
        return None


# -- lock ------------------------------------------------------------------------------------------------------------

LOCK_NAME = "journal.lock"
HOLDER_BYTES = 1000
"""A holder says who it is in fewer."""
_CAREFULLY = os.O_RDWR | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
"""Never another file through a link, and never wait for a pipe."""
_HELD = frozenset({errno.EAGAIN, errno.EWOULDBLOCK, errno.EACCES, errno.EDEADLK, getattr(errno, "EDEADLOCK", 0)})
"""What the systems say where another process has the lock; all else means that there can be none here."""

if sys.platform == "win32":
    import msvcrt

    def _try_lock(fd: int, *, shared: bool = False) -> None:
        del shared  # there are none
        os.lseek(fd, 2**30, os.SEEK_SET)  # far behind the text, which others may then read
        msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _try_lock(fd: int, *, shared: bool = False) -> None:
        fcntl.flock(fd, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)


class HeldError(StorageError):
    """Another process writes in the session; once it is gone this one may."""


@dataclass(frozen=True, slots=True)
class Holder:
    """Who writes a session."""

    process_id: int
    host: str
    since: str

    def __str__(self) -> str:
        return f"process {self.process_id} on {self.host}, since {self.since}"


class Lock:
    """The right to write in one session folder, held until `release` or the end of the process."""

    def __init__(self, path: Path, fd: int) -> None:
        self._path = path
        self._fd = fd

    @classmethod
    def take(cls, folder: Path, since: datetime) -> Lock:
        """Take the lock of `folder`. Raises HeldError, which names its holder, or StorageError with the reason."""
        path = folder / LOCK_NAME
        while True:
            fd = _opened(path)
            try:
                _try_lock(fd)
            except OSError as error:
                os.close(fd)
                raise _not_taken(folder, error) from error
            if same_file(path, fd):
                break
            os.close(fd)  # its holder let go and removed the file in between: try the new one
        holder = Holder(os.getpid(), socket.gethostname(), since.isoformat(timespec="seconds"))
        with suppress(OSError):  # who holds it is for others to read; a full disk does not matter here
            os.ftruncate(fd, 0)
            os.lseek(fd, 0, os.SEEK_SET)
            os.write(fd, json.dumps(asdict(holder)).encode())
        return cls(path, fd)

    def holds(self) -> bool:
        """Return whether the lock is still in its place: where its file is gone others may have taken a new one."""
        return same_file(self._path, self._fd)

    def release(self) -> None:
        """Let others write."""
        if os.name == "posix" and self.holds():  # elsewhere an open file cannot be removed; unlocked is as good as none
            self._path.unlink(missing_ok=True)
        os.close(self._fd)


def _opened(path: Path) -> int:
    """Open the lock's file, or make it; what is no plain file of its own is left as it is."""
    try:
        fd = os.open(path, _CAREFULLY | os.O_CREAT, 0o644)
    except OSError as error:
        if path.is_symlink():
            raise _strange(path, "a link to another") from error
        raise not_writable(path, error) from error
    found = os.fstat(fd)
    strange = "" if stat.S_ISREG(found.st_mode) else "a pipe or a device"
    if found.st_nlink > 1 or path.is_symlink():
        strange = "a link to another"
    if strange:
        os.close(fd)
        raise _strange(path, strange)
    return fd


def _strange(path: Path, what: str) -> StorageError:
    allowed = "the lock is a plain file, which the program makes itself"
    return StorageError(str(path), "is no file of its own", value=what, allowed=allowed, todo="delete it")


def _not_taken(folder: Path, error: OSError) -> StorageError:
    if error.errno in _HELD:
        return HeldError(
            str(folder),
            "another process writes in this session",
            value=read_holder(folder) or "it has not said who it is",
            allowed="one process writes, any number may look on",
            todo="use that one, close it, or open the session to look at it only",
        )
    return StorageError(
        str(folder),
        "cannot be locked",
        value=error.strerror or str(error),
        allowed="one process writes, and this disk or share cannot make sure of that",
        todo="copy the workshop to a disk of this machine, or open the session to look at it only",
    )


def is_free(folder: Path) -> bool:
    """Return whether the session's writer is gone, ended or dead; changes nothing."""
    try:
        fd = os.open(folder / LOCK_NAME, _CAREFULLY)
    except FileNotFoundError:
        return folder.is_dir()
    except OSError:
        return False
    try:
        _try_lock(fd, shared=True)
    except OSError:
        return False
    finally:
        os.close(fd)
    return True


def same_file(path: Path, fd: int) -> bool:
    """Return whether the file that is open is the one that has this name; raise OSError if that cannot be told."""
    try:
        return os.path.samestat(path.stat(), os.fstat(fd))
    except (FileNotFoundError, NotADirectoryError):
        return False


def read_holder(folder: Path) -> Holder | None:
    """Return who last took the lock of `folder` and has not let go, if it can be read; it may have died since."""
    try:
        said = json.loads(read_plain(folder / LOCK_NAME, most=HOLDER_BYTES))
        host, since = (clean(str(said[key]), 100).replace("\n", " ") for key in ("host", "since"))
        process_id = int(said["process_id"])
    except (OSError, ValueError, TypeError, KeyError, OverflowError, RecursionError):
        return None
    return Holder(process_id, host, since) if 0 < process_id < 2**32 else None
