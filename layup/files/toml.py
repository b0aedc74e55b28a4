"""TOML with line numbers: tomllib reads the values, a small scanner finds the line of every key.

What pydantic finds wrong in a document becomes Problems: a line, a key, plain words and the nearest name. A file may be
there by anybody's hand: never wait for what is no file, and never read more than is allowed.
"""

from __future__ import annotations

import errno
import os
import re
import stat
import tomllib
from bisect import bisect_right
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from difflib import SequenceMatcher, get_close_matches
from functools import lru_cache
from pathlib import Path
from typing import Any, BinaryIO, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from layup.errors import LayupError, Problem, StorageError
from layup.files.fields import printable

# -- plain file ------------------------------------------------------------------------------------------------------


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


# -- toml lines ------------------------------------------------------------------------------------------------------

KeyPath = tuple[str | int, ...]
LARGEST_FILE_BYTES = 1_000_000
_TWICE = ("cannot overwrite", "cannot declare")
"""How the messages begin that tell of a key or a table that stands in the file already."""
_KEEP_ONE = "it stands above already: keep one of them"
_HINT = 'texts and quantities stand in quotes: width = "20 mm"'
_ENDLESS, _SHORTER = "holds a number of thousands of digits", "write it shorter"
_LONGEST_NUMBER = re.compile(r"[0-9_]{4000,}")
LARGEST_NUMBER_BITS = 10_000
"""Some 3,000 digits; Python prints 4,300."""


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
    text = read_text(path)
    return text if isinstance(text, Problem) else parse_toml(text, shown(path))


def shown(path: Path) -> str:
    """Return a path as it can be printed."""
    return str(path) if str(path).isprintable() else ascii(str(path))


def read_text(path: Path) -> str | Problem:
    """Return what stands in a TOML file; that it is no text comes back as a Problem. Raises as `read_toml`."""
    file = shown(path)
    try:
        raw = read_plain(path, most=LARGEST_FILE_BYTES + 1)
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        raise StorageError(
            file, "cannot be read", value=getattr(error, "strerror", error), todo="check the name and the permissions"
        ) from None
    if len(raw) > LARGEST_FILE_BYTES:
        return Problem(file, 1, "", "is larger than 1 MB", "this is no resin or plan file")
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        return Problem(file, line, "", f"is not UTF-8 text (byte {raw[error.start]:#04x})", "save it as UTF-8")


def parse_toml(text: str, file: str) -> Document | Problem:
    """Parse TOML text; a syntax error comes back as a Problem with its line."""
    try:
        document = Document(file, tomllib.loads(text), key_lines(text))
    except tomllib.TOMLDecodeError as error:
        message, line = _place(str(error), text)
        twice = message.startswith(_TWICE)
        return Problem(file, line, "", f"is not valid TOML: {message}", _KEEP_ONE if twice else _HINT)
    except ValueError:  # the one that tomllib lets through: Python's own limit on the digits of an integer
        match = _LONGEST_NUMBER.search(text)
        line = text.count("\n", 0, match.start()) + 1 if match else 1
        return Problem(file, line, "", _ENDLESS, _SHORTER)
    except RecursionError:
        return Problem(file, 1, "", "is nested too deep to read", "write plain tables")
    # 0x and its kin pass Python's limit on digits, and then nobody can print the number
    endless = next((path for path, size_bits in _whole_numbers(document.data) if size_bits > LARGEST_NUMBER_BITS), None)
    return document if endless is None else problem_at(document, endless, _ENDLESS, _SHORTER)


def _whole_numbers(value: Any, path: KeyPath = ()) -> Iterator[tuple[KeyPath, int]]:  # Any: whatever a person wrote
    """Yield where each whole number stands, and how many bits it has."""
    if isinstance(value, int):
        yield path, value.bit_length()
    for key, inner in value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ():
        yield from _whole_numbers(inner, (*path, key))


def _place(message: str, text: str) -> tuple[str, int]:
    """Split tomllib's message into the words and the line that they are about."""
    words, _, place = message.rpartition(" (at ")
    match = re.match(r"line (\d+)", place)
    last = text.rstrip("\n").count("\n") + 1
    return (words or message)[:1].lower() + (words or message)[1:], int(match[1]) if match else last


Judge = Callable[[Document, Path], tuple[Any, list[Problem]]]  # Any: what a document comes to, beside its problems


def understood(path: Path, judge: Judge) -> tuple[Any, list[Problem]]:
    """Return what a file comes to by a judge who asks no more than its text and its name. Raises as `read_toml`."""
    text = read_text(path)
    value, problems = (None, [text]) if isinstance(text, Problem) else _understood(text, path.name, judge)
    return value, [problem._replace(file=shown(path)) for problem in problems]


@lru_cache(maxsize=64)
def _understood(text: str, name: str, judge: Judge) -> tuple[Any, list[Problem]]:
    """Return what a text comes to, without its place; the last ones are kept, as many ask for the same in turn."""
    document = parse_toml(text, name)
    return (None, [document]) if isinstance(document, Problem) else judge(document, Path(name))


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


# -- problems --------------------------------------------------------------------------------------------------------

LISTED = 8
"""Names that a hint lists before it counts the rest."""
_WORDS = {
    "list_type": ("is not a list", "write it in square brackets, or each as [[{key}]]"),
    "tuple_type": ("is not a list", "write it in square brackets, or each as [[{key}]]"),
    "model_type": ("is not a table", "write it as {table} with its keys below"),
    "model_attributes_type": ("is not a table", "write it as {table} with its keys below"),
}


FEW = 3
"""So many words that hold what was written are all named."""


def nearest(word: str, known: Iterable[str]) -> str:
    """Return a hint: the known words that `word` is a part of, where these are few, else the nearest one, or all."""
    names = sorted(known)
    if not names:
        return "there are none"
    holding = [name for name in names if word.lower() in name.lower()]
    near = " or ".join(holding) if 0 < len(holding) <= FEW else _near(word, names)
    return f"did you mean {near}?" if near else f"known are {', '.join(names)}"


def likeliest(word: str, known: Collection[str]) -> str:
    """Return a hint for names of which there may be many: those most like `word` first, and how many more there are."""
    matcher = SequenceMatcher(b=word.lower())

    def likeness(name: str) -> float:
        matcher.set_seq1(name.lower())
        return matcher.ratio()

    near = _near(word, known)
    others = sorted(sorted(set(known) - {near}), key=likeness, reverse=True)
    if not others:
        return f"did you mean {near}?" if near else "there are none"
    more = f" and {len(others) - LISTED} more" if len(others) > LISTED else ""
    listed = ", ".join(others[:LISTED]) + more
    return f"did you mean {near}? there are also {listed}" if near else f"there are {listed}"


def _near(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that may have been meant."""
    by_lower = {name.lower(): name for name in known}
    close = get_close_matches(word.lower(), by_lower, n=1, cutoff=0.6)
    return by_lower[close[0]] if close else None


def key_name(path: KeyPath) -> str:
    """Write a key path as people count: steps[3].minutes is in the third step."""
    name = ""
    for part in path:
        name += f"[{part + 1}]" if isinstance(part, int) else f".{printable(part)}" if name else printable(part)
    return name


def problem_at(document: Document, path: KeyPath, message: str, hint: str = "", *, warning: bool = False) -> Problem:
    return Problem(document.file, document.line(path), key_name(path), message, hint, warning)


def problem_from(document: Document, path: KeyPath, error: LayupError) -> Problem:
    """Make a Problem of an error of the core, at `path`, or at the key in it that the error is about."""
    wrong = error.wrong
    if (*path, error.where) in document.lines:
        path = (*path, error.where)
    elif document.is_table(path) and error.where not in ("value", *path):
        wrong = f"{error.where} {wrong}"
    message = wrong if error.value is None else f"{wrong} ({printable(error.value)})"
    return problem_at(document, path, message, " - ".join(part for part in (error.allowed, error.todo) if part))


def problems_from(document: Document, model: type[BaseModel], errors: ValidationError) -> list[Problem]:
    """Make one Problem of each thing that pydantic refused, in the order of the file's lines."""
    problems = [_problem(document, model, error) for error in errors.errors(include_url=False)]
    return sorted(problems, key=lambda problem: problem.line)


def _problem(document: Document, model: type[BaseModel], error: Any) -> Problem:  # Any: pydantic's ErrorDetails
    path, models = _resolve(model, error["loc"])
    kind, context = str(error["type"]), error.get("ctx", {})
    if isinstance(context.get("error"), LayupError):
        return problem_from(document, path, context["error"])
    key = str(path[-1]) if path else ""
    known = {name: field for each in models for name, field in each.model_fields.items()}
    if kind == "extra_forbidden":
        return problem_at(document, path, "is not a known key", nearest(key, known))
    if kind == "missing":
        return problem_at(document, path[:-1], f"{key} is missing", _example(key, known[key]))
    if kind == "literal_error":
        return _no_choice(document, path, error["input"], context["expected"])
    if kind == "union_tag_invalid":
        return _no_choice(document, (*path, "kind"), context["tag"], context["expected_tags"])
    if kind == "union_tag_not_found":
        kinds = ", ".join(sorted(_kind_of(each) for each in models))
        return problem_at(document, path, "kind is missing", f"write kind = one of {kinds}")
    message, hint = _WORDS.get(kind, (error["msg"], ""))
    name = key_name(tuple(part for part in path if isinstance(part, str)))
    table = f"[[{name}]]" if path and isinstance(path[-1], int) else f"[{name}]"
    return problem_at(document, path, message, hint.format(key=name, table=table))


def _no_choice(document: Document, path: KeyPath, given: object, expected: str) -> Problem:
    """Make a Problem of a word that is none of those allowed; `expected` is pydantic's list of them, in words."""
    known = expected.replace(" or ", ", ").replace("'", "").split(", ")
    word = printable(given)
    return problem_at(document, path, f"is not one of the choices ({word})", nearest(word, known))


def _resolve(model: type[BaseModel], location: Iterable[str | int]) -> tuple[KeyPath, list[type[BaseModel]]]:
    """Return the document's path for pydantic's location, and the models whose keys its last part is one of.

    Pydantic's location also names the variant of a step, which is no part of the path: it stands where several
    models are possible.
    """
    path: KeyPath = ()
    around, models = [model], [model]
    for part in location:
        if isinstance(part, str) and len(models) > 1:
            models = [each for each in models if _kind_of(each) == part]
            continue
        path = (*path, part)
        around = models
        if isinstance(part, str):
            fields = [each.model_fields[part] for each in models if part in each.model_fields]
            models = [found for field in fields for found in models_in(field.annotation)]
    return path, models if path and isinstance(path[-1], int) else around


def _kind_of(model: type[BaseModel]) -> str:
    """Return the word that chooses this variant of a step."""
    return str(get_args(model.model_fields["kind"].annotation)[0])


def models_in(annotation: object) -> Iterator[type[BaseModel]]:
    """Yield the models anywhere inside a type annotation."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from models_in(part)


def _example(key: str, field: FieldInfo) -> str:
    """Return how to write a missing key: the example of its field, or of a table."""
    if field.examples:
        return f"write {key} = {field.examples[0]}"
    if not any(models_in(field.annotation)):
        return f"write {key} = ..."
    return f"write [[{key}]] tables" if get_origin(field.annotation) is tuple else f"write a [{key}] table"
