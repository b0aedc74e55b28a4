"""Read a file that anybody may have put there: never wait for what is no file, and never read more than is allowed."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO


def read_plain(path: Path, *, most: int = -1) -> bytes:
    """Return what a plain file holds, at most `most` bytes; raise OSError for a folder, a pipe or a device.

    Opened without waiting: a pipe would otherwise stop the program until somebody writes into it.
    """
    with _opened(path) as file:
        return file.read(most)


def plain_blocks(path: Path, size: int) -> Iterator[bytes]:
    """Yield what a plain file holds, at most `size` bytes at a time; raise OSError as `read_plain` does."""
    with _opened(path) as file:
        while block := file.read(size):
            yield block


@contextmanager
def _opened(path: Path) -> Iterator[BinaryIO]:
    with open(path, "rb", opener=_without_waiting) as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise OSError(errno.EINVAL, "it is a pipe or a device, and no file", str(path))
        yield file


def _without_waiting(path: str, flags: int) -> int:
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))
