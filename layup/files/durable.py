"""The names that files have in a workshop, and files that outlast a power cut, whole or not at all.

What is written stands on the disk before it has its name.
"""

from __future__ import annotations

import errno
import os
import re
import sys
import unicodedata
from contextlib import suppress
from pathlib import Path

PLAN = "plan.toml"
JOURNAL = "journal.jsonl"
RESIN_COPY = "resin.toml"
"""The resin file as used, in a session's folder."""
STOCK = "stock.toml"
"""The cans of a workshop, where somebody keeps account of them."""
SLUG_LIMIT = 40


def slug(title: str, otherwise: str) -> str:
    """Return a name for a file or folder, made of a title: small letters, digits and dashes."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain)[:SLUG_LIMIT].strip("-") or otherwise


def free_path(first: Path) -> Path:
    """Return a path that nothing has yet: the first, else it with -2, -3 ... behind its name."""
    path, copy = first, 1
    while path.exists():
        copy += 1
        path = first.with_name(f"{first.stem}-{copy}{first.suffix}")
    return path


if sys.platform != "win32":
    import fcntl


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
    _fill(path, data)
    sync_folder(path.parent)


def _fill(path: Path, data: bytes) -> None:
    """Write a file that must not exist yet, its name not yet made durable, or leave none."""
    with path.open("xb") as file:
        try:
            file.write(data)
            file.flush()
            sync_file(file.fileno())
        except OSError:
            path.unlink()
            raise


def put(path: Path, data: bytes, *, new: bool = False) -> None:
    """Give a file its whole content at one go; a `new` one must not be there: FileExistsError.

    The data stand on the disk beside the place before the name is given to them, so that no crash leaves half a file.
    An earlier file keeps its permissions. Raises OSError.
    """
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    with suppress(OSError):
        beside.unlink()  # of a program that died with the same number
    try:
        _fill(beside, data)
        if new:
            _give_name(beside, path)
        else:
            with suppress(OSError):
                beside.chmod(path.stat().st_mode & 0o7777)
            beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
    sync_folder(path.parent)


def _give_name(beside: Path, path: Path) -> None:
    """Move a file to a name that must be free; FileExistsError where another program took it meanwhile."""
    try:
        os.link(beside, path)
    except FileExistsError:
        raise
    except (OSError, NotImplementedError):  # a disk or a system without links: the name is taken first, then filled
        path.open("xb").close()
        try:
            beside.replace(path)
        except OSError:
            with suppress(OSError):
                path.unlink()
            raise
