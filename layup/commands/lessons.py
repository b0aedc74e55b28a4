"""How a resin cures, for a command that answers by what the sessions teach unless it is told not to."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from layup.chemistry.datasheet import Datasheet
from layup.commands.reading import counted
from layup.files.names import JOURNAL
from layup.files.workshop import Workshop

if TYPE_CHECKING:
    from layup.chemistry.calibration import Calibration


def add_lessons_argument(parser: argparse.ArgumentParser) -> None:
    """Add `--no-lessons`."""
    parser.add_argument(
        "--no-lessons", action="store_true", help="leave out what earlier sessions taught (default: it counts)"
    )


def law_of(args: argparse.Namespace, workshop: Workshop, sheet: Datasheet) -> tuple[Calibration, tuple[str, ...]]:
    """Return how a resin of the workshop cures, as its sessions know it, and what they taught, in words.

    A resin from another file cures as its file says.
    """
    law = workshop.calibration(sheet)
    own = workshop.resin_path(args.resin).parent == workshop.resins_folder
    if args.no_lessons or not own or not workshop.sessions_folder.is_dir():
        return law, ()
    if not any((folder / JOURNAL).is_file() for folder in workshop.sessions()):
        return law, ()
    from layup.review.lessons import workshop_lessons

    with counted("reading sessions") as progress:
        lesson = workshop_lessons(workshop, progress=progress).resins.get(sheet.id)
    return (law, ()) if lesson is None else (lesson.calibration, (lesson.assumption,))
