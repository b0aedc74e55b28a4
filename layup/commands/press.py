"""Start a press day with a plan, or resume a session, in the app."""

from __future__ import annotations

import argparse

from layup.commands.app import add_app_arguments, open_app
from layup.commands.command import forecast_of, forecast_words, takes
from layup.files.durable import JOURNAL
from layup.files.workshop import Workshop

EXAMPLE = "layup press touring-skis"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup press`."""
    add_app_arguments(parser)
    parser.add_argument("name", metavar="PLAN|SESSION", help="a plan, or a session folder to go on with")
    casting = "--casting  the casting day of the plan, before its press day"
    takes(f"{casting}\n{forecast_words()}\n--workshop DIR")(parser)


def run(args: argparse.Namespace) -> int:
    """Open the app on a plan or a running session."""
    workshop = Workshop(args.workshop)
    if not args.name.endswith(".toml"):
        folder = workshop.session_path(args.name, what="plan or session")
        if (folder / JOURNAL).is_file():
            return open_app(args.workshop, args, session=folder)
    plan = str(workshop.plan_path(args.name))
    return open_app(args.workshop, args, plan=plan, casting=args.casting, forecast=forecast_of(args))
