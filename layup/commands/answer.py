"""How a computing command answers: one JSON object for programs, or text for people.

Write the files that commands are asked for: whole or not at all, and never over what a workshop reads.
"""

from __future__ import annotations

import argparse
import math
import os
from collections.abc import Callable, Collection, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from layup.errors import InputError, StorageError
from layup.files.durable import JOURNAL, put

if TYPE_CHECKING:
    from rich.console import Console

# -- answer ----------------------------------------------------------------------------------------------------------


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


# -- writing ---------------------------------------------------------------------------------------------------------

READ_AND_WRITTEN = (".csv", ".jsonl")
"""Endings of outputs that drawings, temperatures and journals have too: of these only an earlier output is replaced."""
SAME = 18
"""So many bytes are the same at the beginning of all exports of one format: no drawing and no journal begins so."""


def require_ending(path: Path, endings: Collection[str], where: str) -> str:
    """Return the ending of an output's name in small letters; one that its format does not have is refused."""
    ending = path.suffix.lower()
    if ending not in endings:
        allowed = f"a name that ends in {', '.join(endings)}"
        raise InputError(where, "has no such format", value=path.name, allowed=allowed)
    return ending


def write_output(path: Path, data: bytes, *, force: bool) -> None:
    """Write a new file at one go; `force` replaces an earlier one, but never what a workshop may read.

    The data stand on the disk beside the place before the name is given to them, so that no crash leaves half a file.
    Raises StorageError where that cannot be done, and where the name is taken.
    """
    if path.name.casefold() == JOURNAL:
        todo = "choose another name; a journal is only ever added to"
        raise StorageError(str(path), "is a name that the workshop reads", todo=todo)
    if os.path.lexists(path):
        _require_replaceable(path, data, force=force)
    try:
        put(path, data, new=not force)
    except FileExistsError:
        raise _taken(path) from None
    except OSError as error:
        raise StorageError(str(path), "cannot be written", value=error.strerror, todo="choose another folder") from None


def _require_replaceable(path: Path, data: bytes, *, force: bool) -> None:
    if not force:
        raise _taken(path)
    if path.is_symlink() or not path.is_file():
        raise StorageError(str(path), "is a link, a folder or a device", todo="choose another name, of a plain file")
    if path.suffix.lower() not in READ_AND_WRITTEN:
        return
    try:
        with path.open("rb") as file:
            begins = file.read(SAME)
    except OSError as error:
        raise StorageError(str(path), "cannot be read", value=error.strerror, todo="choose another name") from None
    if begins != data[:SAME]:
        todo = (
            "choose another name: it may be a drawing, a log of temperatures or a journal that a plan or session reads"
        )
        raise StorageError(str(path), "is not an earlier export", todo=todo)


def _taken(path: Path) -> StorageError:
    return StorageError(str(path), "is there already", todo="choose another name, or replace it with --force")
