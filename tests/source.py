"""What the modules of the program import, each read once."""

import ast
from functools import cache
from pathlib import Path

BLOCKS = ("body", "orelse", "finalbody", "handlers", "cases")
"""Where statements stand in a statement."""


@cache
def imports_in(path: Path) -> tuple[tuple[ast.Import | ast.ImportFrom, bool], ...]:
    """Return each import of a module, those inside functions among them, and whether it is at top level."""
    top = ast.parse(path.read_text(encoding="utf-8")).body
    found, pending = [], [(node, True) for node in top]
    while pending:
        node, at_top = pending.pop()
        if isinstance(node, ast.Import | ast.ImportFrom):
            found.append((node, at_top))
        pending += [(each, False) for name in BLOCKS for each in getattr(node, name, ())]
    return tuple(found)
