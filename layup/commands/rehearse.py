"""Rehearse a plan: a dry run without resin, kept as a lesson, or a day for play at many times its speed."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from layup.commands.app import add_app_arguments, open_app, require_terminal
from layup.commands.command import PLAN_HELP, takes
from layup.errors import InputError
from layup.files.workshop import Workshop, plan_alone

if TYPE_CHECKING:
    from layup.app.app import LayupApp

EXAMPLE = 'layup rehearse touring-skis     layup rehearse touring-skis --fast 20 --mishap "helper leaves"'
FASTEST = 60.0


WORDS = f"""
PLAN  {PLAN_HELP}
--mishap NAME...  with --fast: "batch goes off early", "helper leaves" or "cold", again and again (default: none)
--workshop DIR
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup rehearse`."""
    add_app_arguments(parser)
    fast = f"play a press day at 1 to {FASTEST:.0f} times its speed, nothing of it is kept (default: a dry run)"
    parser.add_argument("--fast", metavar="N", type=float, help=fast)
    takes(WORDS)(parser)


def run(args: argparse.Namespace) -> int:
    """Open the app on a dry run of a plan, or on a day for play in a folder that is thrown away."""
    workshop = Workshop(args.workshop)
    path = workshop.plan_path(args.plan)
    if args.fast is None:
        if args.mishap:
            raise InputError("--mishap", "needs a day for play", todo="add --fast 20")

        def dry(app: LayupApp) -> None:
            app.begins_with = "dry_run"

        return open_app(args.workshop, args, plan=str(path), prepare=dry)
    if not 1.0 <= args.fast <= FASTEST:
        raise InputError("--fast", "is out of range", value=f"{args.fast:g}", allowed=f"1 to {FASTEST:.0f}")
    from layup.bench.rehearsal import MISHAPS, FastClock, Play

    unknown = [name for name in args.mishap if name not in MISHAPS]
    if unknown:
        raise InputError("--mishap", "is not known", value=unknown[0], allowed=", ".join(MISHAPS))
    require_terminal()

    def fast(app: LayupApp) -> None:
        app.at_speed = Play(args.fast, list(args.mishap), workshop)
        app.clock = FastClock(app.clock, args.fast)

    with plan_alone(workshop, path) as root:
        return open_app(str(root), args, plan=path.parent.name, banner="PLAY: nothing is kept", prepare=fast)
