"""TOML with line numbers: tomllib reads the values, a small scanner finds the line of every key."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from layup.errors import Problem, StorageError
from layup.materials.plain_file import read_plain

KeyPath = tuple[str | int, ...]
LARGEST_FILE_BYTES = 1_000_000
_TWICE = ("cannot overwrite", "cannot declare")
"""How the messages begin that tell of a key or a table that stands in the file already."""
_KEEP_ONE = "it stands above already: keep one of them"
_HINT = 'texts and quantities stand in quotes: width = "20 mm"'
_LONGEST_NUMBER = re.compile(r"[0-9_]{4000,}")


@dataclass(frozen=True, slots=True)
class Document:
    """A TOML file's values (`data`), and the 1-based line of each key path in it."""

    file: str
    data: dict[str, Any]  # Any: whatever a person wrote; the models check it
    lines: dict[KeyPath, int]

    def line(self, path: KeyPath) -> int:
        """Return the line of `path`, or of the nearest thing around it."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)

    def is_table(self, path: KeyPath) -> bool:
        """Whether `path` holds keys of its own, or items."""
        return any(len(each) > len(path) and each[: len(path)] == path for each in self.lines)


def read_toml(path: Path) -> Document | Problem:
    """Read a TOML file; what is wrong with it as TOML comes back as a Problem.

    Raises StorageError where there is no file, or none that can be read.
    """
    file = str(path) if str(path).isprintable() else ascii(str(path))
    try:
        raw = read_plain(path, most=LARGEST_FILE_BYTES + 1)
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        raise StorageError(
            file, "cannot be read", value=getattr(error, "strerror", error), todo="check the name and the permissions"
        ) from None
    if len(raw) > LARGEST_FILE_BYTES:
        return Problem(file, 1, "", "is larger than 1 MB", "this is no resin or plan file")
    try:
        text = raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        return Problem(file, line, "", f"is not UTF-8 text (byte {raw[error.start]:#04x})", "save it as UTF-8")
    return parse_toml(text, file)


def parse_toml(text: str, file: str) -> Document | Problem:
    """Parse TOML text; a syntax error comes back as a Problem with its line."""
    try:
        return Document(file, tomllib.loads(text), key_lines(text))
    except tomllib.TOMLDecodeError as error:
        message, line = _place(str(error), text)
        twice = message.startswith(_TWICE)
        return Problem(file, line, "", f"is not valid TOML: {message}", _KEEP_ONE if twice else _HINT)
    except ValueError:  # the one that tomllib lets through: Python's own limit on the digits of an integer
        match = _LONGEST_NUMBER.search(text)
        line = text.count("\n", 0, match.start()) + 1 if match else 1
        return Problem(file, line, "", "holds a number of thousands of digits", "write it shorter")
    except RecursionError:
        return Problem(file, 1, "", "is nested too deep to read", "write plain tables")


def _place(message: str, text: str) -> tuple[str, int]:
    """Split tomllib's message into the words and the line that they are about."""
    words, _, place = message.rpartition(" (at ")
    match = re.match(r"line (\d+)", place)
    last = text.rstrip("\n").count("\n") + 1
    return (words or message)[:1].lower() + (words or message)[1:], int(match[1]) if match else last


def key_lines(text: str) -> dict[KeyPath, int]:
    """Map each key path of valid TOML `text`, array items included, to its 1-based line."""
    return _Scanner(text).scan()


class _Scanner:
    """Walks text that tomllib has accepted, so that it can be lenient about everything but structure."""

    _BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
    _BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
    _SCALAR = re.compile(r"[^,\]}#\n]*")
    _STRINGS = (
        re.compile(r'"""(?:[^\\]|\\.)*?"{3,5}', re.DOTALL),
        re.compile(r"'''.*?'{3,5}", re.DOTALL),
        re.compile(r'"(?:[^"\\\n]|\\.)*"'),
        re.compile(r"'[^'\n]*'"),
    )

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.newlines = [index for index, char in enumerate(text) if char == "\n"]
        self.lines: dict[KeyPath, int] = {}
        self.lengths: dict[KeyPath, int] = {}
        """How many tables each array of tables holds so far."""

    def scan(self) -> dict[KeyPath, int]:
        table: KeyPath = ()
        self._skip_blank()
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                table = self._header()
            else:
                self._pair(table)
            self._skip_blank()
        return self.lines

    def _skip_blank(self) -> None:
        self._take(self._BLANK)

    def _take(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            raise AssertionError(f"tomllib accepts what the line scanner does not, at character {self.at}")
        self.at = match.end()
        return match[0]

    def _note(self, path: KeyPath) -> None:
        """Record the current line for `path` and for each table around it that has none yet."""
        line = bisect_right(self.newlines, self.at - 1) + 1
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], line)

    def _header(self) -> KeyPath:
        double = self.text.startswith("[[", self.at)
        self.at += 2 if double else 1
        path: KeyPath = ()
        parts = list(self._key())
        for index, part in enumerate(parts):
            path = (*path, part)
            if double and index == len(parts) - 1:
                self.lengths[path] = self.lengths.get(path, 0) + 1
            if path in self.lengths:
                path = (*path, self.lengths[path] - 1)
        self._note(path)
        self.at += 2 if double else 1
        return path

    def _key(self) -> Iterator[str]:
        """Yield the parts of a dotted key and stop before what follows it."""
        while True:
            self._skip_blank()
            if self.text[self.at] in "\"'":
                yield str(tomllib.loads(f"key = {self._string()}")["key"])
            else:
                yield self._take(self._BARE_KEY)
            self._skip_blank()
            if self.text[self.at] != ".":
                return
            self.at += 1

    def _pair(self, table: KeyPath) -> None:
        start = self.at
        path = (*table, *self._key())
        after, self.at = self.at, start
        self._note(path)
        self.at = after + 1
        self._value(path)

    def _value(self, path: KeyPath) -> None:
        self._skip_blank()
        opening = self.text[self.at]
        if opening in "\"'":
            self._string()
        elif opening in "[{":
            self._group(path, inline_table=opening == "{")
        else:
            self._take(self._SCALAR)

    def _group(self, path: KeyPath, *, inline_table: bool) -> None:
        """Walk an array or an inline table, which may span lines."""
        self.at += 1
        index = 0
        while True:
            self._skip_blank()
            if self.text[self.at] in "]}":
                self.at += 1
                return
            if self.text[self.at] == ",":
                self.at += 1
            elif inline_table:
                self._pair(path)
            else:
                self._note((*path, index))
                self._value((*path, index))
                index += 1

    def _string(self) -> str:
        for pattern in self._STRINGS:
            if pattern.match(self.text, self.at):
                return self._take(pattern)
        raise AssertionError(f"no string at character {self.at}")
