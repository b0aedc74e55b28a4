"""One writer a session: a lock that the system lets go when its process dies, however it dies."""

from __future__ import annotations

import json
import os
import socket
import sys
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from layup.errors import StorageError
from layup.records.folder import not_writable
from layup.records.text import clean_text

LOCK_NAME = "journal.lock"

if sys.platform == "win32":
    import msvcrt

    def _try_lock(fd: int) -> None:
        os.lseek(fd, 2**30, os.SEEK_SET)  # far behind the text, which others may then read
        msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _try_lock(fd: int) -> None:
        fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)


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
        """Take the lock of `folder`, or raise StorageError that names its holder."""
        path = folder / LOCK_NAME
        while True:
            try:
                fd = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
            except OSError as error:
                raise not_writable(path, error) from error
            try:
                _try_lock(fd)
            except OSError as error:
                os.close(fd)
                raise StorageError(
                    str(folder),
                    "another process writes in this session",
                    value=read_holder(folder) or "it has not said who it is",
                    allowed="one process writes, any number may look on",
                    todo="use that one, close it, or open the session to look at it only",
                ) from error
            if same_file(path, fd):
                break
            os.close(fd)  # its holder let go and removed the file in between: try the new one
        lock = cls(path, fd)
        lock._say(Holder(os.getpid(), socket.gethostname(), since.isoformat(timespec="seconds")))
        return lock

    def _say(self, holder: Holder) -> None:
        """Write who holds the lock, for others to read; a full disk does not matter here."""
        with suppress(OSError):
            os.ftruncate(self._fd, 0)
            os.lseek(self._fd, 0, os.SEEK_SET)
            os.write(self._fd, json.dumps(asdict(holder)).encode())

    def holds(self) -> bool:
        """Return whether the lock is still in its place: where its file is gone others may have taken a new one."""
        return same_file(self._path, self._fd)

    def release(self) -> None:
        """Let others write."""
        if os.name == "posix" and self.holds():  # elsewhere an open file cannot be removed; unlocked is as good as none
            self._path.unlink(missing_ok=True)
        os.close(self._fd)


def same_file(path: Path, fd: int) -> bool:
    """Return whether the file that is open is the one that has this name; raise OSError if that cannot be told."""
    try:
        return os.path.samestat(path.stat(), os.fstat(fd))
    except (FileNotFoundError, NotADirectoryError):
        return False


def read_holder(folder: Path) -> Holder | None:
    """Return who last took the lock of `folder` and has not let go, if it can be read; it may have died since."""
    try:
        said = json.loads((folder / LOCK_NAME).read_text(encoding="utf-8"))
        host, since = (clean_text(str(said[key]), limit=100).text for key in ("host", "since"))
        return Holder(int(said["process_id"]), host, since)
    except (OSError, ValueError, TypeError, KeyError):
        return None
