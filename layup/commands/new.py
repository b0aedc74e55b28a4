"""Make a workshop folder with the demo resins and a sample plan; nothing that is there is overwritten."""

from __future__ import annotations

import argparse
from pathlib import Path

from layup.commands.app import way_back
from layup.errors import printable
from layup.files.workshop import new_workshop

EXAMPLE = "layup new my-workshop"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup new`."""
    parser.add_argument("dir", metavar="DIR", help="the folder to make")


def run(args: argparse.Namespace) -> int:
    """Make the folder and say what to do next."""
    folder = Path(args.dir)
    new_workshop(folder)
    name = printable(str(folder))
    print(f"made {name}: resins/ (edit or add your datasheets) and sessions/ (a sample plan)")
    print(f"next: {way_back(name)}")
    return 0
