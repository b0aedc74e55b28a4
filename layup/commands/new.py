"""Make a workshop folder with the demo resins and a sample plan; nothing that is there is overwritten.

Without DIR, on a terminal: asks in this folder whether a resin, a board or the demo comes first.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from layup.commands.app import add_app_arguments, has_terminal, open_app, way_back
from layup.errors import InputError, printable
from layup.files.workshop import new_workshop, require_no_workshop

EXAMPLE = "layup new my-workshop"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup new`."""
    parser.add_argument("dir", metavar="DIR", nargs="?", help="the folder to make (default: this one, asked)")


def run(args: argparse.Namespace) -> int:
    """Make the folder and say what to do next; or ask."""
    if args.dir is None:
        return _ask_here()
    folder = Path(args.dir)
    new_workshop(folder)
    name = printable(str(folder))
    print(f"made {name}: resins/ (edit or add your datasheets) and sessions/ (a sample plan)")
    print(f"next: {way_back(name)}")
    return 0


def _ask_here() -> int:
    """Open the app in this folder, which asks what comes first."""
    if not has_terminal():
        missing = "the following arguments are required: DIR"
        raise InputError("layup new", missing, todo="see 'layup new --help'")
    require_no_workshop(Path())
    parser = argparse.ArgumentParser()
    add_app_arguments(parser)
    return open_app(".", parser.parse_args([]))
