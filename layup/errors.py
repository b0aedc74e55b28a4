"""What can go wrong, said so that a person can act on it.

Every message has the same shape: ``where: what is wrong (value) - what is allowed - what to do``.
"""

from __future__ import annotations

from typing import NamedTuple


class LayupError(Exception):
    """An error to show to the user; `exit_code` is what a command returns for it."""

    exit_code = 2

    def __init__(self, where: str, wrong: str, *, value: object = None, allowed: str = "", todo: str = "") -> None:
        self.where = where
        self.wrong = wrong
        self.value = value
        self.allowed = allowed
        self.todo = todo
        super().__init__(str(self))

    def __str__(self) -> str:
        return f"{self.where}: {self.words}"

    @property
    def words(self) -> str:
        """What is wrong, what is allowed and what to do, without where."""
        text = self.wrong if self.value is None else f"{self.wrong} ({self.value})"
        return " - ".join(part for part in (text, self.allowed, self.todo) if part)

    @property
    def allows(self) -> str:
        """What to do or what is allowed, for where the value and what it is for stand above it; else all of it."""
        return self.todo or self.allowed or self.words

    @property
    def not_known(self) -> str:
        """What to say in the place of a number that this error kept from being worked out, in a few words."""
        value = "" if self.value is None else f" ({self.value})"
        return f"not known: {self.where} {self.wrong}{value}"


class RangeError(LayupError, ValueError):
    """A number outside its valid range, or a set of numbers that contradict each other."""


class InputError(LayupError, ValueError):
    """Words, units or file contents that cannot be understood."""


class StorageError(LayupError):
    """A file or folder that cannot be read or written."""

    exit_code = 3


class Problem(NamedTuple):
    """One thing wrong in a file: errors as data, so that all of them are reported at once."""

    file: str
    line: int
    key: str
    message: str
    hint: str = ""
    warning: bool = False
    """True for what is odd but usable; the file still loads."""

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}" if self.line else self.file
        place = f"{place}: warning" if self.warning else place
        head = f"{place}: {self.key}: {self.message}" if self.key else f"{place}: {self.message}"
        return f"{head} - {self.hint}" if self.hint else head


class FileError(InputError):
    """All the problems of one or more files, raised where a usable file is needed."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = problems
        super().__init__(problems[0].file, "\n".join(str(problem) for problem in problems))

    def __str__(self) -> str:
        return self.wrong

    @property
    def not_known(self) -> str:
        """What to say in the place of a number that needs the file: its first problem."""
        return f"not known: {self.problems[0]}"


def printable(text: str) -> str:
    """Return `text` with line ends as they are and every other character that does not print as its escape."""
    if text.isprintable():
        return text
    return "".join(each if each.isprintable() or each == "\n" else ascii(each)[1:-1] for each in text)
