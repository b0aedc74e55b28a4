"""Session folders and files that outlast a power cut."""

from __future__ import annotations

import errno
import os
import re
import sys
import unicodedata
from datetime import date
from pathlib import Path

from layup.errors import StorageError
from layup.materials.names import PLAN

if sys.platform != "win32":
    import fcntl

_SLUG_LIMIT = 40


def session_folder(workshop: Path, day: date, title: str) -> Path:
    """Return the folder for a new session: sessions/YYYY-MM-DD-SLUG, with -2, -3 ... if the name is taken."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", plain)[:_SLUG_LIMIT].strip("-") or "session"
    first = workshop / "sessions" / f"{day.isoformat()}-{slug}"
    folder, copy = first, 1
    while folder.exists():
        copy += 1
        folder = first.with_name(f"{first.name}-{copy}")
    return folder


def sync_file(fd: int) -> None:
    """Flush a file to the disk itself; where fsync stops at the drive's own memory, as on macOS, by what does not.

    F_FULLFSYNC of fcntl(2) and fsync(2) there, from memory; a disk that does not know it is flushed as elsewhere.
    """
    if sys.platform == "darwin":
        try:
            fcntl.fcntl(fd, fcntl.F_FULLFSYNC)
        except OSError as error:
            if error.errno not in (errno.ENOTSUP, errno.EINVAL, errno.ENOTTY):
                raise
        else:
            return
    os.fsync(fd)


def sync_folder(folder: Path) -> None:
    """Make the names of new files in `folder` durable, where the system can."""
    if os.name != "posix":
        return
    fd = os.open(folder, os.O_RDONLY)
    try:
        sync_file(fd)
    finally:
        os.close(fd)


def write_new(path: Path, data: bytes) -> None:
    """Write a file that must not exist yet, durably, or leave none."""
    with path.open("xb") as file:
        try:
            file.write(data)
            file.flush()
            sync_file(file.fileno())
        except OSError:
            path.unlink()
            raise
    sync_folder(path.parent)


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
