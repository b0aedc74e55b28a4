"""Make text that came from outside safe to keep and to show: no control codes, no hidden direction changes."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

_REFUSED = (
    r"\u0000-\u0009\u000b-\u001f"  # C0 (escape, bell, backspace, tab, carriage return), all but the line feed
    r"\u007f-\u009f"  # delete and C1
    r"\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"  # writing direction overrides: shown text would not be its order
    r"\u2028\u2029\ufeff"  # other line ends and the byte order mark
)
NAME_LIMIT, NOTE_LIMIT = 200, 20_000
"""Characters of a name, and of free words."""
PLAIN_PATTERN = f"^[^{_REFUSED}]*$"
"""What the journal's text fields accept; the same expression is in the published JSON Schema."""
_LINE_END = re.compile("\r\n?|\u2028|\u2029")
_UNSAFE = re.compile(f"[{_REFUSED}\ud800-\udfff]")  # and lone surrogates, which no file can hold


def plain(text: str) -> str:
    """Return `text` without what a terminal or a reader would obey or be misled by, wherever it is drawn or printed."""
    return _UNSAFE.sub("", text)


@dataclass(frozen=True, slots=True)
class CleanText:
    """Text fit to keep, with how many characters were taken out and how many did not fit."""

    text: str
    removed: int = 0
    cut: int = 0

    @property
    def report(self) -> str:
        """What was done to the text, in words for the person who typed it; empty when nothing was."""
        parts = []
        if self.removed:
            parts.append(f"{self.removed} control character{'s' if self.removed > 1 else ''} left out")
        if self.cut:
            parts.append(f"the last {self.cut} character{'s' if self.cut > 1 else ''} did not fit")
        return ", ".join(parts)


def clean_text(text: str, *, limit: int) -> CleanText:
    """Return `text` without control codes and no longer than `limit` characters, and count what was left out.

    Every line end becomes a line feed and a tab a space; neither counts as left out.
    """
    tidy = _LINE_END.sub("\n", text).replace("\t", " ")
    safe, removed = _UNSAFE.subn("", tidy)
    return CleanText(safe[:limit], removed, max(0, len(safe) - limit))


def clean(text: str, limit: int = NAME_LIMIT) -> str:
    """Return `text` as `clean_text` makes it fit to keep, of which nobody asks what was left out."""
    return clean_text(text, limit=limit).text


def number_runs(numbers: Iterable[int]) -> str:
    """Return numbers with those that follow one another as runs: 2-6, 8, 10-11."""
    known = sorted(set(numbers))
    begins = [one for one in known if one - 1 not in known]
    ends = [one for one in known if one + 1 not in known]
    return ", ".join(f"{one}" if one == end else f"{one}-{end}" for one, end in zip(begins, ends, strict=True))


def shortened(words: str, room: int) -> str:
    """Return words that take no more than `room` columns, and show where they were cut: behind a word."""
    return words if len(words) <= room else f"{words[: room - 1].rstrip(' ·')}…"
