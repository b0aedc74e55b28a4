"""Read a file that anybody may have put there: never wait for what is no file, and never read more than is allowed."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path


def read_plain(path: Path, *, most: int = -1) -> bytes:
    """Return what a plain file holds, at most `most` bytes; raise OSError for a folder, a pipe or a device.

    Opened without waiting: a pipe would otherwise stop the program until somebody writes into it.
    """
    with open(path, "rb", opener=_without_waiting) as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise OSError(errno.EINVAL, "it is a pipe or a device, and no file", str(path))
        return file.read(most)


def _without_waiting(path: str, flags: int) -> int:
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))
