"""The modules of the program, each read once, and what they import."""

import ast
from functools import cache
from pathlib import Path

BLOCKS = ("body", "orelse", "finalbody", "handlers", "cases")
"""Where statements stand in a statement."""


@cache
def tree_of(path: Path) -> ast.Module:
    """Return a module's syntax."""
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def imports_in(path: Path) -> tuple[tuple[ast.Import | ast.ImportFrom, bool], ...]:
    """Return each import of a module, those inside functions among them, and whether it is at top level."""
    top = tree_of(path).body
    found, pending = [], [(node, True) for node in top]
    while pending:
        node, at_top = pending.pop()
        if isinstance(node, ast.Import | ast.ImportFrom):
            found.append((node, at_top))
        pending += [(each, False) for name in BLOCKS for each in getattr(node, name, ())]
    return tuple(found)
