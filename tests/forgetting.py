"""What the program remembers from one answer to the next, emptied."""

from __future__ import annotations

import sys
from collections import deque


def forget() -> None:
    """Empty what the program remembers between two plans."""
    for name, module in list(sys.modules.items()):
        if name.startswith("layup."):
            for value in vars(module).values():
                if hasattr(value, "cache_clear"):
                    value.cache_clear()
                elif isinstance(value, deque):
                    value.clear()
