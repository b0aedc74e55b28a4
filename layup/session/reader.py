"""Read a journal's lines: what can be read becomes records, what cannot becomes a problem with its line number.

Look on while another process writes: a session's state, kept current from its journal.
"""

from __future__ import annotations

import gc
import os
import re
from codecs import BOM_UTF8
from collections.abc import Iterator
from contextlib import contextmanager
from functools import reduce
from hashlib import sha256
from itertools import pairwise
from operator import or_
from pathlib import Path
from types import GenericAlias
from typing import Annotated, cast

from pydantic import Field, TypeAdapter, ValidationError

from layup.errors import Problem, StorageError
from layup.files.durable import JOURNAL
from layup.files.toml import plain_blocks
from layup.session.clock import Clock, advance
from layup.session.folder import not_readable
from layup.session.lines import DIGITS, END, NOT_COUNTED, Chain, Found, own_digits
from layup.session.records import RECORDS, extend
from layup.session.state import Record, SessionState
from layup.session.text import clean

# -- lines -----------------------------------------------------------------------------------------------------------

# Unions made of a table, which a type checker cannot follow.
_ANY_RECORD = cast("type[Record]", Annotated[reduce(or_, RECORDS.values()), Field(discriminator="event")])
_LIST = cast("type[list[Record]]", GenericAlias(list, (_ANY_RECORD,)))
LINE: TypeAdapter[Record] = TypeAdapter(_ANY_RECORD)
_LINES: TypeAdapter[list[Record]] = TypeAdapter(_LIST)
_HEAD = re.compile(rb'\{"v":')
"""What every line begins with, and what stands nowhere else: in a text its quotes would be escaped."""
BLOCK = 2**18
"""So many bytes are read at one go."""
LONGEST = 2**20
"""No line is longer, in bytes."""
MOST_PROBLEMS = 100
"""So many problems of a journal are told one by one; the others are counted."""


class LineReader:
    """Turn the bytes of a journal into records, piece by piece as they arrive."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.tail = b""
        """What follows the last line end: a line half written, or torn."""
        self.line = 0
        """How many lines are complete."""
        self.wrong = 0
        """How many problems there are."""
        self.chain = Chain()
        self.anew = False
        """Whether what came later changes the order of what was given before: the whole is to be read anew."""
        self._problems: list[Problem] = []
        self._found: list[Record] = []
        self._numbers: list[int] = []
        self._unproven: set[int] = set()
        """The lines of format 2 that count without their sum."""
        self._before = sha256()
        """Of all bytes before the first line that proves itself."""
        self._too_long = 0
        """How many bytes of a line too long were passed over."""
        self._settled = False

    @property
    def problems(self) -> list[Problem]:
        """What is wrong with the lines: the first problems, and how many more there are."""
        told = sorted(self._problems, key=lambda problem: problem.line)
        more = self.wrong - len(told)
        if more:
            words = f"{more:,d} more problem{'' if more == 1 else 's'} like these"
            told.append(Problem(self.file, self.line, "", words, "this is no journal any more, or no whole one"))
        return told

    @property
    def tail_bytes(self) -> int:
        """How many bytes follow the last line end."""
        return self._too_long + len(self.tail)

    def note(self, line: int, key: str, message: str, hint: str = NOT_COUNTED) -> None:
        """Take down a problem."""
        self.wrong += 1
        if len(self._problems) < MOST_PROBLEMS:
            self._problems.append(Problem(self.file, line, key, message, hint))

    def feed(self, data: bytes) -> list[Record]:
        """Return the records of the lines that `data` completes, in order."""
        self.take(data)
        return self.settle()

    def take(self, data: bytes) -> None:
        """Read the lines that `data` completes; what is taken until `settle` is put in order as a whole."""
        if self._too_long:
            end = data.find(b"\n")
            if end < 0:
                self._too_long += len(data)
                return
            self._one(self.line + 1, b"", size=self._too_long + end)
            self.line, self._too_long, data = self.line + 1, 0, data[end + 1 :]
        data = self.tail + data if self.tail else data
        start = 0
        while (end := data.rfind(b"\n", start, start + BLOCK)) >= 0 or (end := data.find(b"\n", start)) >= 0:
            self._block(data[start:end])
            start = end + 1
        self.tail = data[start:]
        if len(self.tail) > LONGEST:
            self._too_long, self.tail = len(self.tail), b""

    def settle(self) -> list[Record]:
        """Return the records of the lines taken, in order."""
        records, numbers = self._found, self._numbers
        self._found, self._numbers = [], []
        if not records:
            return []
        if not self.chain.goes_on(records, numbers[-1]):
            found = [
                Found(line, record, record.v > 1 and line not in self._unproven)
                for line, record in zip(numbers, records, strict=True)
            ]
            records, wrong = self.chain.put_in_order(found)
            for each in wrong:
                self.note(*each)
            self.anew = self.anew or (self._settled and bool(wrong))
        self._settled = True
        return records

    def drop_tail(self) -> None:
        """Forget what follows the last line end: it comes again."""
        self.tail, self._too_long = b"", 0

    def take_tail(self) -> bool:
        """Take what follows the last line end as a line, where an entry stands in it whole; return whether it was."""
        whole = any(isinstance(_proven(piece), Record) for piece in (self.tail, *_pieces(self.tail)))
        if whole:
            self.take(b"\n")
        return whole

    def _block(self, block: bytes) -> None:
        """Read some complete lines, at one go where all of them are good."""
        if not self.line:
            block = block.removeprefix(BOM_UTF8)  # an editor's mark, and no part of the line
        if not block.strip():
            self.line += block.count(b"\n") + 1
            self._passed(block)
            return
        lines = block.split(b"\n")
        records = self._all_good(lines)
        if records is None:
            for number, line in enumerate(lines, self.line + 1):
                self._one(number, line)
        else:
            if not self._begins(records[0]):
                self._passed(block)
            self._found += records
            self._numbers.extend(range(self.line + 1, self.line + 1 + len(records)))
        self.line += len(lines)

    def _begins(self, record: Record) -> bool:
        """Return whether the lines that prove themselves begin here or have begun; the first is to know its place."""
        if record.v > 1 and not self.chain.first:
            self.chain.first = self._before.hexdigest()[:DIGITS]
        return record.v > 1

    def _passed(self, data: bytes) -> None:
        """Have the bytes of lines that stand before the first that proves itself count for its sum."""
        if not self.chain.first:
            self._before.update(data + b"\n")

    def _all_good(self, lines: list[bytes]) -> list[Record] | None:
        """Return the records if every line is good, read at one go; None to look at the lines one by one."""
        try:
            records = _LINES.validate_json(b"[" + b",".join(lines) + b"]")
        except ValidationError:
            return None
        if len(records) != len(lines):
            return None
        sums = [record.sum for record in records]
        if records[0].v > 1:  # lists all at once: half as long as a loop over a hundred thousand lines
            good = [own[DIGITS:] for own in sums] == [sha256(line[:-END]).hexdigest()[:DIGITS] for line in lines]
        else:
            good = not any(sums)
        return records if good and len({record.v for record in records}) == 1 else None

    def _one(self, number: int, raw: bytes, *, size: int = 0) -> None:
        """Take the record of one line, or note what is wrong with it; an empty line is neither."""
        line = raw.removesuffix(b"\r")
        size = size or len(line)
        if size > LONGEST:
            self.chain.bad(number, line)
            self.note(number, "", f"the line is too long for an entry ({size:,d} bytes)")
        elif self.wrong >= MOST_PROBLEMS and not line.startswith(b"{") and not _HEAD.search(line):
            if line.strip():
                self.chain.bad(number, line)
                self.wrong += 1
        elif line.strip():
            found = _proven(line)
            if isinstance(found, Record):
                if not self._begins(found):
                    self._passed(raw)
                self._found.append(found)
                self._numbers.append(number)
                return
            self.chain.bad(number, line)
            self._salvage(number, line, found)
        self._passed(raw)

    def _salvage(self, number: int, line: bytes, wrong: ValidationError | Record | None) -> None:
        """Note what is wrong with a line, and take from it what is good all the same."""
        whole = [piece for piece in map(_proven, _pieces(line)) if isinstance(piece, Record)]
        if whole:
            for piece in whole:
                self._begins(piece)
                self._found.append(piece)
                self._numbers.append(number)
            words = "its line end is lost" if len(whole) > 1 else "something else stands in its line"
            which = " and ".join(f"seq {piece.seq}" for piece in whole)
            self.note(number, "", f"{which}: {words}", "what is whole counts")
        elif isinstance(wrong, ValidationError):
            self.note(number, *(_what_is_damaged(wrong) if self.wrong < MOST_PROBLEMS else ("", "")))
        else:
            self._unlike_its_sum(number, line)

    def _unlike_its_sum(self, number: int, line: bytes) -> None:
        """Note a line that is not as it was written; that of the start counts, since without it nothing would."""
        words = "the line is not as it was written: its sum is another"
        record = LINE.validate_json(line)
        if number == 1 and record.v > 1 and record.event == "session-started":
            self._unproven.add(number)
            self._found.append(record.model_copy(update={"seq": 1, "elapsed_s": 0.0}))
            self._numbers.append(number)
            self.note(number, "sum", words, "it counts, since without it nothing else would: see what it says")
        else:
            self.note(number, "sum", words)


def _proven(line: bytes) -> Record | ValidationError | None:
    """Return the record of a line, what is wrong with it, or None where only its sum is wrong."""
    try:
        record = LINE.validate_json(line)
    except ValidationError as error:
        return error.with_traceback(None)  # which would hold what was read last
    good = own_digits(line) == record.sum[DIGITS:] if record.v > 1 else not record.sum
    return record if good else None


def _pieces(line: bytes) -> Iterator[bytes]:
    """Yield what may be entries within a line that is none as a whole."""
    heads = [match.start() for match in _HEAD.finditer(line)]
    for head, following in pairwise([*heads, len(line)]):
        piece = line[head:following]
        piece = piece[: piece.rfind(b"}") + 1]
        if piece and piece != line:
            yield piece


def _what_is_damaged(error: ValidationError) -> tuple[str, str, str]:
    first = error.errors(include_url=False, include_context=False)[0]
    key = ".".join(str(part) for part in first["loc"][1:])
    message = clean(f"the line cannot be read: {first['msg']}", 300)
    newer = first["type"] == "union_tag_invalid" or key == "v"
    hint = f"{NOT_COUNTED}; a newer version of the program may read it" if newer else NOT_COUNTED
    return clean(key, 80), message, hint


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


def read_through(folder: Path) -> tuple[list[Record], LineReader]:
    """Return the records of a session, and the reader that knows what is wrong with its journal; change nothing.

    Raises StorageError if there is no journal or it cannot be read.
    """
    path = folder / JOURNAL
    reader = LineReader(str(path))
    with collector_paused():
        try:
            for block in plain_blocks(path, BLOCK):
                reader.take(block)
        except OSError as error:
            raise not_readable(path, error) from error
        ended = reader.take_tail()
        records = reader.settle()
    if ended:
        reader.note(reader.line, "", "the line end of the last line is lost", "it counts, and is put right")
    elif reader.tail_bytes:
        wrong = f"the last line is torn ({reader.tail_bytes} bytes without a line end)"
        reader.note(reader.line + 1, "", wrong, "it is set aside when the day goes on")
    elif not records and not reader.wrong:
        reader.note(1, "", "no entry stands in it", "if the day was begun, look for a copy of this file")
    return records, reader


def read_journal(folder: Path) -> tuple[list[Record], list[Problem]]:
    """Return the records of a session and what is wrong with its journal; see `read_through`."""
    records, reader = read_through(folder)
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


# -- follow ----------------------------------------------------------------------------------------------------------

_REMEMBERED = 64
"""So many bytes of a journal's end hold the number and the time of its last line."""


class Follower:
    """A session, open for looking on. `poll` reads what is new; a line half written waits for its end."""

    fault = ""
    """Why it cannot be seen any more, as `tick` found; empty where it can."""
    mended = ""
    """Nothing: who looks on mends nothing."""

    def __init__(self, folder: Path, clock: Clock) -> None:
        self.path = folder / JOURNAL
        self._clock = clock
        self._forget()

    def _forget(self) -> None:
        self.state = SessionState()
        self._reader = LineReader(str(self.path))
        self._read = 0
        """How many bytes of complete lines were read."""
        self._last = b""
        """The last of them: where others stand in their place, the journal was written anew."""
        self._inode = 0

    @property
    def problems(self) -> list[Problem]:
        """What is wrong with the journal so far."""
        return self._reader.problems

    def poll(self) -> bool:
        """Read what was written since the last time; return whether the state changed.

        A journal that was replaced is read anew, and so is one where the order of what was read turns out to be
        another. Raises StorageError if it cannot be read.
        """
        changed = self._read_on()
        if self._reader.anew:
            before = self.state
            self._forget()
            self._read_on()
            changed = self.state != before
        return changed

    def _read_on(self) -> bool:
        """Read what was written since the last time; return whether any of it counts."""
        try:
            with self.path.open("rb") as file:
                stat = os.fstat(file.fileno())
                file.seek(self._read - len(self._last))
                if self._inode not in (0, stat.st_ino) or file.read(len(self._last)) != self._last:
                    self._forget()
                self._inode = stat.st_ino
                file.seek(self._read)
                data = file.read()
        except OSError as error:
            raise not_readable(self.path, error) from error
        self._reader.drop_tail()  # read again from its start: the writer may have cut a torn line off
        with collector_paused():
            records = self._reader.feed(data)
            if records:
                self.state = extend(self.state, records)
        good = data[: data.rfind(b"\n") + 1]
        self._read += len(good)
        self._last = (self._last + good)[-_REMEMBERED:]
        return bool(records)

    def tick(self) -> None:
        """Read what was written since the last time, or say why that cannot be."""
        try:
            self.poll()
            self.fault = ""
        except StorageError as error:
            self.fault = f"NOT UP TO DATE: {error.wrong} ({self.path.name}) - the clocks go by what was read"

    def close(self) -> None:
        """Do nothing: who looks on keeps nobody from writing."""

    def now_s(self) -> float:
        """Return the session's age in s; 0 before anything was read."""
        moment = self.state.moment
        return 0.0 if moment is None else advance(moment, self._clock)[0].elapsed_s
