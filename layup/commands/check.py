"""Check resin, plan and session files, and list every problem at once with its file and line."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING

from layup.commands.answer import add_json_argument, answer
from layup.commands.reading import add_workshop_argument
from layup.errors import Problem
from layup.files.workshop import Workshop
from layup.session.reader import read_journal, strays

if TYPE_CHECKING:
    from rich.console import Console

EXAMPLE = "layup check     layup check resins/slow-laminating.toml sessions/touring-skis/plan.toml"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup check`."""
    parser.add_argument("--keys", action="store_true", help="list every key of resin and plan files, and its meaning")
    parser.add_argument("files", nargs="*", metavar="FILE", help="files or folders (default: the whole workshop)")
    add_workshop_argument(parser)
    add_json_argument(parser)


def run(args: argparse.Namespace) -> int:
    """List the problems; return 2 if there are any."""
    if args.keys:
        return _list_keys(args.json)
    paths = [Path(name) for name in args.files]
    problems = Workshop(Path(args.workshop)).check(paths, check_journal=_check_journal)

    def text(console: Console) -> None:
        for problem in problems:
            console.print(str(problem), soft_wrap=True)
        count = len(problems)
        console.print("no problems" if not count else f"{count} problem{'s' if count > 1 else ''}")

    data = {"problems": [problem._asdict() for problem in problems], "count": len(problems)}
    return answer(args.json, data, text, assumptions=[], code=2 if problems else 0)


def _list_keys(as_json: bool) -> int:
    """List the keys of the files that people write."""
    from layup.files.keys import plan_keys, resin_keys

    files = {"resins/NAME.toml": resin_keys(), "sessions/NAME/plan.toml": plan_keys()}

    def text(console: Console) -> None:
        for file, keys in files.items():
            console.print(f"{file}   (* must be there; a quantity is a text with its unit)")
            width = max(len(key.path) for key in keys) + 2
            for key in keys:
                line = f"{'*' if key.needed else ' '} {key.path:<{width}}{key.words}   {key.example}".rstrip()
                for piece in wrap(line, console.width, subsequent_indent=" " * (width + 2)):
                    console.print(piece)
            console.print()

    data = {"keys": {file: [asdict(key) for key in keys] for file, keys in files.items()}}
    return answer(as_json, data, text, assumptions=[])


def _check_journal(path: Path) -> list[Problem]:
    return [*read_journal(path.parent)[1], *strays(path.parent)]
