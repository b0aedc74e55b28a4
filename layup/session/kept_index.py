"""What was worked out of each session, kept beside the journals and never in them, while their files stay the same.

An index may be deleted at any time; where it cannot be written, sessions are read anew.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Generic, NamedTuple, TypeVar

from pydantic import TypeAdapter, ValidationError

T = TypeVar("T")
SAME_TIME_NS = 2_000_000_000
"""The coarsest time stamps of a file system that people use, two seconds: what was changed just before the index was
written may have changed again since."""


class FileStamp(NamedTuple):
    """What tells one state of a session's files from another, and when the newest was written."""

    words: str
    newest_ns: int


def stamp_of(journal: Path, others: Iterable[Path] = ()) -> FileStamp:
    """Return the stamp of a session's files, those that there are beside its journal. Raises OSError without one."""
    stats = [journal.stat(), *(path.stat() for path in others if path.exists())]
    words = "/".join(f"{stat.st_mtime_ns}-{stat.st_size}" for stat in stats)
    return FileStamp(words, max(stat.st_mtime_ns for stat in stats))


class KeptIndex(Generic[T]):
    """One file of such things, by the names of the sessions, made by one `maker`, a version of what reads it."""

    def __init__(self, path: Path, maker: str, file: TypeAdapter[tuple[str, dict[str, tuple[FileStamp, T]]]]) -> None:
        self.path, self.maker, self.file = path, maker, file
        self.lines: dict[str, tuple[FileStamp, T]] = {}
        """What is kept; nothing of a file that is damaged, or of another maker."""
        self._sure_before_ns = 0
        with suppress(OSError, ValidationError):
            saved_ns = path.stat().st_mtime_ns
            maker_then, lines = file.validate_json(path.read_bytes())
            if maker_then == maker:
                self.lines, self._sure_before_ns = lines, saved_ns - SAME_TIME_NS

    def get(self, name: str, stamp: FileStamp) -> T | None:
        """Return what is kept of a session whose files have this stamp now; None where that may be of another state."""
        kept = self.lines.get(name)
        return kept[1] if kept is not None and kept[0] == stamp and stamp.newest_ns < self._sure_before_ns else None

    def keep(self, lines: Mapping[str, tuple[FileStamp, T]]) -> None:
        """Write these lines at one go, but for names that are no text; where that cannot be, nothing is kept."""
        temporary = self.path.with_name(f"{self.path.name}.{os.getpid()}")
        kept = {name: line for name, line in lines.items() if _is_text(name)}
        try:
            temporary.write_bytes(self.file.dump_json((self.maker, kept)))
            temporary.replace(self.path)
        except OSError:
            with suppress(OSError):
                temporary.unlink(missing_ok=True)


def _is_text(name: str) -> bool:
    """Return whether a folder's name can be written: a system without rules for names lets any bytes be one."""
    try:
        name.encode()
    except UnicodeEncodeError:
        return False
    return True
