"""How a computing command answers: one JSON object for programs, or text for people."""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Collection, Iterable, Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console


def add_json_argument(parser: argparse.ArgumentParser) -> None:
    """Add `--json`, which every computing command takes."""
    parser.add_argument("--json", action="store_true", help="print one JSON object instead of text")


def answer(
    as_json: bool,
    data: Mapping[str, object],
    text: Callable[[Console], None],
    *,
    assumptions: list[str],
    telling: Collection[str] | None = None,
    code: int = 0,
) -> int:
    """Print `data` with its assumptions as JSON, or let `text` print for people; return the exit code.

    Where there are many assumptions people see the `telling` ones, how many more there are, and how to see them.
    """
    assumed = list(dict.fromkeys(assumptions))
    if as_json:
        import json  # here, because the version and the help are told without it

        print(json.dumps(_finite({**data, "assumptions": assumed}), indent=2, allow_nan=False))
        return code
    console = text_console()
    text(console)
    if assumed:
        shown = [each for each in assumed if telling is None or each in telling]
        if len(shown) < len(assumed):
            shown.append(f"{len(assumed) - len(shown)} more, of the model and of common practice: see --json")
        console.print("\nassumed:", style="dim")
        for line in panel_lines(shown):
            console.print(line, style="dim")
    return code


def text_console() -> Console:
    """Return a console for people: plain when piped, and never styled by text that came from a file."""
    from layup.commands.paper import Paper

    return Paper()


def panel_lines(sentences: Iterable[str]) -> list[str]:
    """Return advice or cautions, one a line."""
    return [f"- {sentence}" for sentence in sentences]


def _finite(value: object) -> object:
    """Return `value` with infinities and NaN as null, which JSON cannot hold."""
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, Mapping):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(item) for item in value]
    return value
