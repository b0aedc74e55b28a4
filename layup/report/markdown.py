"""A report as Markdown, with every mark of Markdown in its texts made harmless. Charts stand there in words."""

from __future__ import annotations

import re
from collections.abc import Sequence

from layup.report.blocks import Block, Chart, Heading, Paragraph, Points, Table

_MARKS = re.compile(r"([\\`*_{}\[\]<>#|~!&])")
_LIST_OR_RULE = re.compile(r"^(\s*\d*)([-+=.)])(?=[\s=-]|$)", re.MULTILINE)
"""What would begin a list, or underline a heading, at the start of a line."""


def markdown(blocks: Sequence[Block]) -> str:
    """Return a report as Markdown."""
    return "\n\n".join(_block(block) for block in blocks) + "\n"


def plain(text: str) -> str:
    """Return text in which nothing is markup."""
    return _LIST_OR_RULE.sub(r"\1\\\2", _MARKS.sub(r"\\\1", text))


def _block(block: Block) -> str:
    match block:
        case Heading(text, level):
            return f"{'#' * level} {_one_line(text)}"
        case Paragraph(text, strong):
            words = plain(text).replace("\n", "  \n")
            return f"**{_one_line(text)}**" if strong else words
        case Points(items, numbered):
            marks = [f"{number}." if numbered else "-" for number in range(1, len(items) + 1)]
            return "\n".join(f"{mark} {_one_line(item)}" for mark, item in zip(marks, items, strict=True))
        case Table():
            return _table(block)
        case Chart(_, words):
            return f"*{_one_line(words)}*"


def _one_line(text: str) -> str:
    return plain(" ".join(text.split()))


def _table(table: Table) -> str:
    rule = ["---:" if name in table.numbers else "---" for name in table.head]
    rows = [table.head, tuple(rule), *table.rows]
    lines = [[cell if row is rows[1] else _one_line(cell) for cell in row] for row in rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)
