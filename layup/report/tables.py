"""Tables as lines of text, laid out by rich: columns as wide as their words, numbers to the right."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.table import Table


def table_lines(
    heads: Sequence[str], rows: Iterable[Sequence[str]], *, left: str = "", width: int = 120, indent: int = 0
) -> list[str]:
    """Return a table as lines: no head where all of `heads` are empty; `left` names the columns of words by letters.

    `left` has one character a column, "l" for words, anything else for numbers; columns beyond it hold numbers. Two
    blanks stand between columns, and words too long for `width` columns in all are cut with an ellipsis.
    """
    table = Table(box=None, show_header=any(heads), header_style="", pad_edge=False, padding=(0, 2, 0, 0))
    for place, head in enumerate(heads):
        words = left[place : place + 1] == "l"
        table.add_column(head, justify="left" if words else "right", no_wrap=True, overflow="ellipsis")
    for row in rows:
        table.add_row(*row)
    console = Console(width=width - indent, color_system=None, markup=False, highlight=False)
    with console.capture() as captured:
        console.print(table)
    return [(" " * indent + line).rstrip() for line in captured.get().splitlines()]
