"""A report as blocks of plain text, before it is HTML or Markdown. Nothing in a block is markup."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; level 1 is the report's own."""

    text: str
    level: int = 2


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph; `strong` for the verdict."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Points:
    """A list of points; `numbered` where their order says something."""

    items: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A table; columns named in `numbers` are set flush right."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart as SVG, with what it shows in words for those who cannot see it."""

    svg: str
    words: str


Block = Heading | Paragraph | Points | Table | Chart
