"""Read a journal's lines: what can be read becomes records, what cannot becomes a problem with its line number."""

from __future__ import annotations

import gc
from codecs import BOM_UTF8
from collections.abc import Iterator
from contextlib import contextmanager
from functools import reduce
from operator import or_
from pathlib import Path
from types import GenericAlias
from typing import Annotated, cast

from pydantic import Field, TypeAdapter, ValidationError

from layup.errors import Problem
from layup.materials.names import JOURNAL
from layup.materials.plain_file import read_plain
from layup.records.folder import not_readable
from layup.records.record import RECORDS, Record
from layup.records.text import clean_text

# Unions made of a table, which a type checker cannot follow.
_ANY_RECORD = cast("type[Record]", Annotated[reduce(or_, RECORDS.values()), Field(discriminator="event")])
_LIST = cast("type[list[Record]]", GenericAlias(list, (_ANY_RECORD,)))
LINE: TypeAdapter[Record] = TypeAdapter(_ANY_RECORD)
_LINES: TypeAdapter[list[Record]] = TypeAdapter(_LIST)
_KEPT = "the line stays in the file and does not count"


class LineReader:
    """Turn the bytes of a journal into records, piece by piece as they arrive."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []
        self.tail = b""
        """What follows the last line end: a line half written, or torn."""
        self.line = 0
        """How many lines are complete."""
        self._seq = 0
        self._elapsed_s = 0.0

    def feed(self, data: bytes) -> list[Record]:
        """Return the records of the lines that `data` completes."""
        whole, end, self.tail = (self.tail + data).rpartition(b"\n")
        if not end:
            return []
        lines = whole.split(b"\n")
        if not self.line:
            lines[0] = lines[0].removeprefix(BOM_UTF8)  # an editor's mark, and no part of the line
        records = self._all_good(lines)
        if records is None:
            records = [record for i, line in enumerate(lines, self.line + 1) for record in self._one(i, line)]
        self.line += len(lines)
        return records

    def _all_good(self, lines: list[bytes]) -> list[Record] | None:
        """Return the records if every line is good, read at one go; None to look at the lines one by one."""
        try:
            records = _LINES.validate_json(b"[" + b",".join(lines) + b"]")
        except ValidationError:
            return None
        if len(records) != len(lines):
            return None
        seq, elapsed_s = self._seq, self._elapsed_s
        for record in records:
            if record.seq <= seq or record.elapsed_s < elapsed_s:
                return None
            seq, elapsed_s = record.seq, record.elapsed_s
        self._seq, self._elapsed_s = seq, elapsed_s
        return records

    def _one(self, number: int, line: bytes) -> Iterator[Record]:
        """Yield the record of one line, or note what is wrong with it; an empty line is neither."""
        if not line.strip():
            return
        try:
            record = LINE.validate_json(line)
        except ValidationError as error:
            self.problems.append(self._damaged(number, error))
            return
        if record.seq <= self._seq:
            wrong = f"seq is {record.seq} after {self._seq}: two writers, or two journals merged"
            self.problems.append(Problem(self.file, number, "seq", wrong, _KEPT))
        elif record.elapsed_s < self._elapsed_s:
            wrong = f"elapsed_s falls from {self._elapsed_s:g} to {record.elapsed_s:g}"
            self.problems.append(Problem(self.file, number, "elapsed_s", wrong, _KEPT))
        else:
            self._seq, self._elapsed_s = record.seq, record.elapsed_s
            yield record

    def _damaged(self, number: int, error: ValidationError) -> Problem:
        first = error.errors(include_url=False, include_context=False)[0]
        key = ".".join(str(part) for part in first["loc"][1:])
        message = clean_text(f"the line cannot be read: {first['msg']}", limit=300).text
        newer = first["type"] == "union_tag_invalid" or key == "v"
        hint = f"{_KEPT}; a newer version of the program may read it" if newer else _KEPT
        return Problem(self.file, number, clean_text(key, limit=80).text, message, hint)


@contextmanager
def collector_paused() -> Iterator[None]:
    """Pause the garbage collector: reading makes many objects and no garbage, and its passes double the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def read_journal(folder: Path) -> tuple[list[Record], list[Problem]]:
    """Return the records of a session and everything wrong with its journal; change nothing.

    Raises StorageError if there is no journal or it cannot be read.
    """
    path = folder / JOURNAL
    try:
        data = read_plain(path)
    except OSError as error:
        raise not_readable(path, error) from error
    reader = LineReader(str(path))
    with collector_paused():
        records = reader.feed(data)
    if reader.tail:
        wrong = f"the last line is torn ({len(reader.tail)} bytes without a line end)"
        reader.problems.append(Problem(str(path), reader.line + 1, "", wrong, "it is set aside when the day goes on"))
    return records, reader.problems


def strays(folder: Path) -> list[Problem]:
    """Return a warning for each file in a session's folder that may hold entries of its journal, and does not count.

    A syncing folder leaves such copies where two machines wrote, and `Journal` what it found in its place.
    """
    try:
        names = sorted(path.name for path in folder.iterdir() if path.suffix == ".jsonl")
    except OSError:
        return []  # what cannot be listed is told where its journal is read
    words = "lies beside the journal, and nothing in it counts"
    hint = "compare the two: log anew what is missing in the journal, then move this file away"
    return [Problem(str(folder / name), 1, "", words, hint, warning=True) for name in names if name != JOURNAL]
