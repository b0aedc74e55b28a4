"""Open the app on a throwaway copy of the demo workshop: a pair of touring skis, ready to press."""

from __future__ import annotations

import argparse

from layup.commands.app import add_app_arguments

EXAMPLE = "layup demo     layup demo --keep my-demo"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup demo`."""
    add_app_arguments(parser)
    parser.add_argument(
        "--keep",
        metavar="DIR",
        help="make the copy, its two sessions included, in this new folder and keep it: later, "
        "'layup --workshop DIR' opens it (default: it is deleted when you quit)",
    )


def run(args: argparse.Namespace) -> int:
    """Copy the demo workshop, unless nobody could see the app, and open the app in it."""
    from pathlib import Path

    from layup.commands.app import open_app, open_demo, require_terminal
    from layup.files.workshop import new_workshop

    require_terminal()
    if args.keep is not None:
        new_workshop(Path(args.keep), whole=True)
        return open_app(args.keep, args)
    return open_demo(args)
